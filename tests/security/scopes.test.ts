import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { messagesAbout } from "../../src/fhir/clinic-told.ts";
import { QUERY } from "../../src/fhir/coding-query.ts";
import { draftPlan } from "../../src/fhir/drafts.ts";
import { chartSearches } from "../../src/fhir/searches.ts";
import { UNKNOWN } from "../../src/smart/capabilities.ts";
import { answerQuery, openQueries } from "../../src/smart/coding-list.ts";
import { filingOf } from "../../src/smart/filing.ts";
import { readChart } from "../../src/smart/read-chart.ts";
import { covers, lostFunctions, type ScopeLetter, scopesFor } from "../../src/smart/scopes.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { inputFor, MALLET } from "../fhir/cases.ts";
import { BASE, bundleOf, fhirJson, RecordSystem } from "../smart/record-system.ts";

const PLAN = draftPlan(inputFor(MALLET));
const ASKED = scopesFor({ launch: "ehr", syntax: "v2", onlineAccess: true, openId: true })
  .split(" ")
  .filter((scope) => scope.startsWith("patient/"));
/** Each action of each scope that is asked for, and what is granted when just that one is withheld. */
const WITHHELD = ASKED.flatMap((scope) => {
  const [, resource, letters] = /^patient\/(\w+)\.(\w+)$/.exec(scope)!;
  return [...letters!].map((letter) => ({
    name: `${resource}.${letter}`,
    resource: resource!,
    letter: letter as ScopeLetter,
    granted: ASKED.map((other) => (other === scope ? `patient/${resource}.${letters!.replace(letter, "")}` : other)),
  }));
});

let server: RecordSystem;
beforeEach(() => {
  server = new RecordSystem();
  server.start();
  server.fhir = (request) => {
    const [type, id] = new URL(request.url).pathname.split("/").slice(2);
    return new URL(request.url).search ? fhirJson(bundleOf([])) : fhirJson({ resourceType: type, id });
  };
  server.elsewhere = () => HttpResponse.error();
});
afterEach(() => server.stop());

async function reading(granted: readonly string[]) {
  const parts = await readChart(
    {
      context: { base: BASE, patientId: "p1", encounterId: "e1", launchId: "l1" },
      can: (resource, letter) => covers(granted, resource, letter),
      fhir: fhirTransport({
        base: BASE,
        token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
        wait: async () => {},
      }),
    },
    () => undefined,
    { today: "2026-06-01" },
  );
  const asked = new Set(server.seen.map((one) => new URL(one.url).pathname.split("/")[2]));
  return { parts, asked };
}
const searches = chartSearches("p1", { encounterId: "e1", today: "2026-06-01" });
const needs = (query: string): ScopeLetter => (query.includes("?") ? "s" : "r");

/** Types that a clinician's answer to a coder's question searches and writes. */
async function answering(): Promise<Set<string>> {
  const used = new Set<string>();
  const task = {
    resourceType: "Task",
    id: "t1",
    status: "requested",
    for: { reference: "Patient/p1" },
    identifier: [{ system: QUERY, value: "e1:Q-DISP@0" }],
  };
  const fhir = {
    search: async (query: string) => {
      used.add(query.split("?")[0]!);
      return { ok: true, value: { matches: [task] } };
    },
    write: async (path: string) => {
      used.add(path.split("/")[0]!);
      return { ok: true };
    },
  };
  const session = {
    fhir,
    lastsFor: async () => true,
    signer: async () => ({ ok: true, reference: "Practitioner/d1" }),
  };
  const open = await openQueries(session as never, "p1");
  if (!open.ok) throw new Error(open.problem.title);
  expect((await answerQuery(session as never, open.value[0]!, "displaced", "2026-06-01T10:00:00Z")).outcome).toBe(
    "done",
  );
  return used;
}

describe("the least scopes", () => {
  it("SEC-11 S1 each letter that is asked for is used: to read the chart, to write, to read back what was written, to answer a coder, or to be told by the clinic", async () => {
    expect(WITHHELD.length).toBeGreaterThan(40);
    expect(WITHHELD.filter(({ letter }) => letter === "d")).toEqual([]);
    expect(ASKED.filter((scope) => scope.includes("*"))).toEqual([]);
    // Where the record system takes no plan, its document is written instead.
    const written = new Set(["DocumentReference", ...PLAN.map((item) => item.resource.resourceType as string)]);
    const coders = await answering();
    const told = messagesAbout("p1").query.split("?")[0]!;
    const unused = WITHHELD.filter(
      ({ resource, letter }) =>
        !searches.some((search) => search.type === resource && "rs".includes(letter)) &&
        !written.has(resource) &&
        !coders.has(resource) &&
        resource !== told,
    );
    expect(unused.map(({ name }) => name)).toEqual([]);
  });
  it("SEC-11 with all of them nothing is lost, and each function has words of its own", () => {
    expect(lostFunctions(ASKED)).toEqual([]);
    const lost = lostFunctions([]);
    expect(lost).toHaveLength(ASKED.length);
    expect(new Set(lost.map((one) => one.words)).size).toBe(lost.length);
  });
  it.each(WITHHELD)("S4 SEC-11 without $name one function is off, and said", async ({ resource, letter, granted }) => {
    const lost = lostFunctions(granted);
    expect(lost.map((one) => one.scope)).toEqual([`patient/${resource}.${letter}`]);
    expect(lost[0]?.words).toMatch(/^[A-Z].{10,}\.$/);

    const off = searches.filter((search) => search.type === resource && needs(search.query) === letter);
    const { parts, asked } = await reading(granted);
    for (const [part, result] of Object.entries(parts)) {
      const own = searches.filter((search) => search.part === part);
      const all = own.every((search) => off.includes(search));
      const some = own.some((search) => off.includes(search));
      expect(result.state === "not-allowed", part).toBe(all || (some && result.resources.length === 0));
      expect(result.note?.includes(resource) ?? false, part).toBe(some);
    }
    if (off.length > 0) expect(asked).not.toContain(resource);

    const { lanes } = filingOf(PLAN, UNKNOWN, (type, l) => covers(granted, type, l));
    const types = new Set(PLAN.filter((i) => lanes.get(i.key)?.reason).map((i) => i.resource.resourceType));
    // What cannot be looked for is not filed either: nobody could tell that it was stored. A record of who did what is told of.
    const stops = letter === "c" || (letter === "s" && resource !== "Provenance");
    expect([...types]).toEqual(stops && PLAN.some((i) => i.resource.resourceType === resource) ? [resource] : []);
  });
});
