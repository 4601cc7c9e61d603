import { readdirSync, readFileSync } from "node:fs";
import { expect, it } from "vitest";
import { EXPLAINED } from "../interop/explained.ts";

it("each extension and code system of ours that the sources name is explained to a reader of the HL7 validator, and no other", () => {
  const sources = readdirSync("src", { recursive: true, encoding: "utf8" })
    .filter((file) => /\.tsx?$/.test(file))
    .map((file) => readFileSync(`src/${file}`, "utf8"))
    .join("\n");
  const named = (kind: string, pattern: RegExp) => [...sources.matchAll(pattern)].map(([, name]) => `${kind} ${name}`);
  const ours = new Set([
    ...named("extension", /ownExtension\("([a-z0-9-]+)"\)/g),
    ...named("codes", /(?:\$\{BASE\}|https:\/\/fingerpost\.example\/fhir)\/CodeSystem\/([a-z0-9-]+)/g),
  ]);
  expect(ours.size).toBeGreaterThan(20);
  expect(
    EXPLAINED.flatMap((row) => row.ours ?? []).sort(),
    "a new name needs its row in tests/interop/explained.ts",
  ).toEqual([...ours].sort());
});
