import { describe, expect, it } from "vitest";
import { leadingOf, urgencyWords } from "../../../src/pathway/hand/urgency-words.ts";
import { handPolicy } from "./hand-pathway.ts";

const policy = handPolicy();
const HAND = { sendTo: "hand surgeon on call" };
const BURNS = { sendTo: "burns service" };
const OWN_TEAM = { sendTo: "team treating the patient" };
const FILM = { means: "A film today decides." };
/** An urgency line of a fracture names no service: the hand surgery team is meant. */
const FRACTURE = {};

describe("who does what by when", () => {
  it("without another service the hand surgeon is meant", () => {
    for (const leading of [undefined, FRACTURE, HAND, { sendTo: "hand clinic, urgent" }]) {
      expect(urgencyWords("NOW", policy, leading).means).toBe("Phone the hand surgeon. The patient does not leave.");
      expect(urgencyWords("D0", policy, leading).means).toMatch(/^The hand surgery team /);
    }
  });
  it("serious illness: the team treating the patient, not a call to the hand surgeon", () => {
    const { title, means } = urgencyWords("NOW", policy, OWN_TEAM);
    expect(title).toBe("Now");
    expect(means).toMatch(/^The team treating the patient acts now/);
    expect(means).not.toMatch(/hand surgeon/);
  });
  it("a burn goes to the burns service, a dislocation that can be reduced stays in the emergency department", () => {
    expect(urgencyWords("D0", policy, BURNS).means).toBe("The burns service sees or takes over the patient today.");
    expect(urgencyWords("D0", policy, { sendTo: "emergency department" }).means).toMatch(/^The emergency department /);
    expect(urgencyWords("R2", policy, { sendTo: "hand or tumour clinic" }).means).toBe(
      "To be seen by the hand or tumour clinic within one to two weeks, as planned.",
    );
  });
  it("a line may bring its own sentence: a film that decides, a tip to be looked at again", () =>
    expect(urgencyWords("D0", policy, FILM)).toEqual({ title: "Same day", means: "A film today decides." }));
});

describe("which line speaks for all of the same urgency", () => {
  it("life before the finger tip, then the hand surgeon, then a sentence of its own, then another service", () => {
    expect(leadingOf([HAND, OWN_TEAM, FILM])).toBe(OWN_TEAM);
    expect(leadingOf([FILM, BURNS, HAND])).toBe(HAND);
    expect(leadingOf([FILM, FRACTURE])).toBe(FRACTURE);
    expect(leadingOf([BURNS, FILM])).toBe(FILM);
    expect(leadingOf([BURNS])).toBe(BURNS);
    expect(leadingOf([])).toBeUndefined();
  });
});
