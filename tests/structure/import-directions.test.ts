import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { cruise, type ICruiseResult } from "dependency-cruiser";
import { afterAll, beforeAll, describe, expect, it } from "vitest";

const { forbidden, options } = createRequire(import.meta.url)("./import-directions.cjs");
const ROOMS = ["src", "launch", "fixtures"];

async function imports(baseDir: string, rooms: string[]): Promise<ICruiseResult> {
  const { output } = await cruise(rooms, { ...options, baseDir, validate: true, ruleSet: { forbidden } });
  if (typeof output === "string") throw new Error("dependency-cruiser gave text");
  return output;
}
const wrong = ({ summary }: ICruiseResult) =>
  summary.violations.map((v) => `${v.from} -> ${v.to} (${v.rule.name})`).sort();

describe("imports of this project", () => {
  it("all point the allowed way", async () => {
    const seen = await imports(process.cwd(), ROOMS);
    // The checker reports "no violations" when it cannot read TypeScript at all, so every code file must be among the seen.
    const files = ROOMS.flatMap((room) =>
      readdirSync(room, { recursive: true, encoding: "utf8" })
        .filter((path) => /\.tsx?$/.test(path))
        .map((path) => join(room, path)),
    );
    const cruised = new Set(seen.modules.map((m) => m.source));
    expect(files.filter((file) => !cruised.has(file))).toEqual([]);
    expect(files.length).toBeGreaterThan(20);
    expect(seen.summary.totalDependenciesCruised).toBeGreaterThan(files.length);
    expect(wrong(seen)).toEqual([]);
  });
});

describe("a planted wrong import", () => {
  const PLANTED: { [rule: string]: { [file: string]: string } } = {
    "pathway-is-pure": { "src/pathway/a.ts": 'import "../fhir/chart.ts";' },
    "scheduling-is-pure": { "src/scheduling/a.ts": 'import "../pathway/assess.ts";' },
    "scheduling-packages": { "src/scheduling/b.ts": 'import "jose";' },
    "holidays-for-commands-only": { "src/fhir/d.ts": 'import "../scheduling/holidays.ts";' },
    "one-reader-of-holidays": { "src/cli/a2.ts": 'import "date-holidays";' },
    "coding-is-pure": { "src/coding/a.ts": 'import "../fhir/chart.ts";' },
    "fhir-maps": { "src/fhir/a.ts": 'import "../pathway/assess.ts";' },
    "smart-carries": { "src/smart/a.ts": 'import "../pathway/index.ts";' },
    "app-shows": {
      "src/app/a.ts": 'import type { Assess } from "../pathway/assess.ts"; export const a = {} as Assess;',
    },
    "cli-is-beside-the-app": { "src/cli/a.ts": 'import "../smart/session.ts";' },
    "launch-is-an-outsider": { "launch/a.ts": 'import "../src/pathway/index.ts";' },
    "fixtures-stand-alone": { "fixtures/a.ts": 'import "../src/pathway/index.ts";' },
    "modules-are-neighbours": { "src/pathway/metacarpal/a.ts": 'import "../distal-phalanx/index.ts";' },
    "hand-knows-no-module": { "src/pathway/hand/a.ts": 'import "../distal-phalanx/index.ts";' },
    "reasoning-knows-no-hand": { "src/pathway/reasoning/a.ts": 'import "../hand/findings.ts";' },
    "book-is-for-reviewers": { "src/pathway/c.ts": 'import "./book/index.ts";' },
    "safety-is-for-reviewers": { "src/pathway/d.ts": 'import "./safety/index.ts";' },
    "pathway-packages": { "src/pathway/b.ts": 'import "jose";' },
    "node-in-cli-only": { "src/fhir/b.ts": 'import "node:fs";' },
    "fhirclient-in-smart-only": { "src/app/b.ts": 'import "fhirclient";' },
    "react-in-app-only": { "src/fhir/c.ts": 'import "react";' },
    "no-test-package-ships": { "src/app/c.ts": 'import "vite";' },
    "nothing-unknown": { "src/app/d.ts": 'import "./not-there.ts";' },
    "no-circles": {
      "src/app/e.ts": 'import { f } from "./f.ts"; export const e = () => f;',
      "src/app/f.ts": 'import { e } from "./e.ts"; export const f = () => e;',
    },
  };
  const RIGHT = {
    "src/pathway/index.ts": 'import "./assess.ts";',
    "src/pathway/assess.ts": 'import "zod/mini"; import "./distal-phalanx/index.ts"; export type Assess = 1;',
    "src/pathway/distal-phalanx/index.ts": 'import "../hand/findings.ts";',
    "src/pathway/hand/findings.ts": "export const findings = 1;",
    "src/pathway/book/index.ts": 'import "../assess.ts"; import "../hand/findings.ts"; import "../safety/index.ts";',
    "src/pathway/safety/index.ts": "export const safety = 1;",
    "src/pathway/input-problem.ts": "export const problem = 1;",
    "src/scheduling/index.ts": 'import "zod"; import "../pathway/index.ts"; import "../pathway/input-problem.ts";',
    "src/scheduling/holidays.ts": 'import "date-holidays";',
    "src/cli/overdue.ts": 'import "../scheduling/index.ts"; import "../scheduling/holidays.ts";',
    "src/cli/book.ts": 'import "../pathway/book/index.ts";',
    "src/fhir/chart.ts": 'import "../pathway/index.ts";',
    "src/smart/session.ts": 'import "fhirclient"; import "../fhir/chart.ts";',
    "src/app/main.ts": 'import "react"; import "../smart/session.ts"; import "../pathway/index.ts";',
    "src/cli/command.ts": 'import "node:fs"; import "../fhir/chart.ts";',
  };
  const packages = {
    dependencies: { zod: "1", jose: "1", "date-holidays": "1", fhirclient: "1", react: "1" },
    devDependencies: { vite: "1" },
  };
  let tree: string;
  let found: string[];
  beforeAll(async () => {
    tree = mkdtempSync(join(tmpdir(), "fingerpost-imports-"));
    const write = (file: string, text: string) => {
      mkdirSync(dirname(join(tree, file)), { recursive: true });
      writeFileSync(join(tree, file), text);
    };
    write("package.json", JSON.stringify({ name: "planted", type: "module", ...packages }));
    write("tsconfig.json", JSON.stringify({ compilerOptions: { module: "ESNext", moduleResolution: "bundler" } }));
    for (const name of Object.keys({ ...packages.dependencies, ...packages.devDependencies })) {
      write(`node_modules/${name}/package.json`, JSON.stringify({ name, version: "1.0.0", main: "index.js" }));
      write(`node_modules/${name}/index.js`, "");
    }
    write("node_modules/zod/mini/index.js", "");
    for (const files of [RIGHT, ...Object.values(PLANTED)])
      for (const [file, text] of Object.entries(files)) write(file, text);
    const here = process.cwd();
    found = wrong(await imports(tree, ROOMS));
    process.chdir(here);
  });
  afterAll(() => rmSync(tree, { recursive: true, force: true }));

  it.each(Object.entries(PLANTED))("is caught by %s", (rule, files) => {
    const caught = found.filter((line) => line.endsWith(`(${rule})`)).map((line) => line.split(" -> ")[0]!);
    expect(caught.length).toBeGreaterThan(0);
    expect(Object.keys(files)).toEqual(expect.arrayContaining(caught));
  });
  it("is the only kind that is reported: right imports pass", () => {
    expect(found.filter((line) => Object.keys(RIGHT).includes(line.split(" -> ")[0]!))).toEqual([]);
  });
  it("exists for every rule", () => {
    expect(Object.keys(PLANTED).sort()).toEqual(forbidden.map((rule: { name: string }) => rule.name).sort());
  });
});
