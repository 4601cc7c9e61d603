import { describe, expect, it } from "vitest";
import { readCharts } from "../../launch/ehr/seed.ts";
import { freshCase } from "../../src/app/case-state.ts";
import { originsOf, proposalsFrom } from "../../src/app/chart-proposals.ts";
import { noProposals } from "../../src/app/proposals.ts";
import { quickOffers } from "../../src/app/quick-answers.ts";
import { valueState } from "../../src/app/value-state.ts";
import { chartFrom, type EarlierPlan } from "../../src/fhir/chart.ts";
import { ASKED } from "../../src/pathway/all-asked.ts";
import { allergyTo, chartOf, conditionsOf, TODAY } from "./chart-parts.ts";
import { practiceBone } from "./fake-module.ts";

const ALARMS = practiceBone.groups[1]!;
const offer = (facts: Record<string, string>, chart = chartOf()) =>
  quickOffers(ALARMS, facts, proposalsFrom(chart, practiceBone, undefined), 0)[0]!;

describe("what the chart knows only in words", () => {
  const [injury] = ASKED;
  const chartFor = (patientId: string, name: string) => {
    const { resources } = readCharts(new Date(2026, 2, 10, 14, 30)).find((c) => c.name === name)!;
    const of = (...types: string[]) => ({
      state: "found" as const,
      resources: resources.filter((r) => types.includes(r.resourceType)),
      more: false,
    });
    return chartFrom(
      {
        conditions: of("Condition"),
        imaging: of("ImagingStudy"),
        medications: of("MedicationRequest", "MedicationStatement"),
      },
      { patientId, today: TODAY },
    );
  };
  it("Bertil Aschenbrook takes apixaban, named in words: 'None of these' leaves the bleeding question open", () => {
    const proposals = proposalsFrom(chartFor("bertil-aschenbrook", "open-tuft-crush-diabetes"), injury!, undefined);
    expect(proposals.of("bleedingTendency", 0)).toEqual([]);
    expect(proposals.bearing("bleedingTendency")).toEqual(["Apixaban 5 mg twice daily"]);
    const group = injury!.groups.find((g) => g.findings.includes("bleedingTendency"))!;
    const offers = quickOffers(group, {}, proposals, 0).filter((o) => "bleedingTendency" in o.quick.sets);
    expect(offers.length).toBeGreaterThan(0);
    for (const { except } of offers) {
      expect(except).toContain("bleedingTendency");
      expect(except).toContain("diabetes");
    }
  });
  it("Rowan Castellane: the side in conflict is shown as a conflict and not suggested, the agreed finger is proposed", () => {
    const proposals = proposalsFrom(chartFor("rowan-castellane", "side-conflict"), injury!, undefined);
    const is = (finding: string) => valueState(undefined, proposals.of(finding, 0)).is;
    expect([is("side"), is("digit")]).toEqual(["chart-disagrees", "from-chart"]);
    expect(proposals.of("side", 0).map((p) => p.value)).toEqual(["left", "right"]);
  });
});

describe("what the chart says of several fingers", () => {
  const chart = chartOf({
    conditions: conditionsOf(["S62.634A", "Broken right ring finger"], ["S62.637A", "Broken left little finger"]),
  });
  const of = (digits: (string | null)[]) => {
    const proposals = proposalsFrom(chart, practiceBone, undefined, digits);
    return digits.map((_, i) => ["digit", "side"].map((f) => proposals.of(f, i).map((p) => p.value)));
  };
  it("is proposed to the finger that it is about, once the clinician has said which that is", () => {
    expect(of(["little", "ring"])).toEqual([
      [["little"], ["left"]],
      [["ring"], ["right"]],
    ]);
  });
  it("before that, all of it is shown and nothing of it suggested", () => {
    const [first] = of([null]);
    expect(first).toEqual([
      ["ring", "little"],
      ["right", "left"],
    ]);
    expect(valueState(undefined, proposalsFrom(chart, practiceBone, undefined, [null]).of("side", 0)).is).toBe(
      "chart-disagrees",
    );
  });
  it("what is left is proposed to a finger that has no name yet", () => {
    expect(of(["ring", null])[1]).toEqual([["little"], ["left"]]);
  });
  it("names the fingers in their order on the hand, each with the side that was said of it", () => {
    expect(proposalsFrom(chart, practiceBone, undefined).named.map((n) => [n.digit, n.side])).toEqual([
      ["ring", "right"],
      ["little", "left"],
    ]);
    expect(
      proposalsFrom(chartOf({ conditions: conditionsOf(["S62.634A", "Ring"]) }), practiceBone, undefined).named,
    ).toEqual([]);
  });
});

describe("an entry of the chart that may be this injury", () => {
  const entryOf = (named: { digit: string; side?: string }, ...entries: (readonly [string, string])[]) =>
    proposalsFrom(chartOf({ conditions: conditionsOf(...entries) }), practiceBone, undefined).entryOf?.(named);
  const RING = ["S62.634A", "Broken ring finger"] as const;
  it("SAF-01 is proposed with its words where it is one, of just this finger and side", () => {
    expect(entryOf({ digit: "ring", side: "right" }, RING)).toEqual({
      text: "Broken ring finger",
      choice: { item: "entry-right-ring", field: "refines", value: "Condition/c1" },
    });
  });
  it("SAF-01 is not proposed for another finger or hand, where there are two, or where it names no finger", () => {
    expect(entryOf({ digit: "little", side: "right" }, RING)).toBeUndefined();
    expect(entryOf({ digit: "ring", side: "left" }, RING)).toBeUndefined();
    expect(entryOf({ digit: "ring", side: "right" }, RING, ["S61.214A", "Cut ring finger"])).toBeUndefined();
    expect(entryOf({ digit: "ring", side: "right" }, ["S69.91XA", "Injury of the right hand"])).toBeUndefined();
  });
});

describe("an answer that comes back from the clinician's own draft", () => {
  const MINE = { own: true, name: "Dr Tamsin Orrery" };
  const back = (signed: boolean, author: EarlierPlan["author"] = MINE): EarlierPlan => ({
    planId: "p",
    title: "Plan",
    status: signed ? "active" : "draft",
    signed,
    author,
    written: "2026-03-09T10:00:00Z",
    items: [],
    findings: { patient: { penicillinAllergy: "none" }, injury: {}, digits: [{ bendDegrees: 10 }], notUnderstood: [] },
  });
  const origins = (plan: EarlierPlan) => {
    const proposals = proposalsFrom(chartOf(), practiceBone, plan);
    const state = {
      ...freshCase("p", "2026-03-10T14:30"),
      patient: { penicillinAllergy: "none" },
      digits: [{ bendDegrees: 12 }],
    };
    return originsOf(state, proposals);
  };
  const kinds = (signed: boolean) =>
    Object.fromEntries(Object.entries(origins(back(signed))).map(([path, o]) => [path, o.kind]));
  it("is told as that, not as something the chart says", () => {
    expect(kinds(false)).toEqual({
      "patient.penicillinAllergy": "draft-confirmed",
      "digit.0.bendDegrees": "draft-changed",
    });
    expect(kinds(true)["patient.penicillinAllergy"]).toBe("earlier-confirmed");
  });
  it("goes on record as a colleague's, with name and day, where somebody else wrote the draft", () => {
    expect(origins(back(false, { own: false, name: "Dr Ines Halvorsen" }))["patient.penicillinAllergy"]).toMatchObject({
      kind: "others-draft-confirmed",
      label: expect.stringMatching(/^Draft by Dr Ines Halvorsen, 9 Mar 2026/),
    });
  });
});

describe("a quick answer", () => {
  it("stands ready while nothing contradicts it, and is given when all of it is answered so", () => {
    expect(offer({}).is).toBe("ready");
    expect(offer({ glows: "no", hums: "no", penicillinAllergy: "none" }).is).toBe("given");
  });
  it("is not offered while an answer contradicts it: a red flag is never wiped out in passing", () => {
    expect(offer({ glows: "yes" }).is).toBe("contradicted");
  });
  it("does not deny an allergy that the chart lists: that question stays open", () => {
    const { except, sets } = offer({}, chartOf({ allergies: allergyTo("Amoxicillin") }));
    expect(except).toEqual(["penicillinAllergy"]);
    expect(sets.map(([finding]) => finding)).toEqual(["glows", "hums"]);
  });
  it("is free to deny it once the clinician has answered that question", () => {
    expect(offer({ penicillinAllergy: "none" }, chartOf({ allergies: allergyTo("Amoxicillin") })).except).toEqual([]);
  });
  it("covers it when the listed allergy is to something else", () => {
    expect(offer({}, chartOf({ allergies: allergyTo("Birch pollen") })).except).toEqual([]);
  });
  it("replaces another one of its group, but not what was answered singly beside it", () => {
    const group = {
      ...ALARMS,
      quick: [
        { label: "Dark", sets: { glows: "no" } },
        { label: "Bright and loud", sets: { glows: "yes", hums: "yes" } },
      ],
    };
    const states = (facts: Record<string, string>) => quickOffers(group, facts, noProposals, 0).map((o) => o.is);
    expect(states({ glows: "no" })).toEqual(["given", "ready"]);
    expect(states({ glows: "no", hums: "no" })).toEqual(["given", "contradicted"]);
  });
  it("that says more than another that holds too is the one shown as given", () => {
    const group = {
      ...ALARMS,
      quick: [
        { label: "Dark", sets: { glows: "no" } },
        { label: "Dark and silent", sets: { glows: "no", hums: "no" } },
      ],
    };
    expect(quickOffers(group, { glows: "no", hums: "no" }, noProposals, 0).map((o) => o.is)).toEqual([
      "ready",
      "given",
    ]);
  });
});
