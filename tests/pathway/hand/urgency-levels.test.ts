import { describe, expect, it } from "vitest";
import { URGENCIES } from "../../../src/pathway/hand/effects.ts";
import { leadingOf, PATIENTS_TEAM, urgencyWords } from "../../../src/pathway/hand/urgency-words.ts";
import { handPolicy } from "./hand-pathway.ts";

const policy = handPolicy();
const all = (leading?: object) => URGENCIES.map((u) => Object.values(urgencyWords(u, policy, leading)).join(": "));

describe("each level of urgency in words", () => {
  it("when hand surgery is meant", () =>
    expect(all()).toEqual([
      "Now: Phone the hand surgeon. The patient does not leave.",
      "Same day: The hand surgery team sees or takes over the patient today.",
      "Next working day: The hand surgery team hears of it now and sees the patient on the next working day.",
      "Within one week: To be seen within one week, as planned.",
      "Within one to two weeks: To be seen within one to two weeks, as planned.",
      "No referral: No referral to hand surgery. Follow the visits below.",
    ]));
  it("when another service is meant", () =>
    expect(all({ sendTo: "tumour clinic" })).toEqual([
      "Now: Phone the tumour clinic. The patient does not leave.",
      "Same day: The tumour clinic sees or takes over the patient today.",
      "Next working day: The tumour clinic hears of it now and sees the patient on the next working day.",
      "Within one week: To be seen by the tumour clinic within one week, as planned.",
      "Within one to two weeks: To be seen by the tumour clinic within one to two weeks, as planned.",
      "No referral: No referral to hand surgery. Follow the visits below.",
    ]));
  it("when the team treating the patient acts first", () =>
    expect(urgencyWords("NOW", policy, { sendTo: PATIENTS_TEAM })).toEqual({
      title: "Now",
      means: "The team treating the patient acts now. The patient does not leave; the finger comes after.",
    }));
  it("when the line that decides has its own sentence, even beside a hand service", () => {
    for (const u of URGENCIES)
      expect(urgencyWords(u, policy, { sendTo: "hand clinic", means: "A film decides." }).means).toBe(
        "A film decides.",
      );
    expect(urgencyWords("W1", policy, { means: "A film decides." }).title).toBe("Within one week");
  });
  it("with a service whose name only begins like the hand's", () => {
    expect(urgencyWords("D0", policy, { sendTo: "hand therapy" }).means).toMatch(/^The hand therapy /);
    expect(urgencyWords("D0", policy, { sendTo: "second hand surgery" }).means).toMatch(/^The second hand surgery /);
    expect(urgencyWords("W1", policy, { sendTo: "hand surgery" }).means).toBe(
      "To be seen within one week, as planned.",
    );
  });
});

describe("the windows that a site has set stand in the words", () => {
  const words = (values: Record<string, number>, u: "D1" | "W1" | "R2") => urgencyWords(u, handPolicy(values));
  it("days that are not whole weeks are said as days", () => {
    expect(words({ "hand.clinicWithinDays": 5 }, "W1").title).toBe("Within 5 days");
    expect(words({ "hand.routineToDays": 10 }, "R2").title).toBe("Within 7 to 10 days");
    expect(words({ "hand.routineFromDays": 8 }, "R2").means).toBe("To be seen within 8 to 14 days, as planned.");
  });
  it("more than one working day is said as a number", () =>
    expect(words({ "hand.nextDayWithinDays": 2 }, "D1")).toEqual({
      title: "Next 2 working days",
      means: "The hand surgery team hears of it now and sees the patient on the next 2 working days.",
    }));
});

describe("which of several lines speaks", () => {
  const HAND = { sendTo: "hand surgeon on call" };
  const CLINIC = { sendTo: "hand clinic" };
  const OWN = { sendTo: "hand surgeon on call", means: "Own words." };
  it("a hand service with a sentence of its own does not count as the plain hand service", () => {
    expect(leadingOf([OWN, CLINIC])).toBe(CLINIC);
    expect(leadingOf([CLINIC, HAND])).toBe(CLINIC);
    expect(leadingOf([{ sendTo: "burns service" }, OWN])).toBe(OWN);
  });
});
