import fc from "fast-check";
import { afterEach, describe, expect, it, vi } from "vitest";
import { chartFrom } from "../../src/fhir/chart.ts";
import { CHART_PARTS } from "../../src/fhir/searches.ts";
import { readChart } from "../../src/smart/read-chart.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { BASE } from "../smart/record-system.ts";
import { CONTEXT, chartNumbers, hostileChart } from "./hostile-chart.ts";
import { deepJson } from "./texts.ts";

const CHARTS = 400;
afterEach(() => vi.unstubAllGlobals());

/** What a server makes of a page of results, and whether anything of it may be used. */
type Spoil = (json: string) => readonly [body: BodyInit, type: string, usable: boolean];
const FHIR = "application/fhir+json";
const SPOILS: readonly Spoil[] = [
  (json) => [json, FHIR, true],
  (json) => [json, `${FHIR}; charset=utf-8`, true],
  (json) => [`\ufeff${json}`, FHIR, true],
  (json) => [json.replace("{", '{"total":1,"total":0,'), FHIR, true],
  (json) => [json.slice(0, -1), FHIR, false],
  (json) => [json.replace("{", '{"total":NaN,'), FHIR, false],
  (json) => [new Uint8Array([...new TextEncoder().encode(json.slice(0, -1)), 0x22, 0xff, 0x7d]), FHIR, false],
  (json) => [json, "text/html", false],
  (json) => [`[${json}]`, FHIR, false],
  (json) => [json.replace("Bundle", "Bündel"), FHIR, false],
  () => ["", FHIR, false],
  () => [deepJson(10_000), FHIR, false],
];
/** Entries without anything in them that could be read, beside the good ones. */
const EMPTY_ENTRIES = [
  "null",
  "7",
  "{}",
  '{"resource":null}',
  '{"resource":{"id":"x"}}',
  '{"resource":{"resourceType":"not a type"}}',
];

/** Parts that rest on one search, so that its entries can be counted in them. */
const ONE_SEARCH = [
  ["imaging", "ImagingStudy"],
  ["reports", "DiagnosticReport"],
  ["allergies", "AllergyIntolerance"],
  ["immunizations", "Immunization"],
  ["weight", "Observation"],
] as const;

describe("whole answers of a server, generated", () => {
  it("REL-13 REL-14 REL-16 GATE-06 each page is used as a whole or told, and each entry of it ends in the chart's parts or in their notes", async () => {
    let spoiled = 0;
    await fc.assert(
      fc.asyncProperty(chartNumbers, fc.array(fc.nat(1e6), { minLength: 20, maxLength: 20 }), async (from, luck) => {
        const entries = hostileChart(from);
        const sent = new Map<string, { usable: boolean; entries: number }>();
        const hosts: string[] = [];
        vi.stubGlobal("fetch", async (url: URL) => {
          hosts.push(url.host);
          const type = url.pathname.split("/")[2]!;
          const own = entries.filter(({ raw }) => (raw as { resourceType?: unknown } | null)?.resourceType === type);
          const n = luck[hosts.length % luck.length]!;
          const spoil = SPOILS[n % SPOILS.length]!;
          if (!url.search) {
            const [body, contentType] = spoil(JSON.stringify({ resourceType: type, id: url.pathname.split("/")[3] }));
            return new Response(body, { headers: { "content-type": contentType } });
          }
          // Extensions nested without end would overflow what writes them down here; the reader sees them in other tests.
          const texts = own.map(({ raw }) =>
            JSON.stringify({ resource: { ...(raw as object), extension: undefined } }),
          );
          const empty = EMPTY_ENTRIES.slice(0, n % EMPTY_ENTRIES.length);
          const next =
            n % 3 === 0
              ? `,"link":[{"relation":"next","url":"${["https://evil.example/fhir?p=2", url.href, "http://[bad"][(n % 9) % 3]}"}]`
              : "";
          const [body, contentType, usable] = spoil(
            `{"resourceType":"Bundle"${next},"entry":[${[...texts, ...empty]}]}`,
          );
          const distinct = new Set(own.map(({ raw }, i) => (raw as { id?: unknown }).id || i)).size;
          sent.set(type, { usable, entries: distinct + empty.length });
          if (!usable) spoiled++;
          return new Response(body, { headers: { "content-type": contentType } });
        });
        const parts = await readChart(
          {
            context: { base: BASE, patientId: "p1", encounterId: "e1", launchId: "l1" },
            can: () => true,
            fhir: fhirTransport({
              base: BASE,
              token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
              wait: async () => {},
            }),
          },
          () => undefined,
          { today: CONTEXT.today },
        );
        expect(new Set(hosts)).toEqual(new Set(["ehr.example"]));
        expect(Object.keys(parts).toSorted()).toEqual([...CHART_PARTS].toSorted());
        const chart = chartFrom(parts, { ...CONTEXT, base: BASE });

        for (const [part, type] of ONE_SEARCH) {
          const { resources, note = "" } = parts[part]!;
          const unread = Number(/(\d+) entr(?:y|ies) could not be read/.exec(note)?.[1] ?? 0);
          const { usable, entries } = sent.get(type)!;
          expect(resources.length + unread, `${part}: read or told`).toBe(usable ? entries : 0);
        }
        for (const [part, { state, note }] of Object.entries(parts)) {
          if (state === "failed") expect(note, part).toBeTruthy();
          expect(chart.parts[part as keyof typeof chart.parts].state).toBe(state);
        }
      }),
      { numRuns: CHARTS },
    );
    expect(spoiled).toBeGreaterThan(CHARTS);
  }, 300_000);
});
