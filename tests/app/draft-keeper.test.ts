// @vitest-environment happy-dom
import { beforeEach, describe, expect, it, vi } from "vitest";
import { freshCase } from "../../src/app/case-state.ts";
import { dropDraft, keepDraft, keptDraftOf } from "../../src/app/draft-keeper.ts";

const OWNER = { base: "https://ehr.example/fhir", patientId: "p1", user: "Practitioner/9", launchId: "l1" };
const STATE = { ...freshCase("plan-1", "2026-03-10T10:00"), digits: [{ openness: "closed" }] };
beforeEach(() => window.sessionStorage.clear());

describe("a draft kept in the tab", () => {
  it("survives a reload for the same patient on the same server", () => {
    keepDraft(OWNER, STATE);
    expect(keptDraftOf(OWNER)).toEqual(STATE);
  });
  it("keeps the day of the operation with the other dates", () => {
    const operated = { ...STATE, dates: { injuredAt: "2026-03-01", operatedOn: "2026-03-04" } };
    keepDraft(OWNER, operated);
    expect(keptDraftOf(OWNER)?.dates).toEqual(operated.dates);
  });
  it("is never shown for another patient or another server", () => {
    keepDraft(OWNER, STATE);
    expect(keptDraftOf({ ...OWNER, patientId: "p2" })).toBeUndefined();
    expect(keptDraftOf({ ...OWNER, base: "https://other.example/fhir" })).toBeUndefined();
  });
  it("is not shown even when it lies in the slot of another patient", () => {
    keepDraft(OWNER, STATE);
    const [key] = Object.keys(window.sessionStorage);
    const text = window.sessionStorage.getItem(key!)!;
    keepDraft({ ...OWNER, patientId: "p2" }, STATE);
    for (const k of Object.keys(window.sessionStorage)) window.sessionStorage.setItem(k, text);
    expect(keptDraftOf({ ...OWNER, patientId: "p2" })).toBeUndefined();
  });
  it("SEC-25 comes back only for the person who typed it", () => {
    keepDraft(OWNER, STATE);
    expect(keptDraftOf({ ...OWNER, launchId: "l2" }), "the same person after a new launch").toEqual(STATE);
    expect(keptDraftOf({ ...OWNER, user: "Practitioner/7" })).toBeUndefined();
    expect(keptDraftOf({ ...OWNER, user: undefined })).toBeUndefined();
  });
  it("SEC-25 of somebody who is not known comes back after a reload, not after a new launch", () => {
    const nobody = { ...OWNER, user: undefined };
    keepDraft(nobody, STATE);
    expect(keptDraftOf(nobody)).toEqual(STATE);
    expect(keptDraftOf({ ...nobody, launchId: "l2" })).toBeUndefined();
  });
  it("of two people for one patient lie side by side", () => {
    const colleague = { ...OWNER, user: "Practitioner/7" };
    keepDraft(OWNER, STATE);
    keepDraft(colleague, { ...STATE, digits: [{ openness: "open" }] });
    expect(keptDraftOf(OWNER)).toEqual(STATE);
    dropDraft(OWNER);
    expect(keptDraftOf(colleague)?.digits).toEqual([{ openness: "open" }]);
  });
  it("names neither server nor patient in its key", () => {
    keepDraft(OWNER, STATE);
    const keys = Object.keys(window.sessionStorage);
    expect(keys).toHaveLength(1);
    expect(keys.join()).not.toMatch(/p1|ehr\.example/);
  });
  it("is gone once it is dropped, and a broken one counts as none", () => {
    keepDraft(OWNER, STATE);
    const [key] = Object.keys(window.sessionStorage);
    window.sessionStorage.setItem(key!, '{"state":{}}');
    expect(keptDraftOf(OWNER)).toBeUndefined();
    keepDraft(OWNER, STATE);
    dropDraft(OWNER);
    expect(keptDraftOf(OWNER)).toBeUndefined();
  });
  it("does without storage when the frame blocks it", () => {
    const blocked = vi.spyOn(Storage.prototype, "setItem").mockImplementation(() => {
      throw new DOMException("denied", "SecurityError");
    });
    expect(() => keepDraft(OWNER, STATE)).not.toThrow();
    blocked.mockRestore();
  });
});
