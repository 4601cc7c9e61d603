import { describe, expect, it } from "vitest";
import { PLAN_ITEM } from "../../src/fhir/codings.ts";
import type { PartResult } from "../../src/fhir/part-result.ts";
import { CHART_PARTS, type ChartPartName } from "../../src/fhir/searches.ts";
import { type ChartChange, chartChanges, countAsSeen, differences } from "../../src/smart/chart-changed.ts";
import { type Parts, readChart, seenIn } from "../../src/smart/read-chart.ts";
import { ServerClock } from "../../src/smart/server-clock.ts";
import { type FhirResource, fhirProblem, type Transport } from "../../src/smart/transport.ts";

const subject = { reference: "Patient/p1" };
const coded = (code: string) => ({ coding: [{ code }] });
const stored = (resource: FhirResource, versionId = "1", lastUpdated = "2026-03-10T09:42:00Z"): FhirResource => ({
  ...resource,
  meta: { ...(resource.meta as object), versionId, lastUpdated },
});
const PATIENT = stored({ resourceType: "Patient", id: "p1", birthDate: "1990-06-01", gender: "female" });
const PENICILLIN = stored({
  resourceType: "AllergyIntolerance",
  id: "a1",
  patient: subject,
  clinicalStatus: coded("active"),
  code: { text: "penicillin" },
});
const REPORT = stored({
  resourceType: "DiagnosticReport",
  id: "r1",
  status: "preliminary",
  subject,
  code: { text: "X-ray of finger" },
});
/** One stored item of a plan, as this program writes it. */
const planItem = (type: string, id: string, item: string, more: object = {}, version = "1") =>
  stored(
    {
      resourceType: type,
      id,
      subject,
      identifier: [{ system: PLAN_ITEM, value: item }],
      meta: { tag: [{ system: PLAN_ITEM, code: item }] },
      ...more,
    },
    version,
  );

const found = (...resources: FhirResource[]): PartResult => ({
  state: resources.length > 0 ? "found" : "empty",
  resources,
  more: false,
});
const failed: PartResult = { state: "failed", resources: [], more: false };
const chart = (parts: Parts = {}): Parts => ({
  ...Object.fromEntries(CHART_PARTS.map((part) => [part, found()])),
  patient: found(PATIENT),
  ...parts,
});

/** A record system that holds these parts now, and counts how it is asked. */
function recordWith(parts: Parts) {
  const asked: (boolean | undefined)[] = [];
  const all = () => CHART_PARTS.flatMap((part) => (parts[part]?.resources ?? []) as FhirResource[]);
  const refuses = (type: string) => CHART_PARTS.some((part) => parts[part]?.state === "failed" && TYPE[part] === type);
  const fhir = {
    read: async (reference: string, options?: { mayBeKept?: boolean }) => {
      asked.push(options?.mayBeKept);
      const value = all().find((one) => `${one.resourceType}/${one.id}` === reference);
      return value ? { ok: true, value, status: 200 } : { ok: false, problem: fhirProblem("not-found") };
    },
    search: async (query: string, options: { mayBeKept?: boolean }) => {
      asked.push(options.mayBeKept);
      const type = query.split("?")[0]!;
      if (refuses(type)) return { ok: false, problem: fhirProblem("server", { status: 500 }) };
      const matches = all().filter((one) => one.resourceType === type);
      return { ok: true, status: 200, value: { matches, included: [], remarks: [], unreadable: 0, more: false } };
    },
  } as unknown as Transport;
  const clock = new ServerClock();
  return {
    asked,
    session: {
      context: { base: "https://ehr.example/fhir", patientId: "p1", launchId: "l1" },
      can: () => true,
      fhir,
      clock,
    },
  };
}
const TYPE: Partial<Record<ChartPartName, string>> = { allergies: "AllergyIntolerance", imaging: "ImagingStudy" };
const said = (changes: readonly ChartChange[]) => changes.map(({ kind, words }) => `${kind}: ${words}`);
const changed = (seen: Parts, now: Parts) => chartChanges(recordWith(now).session, seen);

describe("REL-24 a chart that changed between reading and signing", () => {
  it("is read past every cache, and what is found does not count as seen", async () => {
    const { session, asked } = recordWith(
      chart({ conditions: found(planItem("Condition", "c1", "plan-1:condition")) }),
    );
    await chartChanges(session, chart());
    expect(asked.length).toBeGreaterThan(10);
    expect(asked.every((mayBeKept) => mayBeKept === false)).toBe(true);
    expect(seenIn(session.context)).toMatchObject({ items: new Map(), own: new Map() });
    expect(seenIn(session.context).patient).toBeUndefined();
  });

  it("without a change says nothing", async () => {
    const same = chart({ allergies: found(PENICILLIN), reports: found(REPORT) });
    expect(await changed(same, same)).toEqual([]);
  });

  it("a new allergy is told with what it is to and when it was recorded", async () => {
    const changes = await changed(chart(), chart({ allergies: found(PENICILLIN) }));
    expect(said(changes)).toEqual([expect.stringMatching(/^new: allergy to penicillin, recorded .*10 March 2026/)]);
    expect(changes[0]!.references, "in the version that was found").toEqual(["AllergyIntolerance/a1/_history/1"]);
  });

  it("of today only the time is told", async () => {
    const now = new Date();
    const fresh = stored(PENICILLIN, "1", now.toISOString());
    const two = (n: number) => String(n).padStart(2, "0");
    const time = `${two(now.getHours())}:${two(now.getMinutes())}`;
    expect(said(await changed(chart(), chart({ allergies: found(fresh) })))).toEqual([
      `new: allergy to penicillin, recorded ${time}`,
    ]);
  });

  it.each<[string, ChartPartName, FhirResource, RegExp]>([
    [
      "a film",
      "imaging",
      { resourceType: "ImagingStudy", id: "i1", description: "Right ring finger" },
      /^new: film Right ring finger/,
    ],
    ["a report", "reports", REPORT, /^new: report X-ray of finger/],
    [
      "a tetanus dose",
      "immunizations",
      { resourceType: "Immunization", id: "v1", vaccineCode: { text: "Td" } },
      /^new: immunisation Td/,
    ],
    [
      "a diagnosis",
      "conditions",
      { resourceType: "Condition", id: "c1", code: { text: "Diabetes" } },
      /^new: diagnosis Diabetes/,
    ],
    [
      "a medicine",
      "medications",
      { resourceType: "MedicationRequest", id: "m1", medicationCodeableConcept: { text: "Warfarin" } },
      /^new: medicine Warfarin/,
    ],
    [
      "a weight",
      "weight",
      {
        resourceType: "Observation",
        id: "w1",
        code: { text: "Body weight" },
        valueQuantity: { value: 61, unit: "kg" },
      },
      /^new: measurement Body weight 61 kg/,
    ],
  ])("%s that came in is named", async (_what, part, resource, words) => {
    expect(said(await changed(chart(), chart({ [part]: found(resource) })))).toEqual([expect.stringMatching(words)]);
  });

  it("a report that became final is told as a difference, not as new", async () => {
    const final = stored({ ...REPORT, status: "final", conclusion: "Fracture" }, "2");
    const [change] = await changed(chart({ reports: found(REPORT) }), chart({ reports: found(final) }));
    expect(change).toMatchObject({ kind: "changed", mustRead: false });
    expect(change!.words).toMatch(/status from “preliminary” to “final”; conclusion from “nothing” to “Fracture”/);
  });

  it("where the server counts no versions the content decides", async () => {
    const { meta: _none, ...bare } = PENICILLIN;
    const seen = chart({ allergies: found(bare) });
    expect(await changed(seen, seen)).toEqual([]);
    const worse = { ...bare, criticality: "high" };
    expect(said(await changed(seen, chart({ allergies: found(worse) })))).toEqual([
      expect.stringMatching(/criticality from “nothing” to “high”/),
    ]);
  });

  it("where the server counts no versions an entry is named without one", async () => {
    const { meta: _none, ...bare } = PENICILLIN;
    const [change] = await changed(chart(), chart({ allergies: found(bare) }));
    expect(change!.references).toEqual(["AllergyIntolerance/a1"]);
  });

  it("a server that began to count versions meanwhile changed nothing by that", async () => {
    const { meta: _none, ...bare } = PENICILLIN;
    expect(await changed(chart({ allergies: found(bare) }), chart({ allergies: found(PENICILLIN) }))).toEqual([]);
    expect(await changed(chart({ allergies: found(PENICILLIN) }), chart({ allergies: found(bare) }))).toEqual([]);
  });

  it("a remark of the server among the entries is no news of the patient", () => {
    const remark = { resourceType: "OperationOutcome", id: "o1", issue: [{ severity: "warning" }] };
    const { session } = recordWith(chart());
    expect(differences(session, chart(), chart({ allergies: found(remark) }))).toEqual([]);
  });

  it("an entry that is no longer there is told", async () => {
    expect(said(await changed(chart({ allergies: found(PENICILLIN) }), chart()))).toEqual([
      "gone: allergy to penicillin",
    ]);
  });

  it("a list that was not read to its end does not show that something left it", () => {
    const { session } = recordWith(chart());
    const many = { ...found(PENICILLIN), more: true };
    const other = { ...PENICILLIN, id: "a2" };
    expect(
      differences(session, chart({ allergies: many }), chart({ allergies: { ...found(other), more: true } })),
    ).toEqual([expect.objectContaining({ kind: "new" })]);
  });

  it("a part that cannot be read again is not taken for unchanged", async () => {
    const [change, ...more] = await changed(chart({ allergies: found(PENICILLIN) }), chart({ allergies: failed }));
    expect(change).toMatchObject({ kind: "not-read", parts: ["allergies"] });
    expect(more).toEqual([]);
  });

  it("a part that could never be read is no news when it still cannot be", async () => {
    expect(await changed(chart({ allergies: failed }), chart({ allergies: failed }))).toEqual([]);
  });

  it("a part that can be read now is news", async () => {
    expect(said(await changed(chart({ allergies: failed }), chart({ allergies: found(PENICILLIN) })))).toEqual([
      expect.stringContaining("new: allergy to penicillin"),
    ]);
  });

  it("corrected details of the patient are told with both values", async () => {
    const corrected = stored({ ...PATIENT, birthDate: "1990-01-06" }, "2");
    const [change] = await changed(chart(), chart({ patient: found(corrected) }));
    expect(change!.words).toContain("birth date from “1990-06-01” to “1990-01-06”");
    expect(change!.mustRead, "to be looked at, not only acknowledged").toBe(true);
  });
});

describe("REL-24 REL-30 another person's edit of a saved plan", () => {
  const plan = (version: string, more: object = {}) =>
    planItem("CarePlan", "k1", "plan-1:plan", { status: "draft", title: "Bony mallet", ...more }, version);
  const order = (version: string) => planItem("ServiceRequest", "k2", "plan-1:request", { status: "draft" }, version);

  it("is told once for the whole plan, and has to be looked at", async () => {
    const changes = await changed(
      chart({ earlier: found(plan("1"), order("1")) }),
      chart({ earlier: found(plan("2", { status: "active" }), order("2")) }),
    );
    expect(changes).toHaveLength(1);
    expect(changes[0]).toMatchObject({ kind: "changed", mustRead: true });
    expect(changes[0]!.words).toMatch(/saved plan Bony mallet \(status from “draft” to “active”\), saved request/);
  });

  it("a plan that a colleague saved meanwhile is new", async () => {
    expect(await changed(chart(), chart({ earlier: found(plan("1")) }))).toEqual([
      expect.objectContaining({ kind: "new", mustRead: true }),
    ]);
  });

  it("what this page itself has stored is no change; a later version by somebody else is one", () => {
    const { session } = recordWith(chart());
    seenIn(session.context).own.set("plan-1:plan", "2");
    const seen = chart({ earlier: found(plan("1")) });
    expect(differences(session, seen, chart({ earlier: found(plan("2")) }))).toEqual([]);
    expect(differences(session, seen, chart({ earlier: found(plan("3")) }))).toHaveLength(1);
  });

  it("once it was looked at, a write may rest on it and on nothing newer", () => {
    const { session } = recordWith(chart());
    seenIn(session.context).own.set("plan-1:plan", "2");
    countAsSeen(session, chart({ earlier: found(plan("3")) }));
    const { own, items } = seenIn(session.context);
    expect(own.has("plan-1:plan")).toBe(false);
    expect(items.get("plan-1:plan")).toEqual({ reference: "CarePlan/k1", version: "3" });
  });
});

describe("the same change", () => {
  it("has the same key however often it is looked for, and another one when it changes again", async () => {
    const seen = chart();
    const [one] = await changed(seen, chart({ allergies: found(PENICILLIN) }));
    const [again] = await changed(seen, chart({ allergies: found(PENICILLIN) }));
    const [later] = await changed(seen, chart({ allergies: found(stored(PENICILLIN, "2")) }));
    expect(again!.key).toBe(one!.key);
    expect(later!.key).not.toBe(one!.key);
  });
});

describe("L10 what was open in the chart at launch", () => {
  it("is read by its own address whatever its age, and nothing else is followed", async () => {
    const { session } = recordWith(chart());
    const read: string[] = [];
    const fhir = {
      ...session.fhir,
      read: async (reference: string) => {
        read.push(reference);
        return { ok: false, problem: fhirProblem("not-found") };
      },
    };
    const opened = [
      "ImagingStudy/i9",
      "DiagnosticReport/r9",
      "Patient/p2",
      "https://elsewhere.example/ImagingStudy/i8",
      "ImagingStudy/../Patient/p2",
    ];
    await readChart({ ...session, fhir: fhir as unknown as Transport, opened }, () => undefined);
    expect(read.sort()).toEqual([
      "DiagnosticReport/r9",
      "ImagingStudy/..%2FPatient%2Fp2",
      "ImagingStudy/i9",
      "Patient/p1",
    ]);
  });
});
