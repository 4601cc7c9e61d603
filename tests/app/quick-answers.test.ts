import { describe, expect, it } from "vitest";
import { proposalsFrom } from "../../src/app/chart-proposals.ts";
import { noProposals } from "../../src/app/proposals.ts";
import { quickOffers } from "../../src/app/quick-answers.ts";
import { allergyTo, chartOf } from "./chart-parts.ts";
import { practiceBone } from "./fake-module.ts";

const ALARMS = practiceBone.groups[1]!;
const offer = (facts: Record<string, string>, chart = chartOf()) =>
  quickOffers(ALARMS, facts, proposalsFrom(chart, practiceBone, undefined), 0)[0]!;

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
