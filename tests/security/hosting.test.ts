import { readFileSync } from "node:fs";
import { afterEach, describe, expect, it, vi } from "vitest";
import { securityHeaders } from "../../launch/plugin-host.ts";
import { chartFrom } from "../../src/fhir/chart.ts";
import { readConfig } from "../../src/smart/config.ts";
import { readChart } from "../../src/smart/read-chart.ts";
import { scopesFor } from "../../src/smart/scopes.ts";
import { BASE, bundleOf } from "../smart/record-system.ts";
import { RelayTransport } from "./relay-transport.ts";

const README = readFileSync("README.md", "utf8");
/** The fenced blocks of a section, in order. */
const blocks = (heading: string): string[] => {
  const section = README.split(`\n## ${heading}\n`)[1]?.split("\n## ")[0] ?? "";
  return [...section.matchAll(/```\w*\n([\s\S]*?)```/g)].map((m) => m[1]!);
};
const [config, headers] = blocks("Put it in a record system");

describe("the notes for hosting", () => {
  it("SEC-15 SEC-16 give exactly the headers that are served and tested here", () => {
    const noted = headers!.replace(/\n +/g, " ").trim().split("\n");
    const served = securityHeaders({ issuers: ["https://ehr.example/fhir"], frameAncestors: ["https://ehr.example"] });
    expect(noted).toEqual(Object.entries(served).map(([name, value]) => `${name}: ${value}`));
  });
  it("give a config.json that the plugin accepts", () => {
    expect(readConfig(JSON.parse(config!))).toMatchObject({
      ok: true,
      config: { issuers: [{ iss: "https://ehr.example/fhir" }] },
    });
  });
  it("S1 S2 name every scope that is asked for, and no other", () => {
    const row = README.split("\n").find((line) => line.startsWith("| scopes"))!;
    const named = [...row.matchAll(/`([^`]+)`/g)].flatMap((m) => m[1]!.split(" "));
    for (const launch of ["ehr", "standalone"] as const) {
      const asked = scopesFor({ launch, syntax: "v2", onlineAccess: true, openId: true }).split(" ");
      expect(asked.filter((scope) => !named.includes(scope))).toEqual([]);
      expect([...new Set(named)].filter((scope) => !asked.includes(scope))).toEqual([
        launch === "ehr" ? "launch/patient" : "launch",
      ]);
    }
  });
  it.each([
    ["that a script in the page can do what the clinician can", /script.*in (?:the|this) page|page.*script/i],
    ["what RFC 10017 advises for personal data", /browser-only|backend for frontend/i],
    ["how to put another transport in its place", /`Transport`/],
    ["where tokens are and when they go", /token.*(?:memory|session storage)[\s\S]*(?:ends|closed|signs out)/i],
    ["which Node runs what", /Node/],
  ])("SEC-24 say %s", (_name, words) => {
    const security = README.split("\n## Security\n")[1]?.split("\n## ")[0] ?? "";
    expect(security).toMatch(words);
  });
});

describe("another transport in place of the browser's own", () => {
  afterEach(() => vi.unstubAllGlobals());
  it("SEC-24 a clinic's own server can hold the tokens: the chart is read through it, and no request carries one", async () => {
    const asked: { url: string; headers: Headers }[] = [];
    vi.stubGlobal("fetch", async (url: string, init: RequestInit) => {
      asked.push({ url, headers: new Headers(init.headers) });
      const type = url.split("/")[2]!.split("?")[0]!;
      const patient = { resourceType: "Patient", id: "p1", name: [{ text: "Mira Halloway" }], birthDate: "1988-03-14" };
      const allergy = {
        resourceType: "AllergyIntolerance",
        id: "a1",
        patient: { reference: "Patient/p1" },
        code: { text: "plasters" },
      };
      return Response.json(type === "Patient" ? patient : bundleOf(type === "AllergyIntolerance" ? [allergy] : []));
    });
    const session = {
      context: { base: BASE, patientId: "p1", launchId: "l1" },
      can: () => true,
      fhir: new RelayTransport(BASE, "/relay/"),
    };
    const parts = await readChart(session, () => undefined, { today: "2026-06-01" });
    const chart = chartFrom(parts, { patientId: "p1", today: "2026-06-01" });
    expect(chart.patient?.name).toBe("Mira Halloway");
    expect(chart.allergies.map((a) => a.substance)).toEqual(["plasters"]);
    expect(asked.length).toBeGreaterThan(10);
    expect(asked.filter(({ url, headers }) => !url.startsWith("/relay/") || headers.has("authorization"))).toEqual([]);
  });
});
