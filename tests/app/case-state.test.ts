import { describe, expect, it } from "vitest";
import { answerOf, type CaseAction, caseReducer, freshCase, recordOf } from "../../src/app/case-state.ts";

const NOW = "2026-03-10T14:30";
const told = (...actions: CaseAction[]) => actions.reduce(caseReducer, freshCase("plan-1", NOW));
const answer = (
  finding: string,
  scope: "patient" | "injury" | "digit",
  value: string | number,
  digit = 0,
): CaseAction => ({ act: "answer", digit, answers: [{ finding, scope, value }] });

describe("the case as the clinician has told it", () => {
  it("starts with nothing known: no finding is taken as normal", () => {
    expect(recordOf(told())).toEqual({ assessedAt: NOW, patient: {}, injury: {}, digits: [{}] });
  });
  it("keeps what belongs to the patient once, and what belongs to a finger with that finger", () => {
    const state = told(
      answer("diabetes", "patient", "yes"),
      { act: "add-digit" },
      answer("openness", "digit", "closed", 1),
    );
    expect(answerOf(state, "diabetes", "patient", 1)).toBe("yes");
    expect(answerOf(state, "openness", "digit", 0)).toBeUndefined();
    expect(answerOf(state, "openness", "digit", 1)).toBe("closed");
  });
  it("keeps the day of the operation, until a corrected day of injury lies after it: then it is asked again", () => {
    const operated = told(
      { act: "date", date: "injuredAt", value: "2026-03-01T08:15" },
      { act: "date", date: "operatedOn", value: "2026-03-01" },
    );
    expect(recordOf(operated).operatedOn).toBe("2026-03-01");
    const corrected = caseReducer(operated, { act: "date", date: "injuredAt", value: "2026-03-02" });
    expect(recordOf(corrected)).toMatchObject({ injuredAt: "2026-03-02" });
    expect(recordOf(corrected)).not.toHaveProperty("operatedOn");
  });
  it("takes an answer back to not asked, not to a healthy value", () => {
    const state = told(answer("openness", "digit", "open-skin"), {
      act: "clear",
      finding: "openness",
      scope: "digit",
      digit: 0,
    });
    expect(state.digits[0]).toEqual({});
  });
  it("never loses the last finger", () => {
    expect(told({ act: "drop-digit", digit: 0 }).digits).toHaveLength(1);
  });
  it("drops decisions and edits with a finger, since they name fingers by place", () => {
    const decision = { rule: "R-1", proposed: "a", decided: "b", reason: "c" };
    const state = told(
      { act: "add-digit" },
      { act: "decide", key: "1/R-1", decision },
      { act: "drop-digit", digit: 0 },
    );
    expect(state.decisions).toEqual({});
    expect(state.active).toBe(0);
  });
  it("continues an earlier plan without taking over any of its answers", () => {
    const state = told(answer("openness", "digit", "closed"), { act: "continue", planId: "plan-0", digits: 2 });
    expect(state.planId).toBe("plan-0");
    expect(state.digits).toEqual([{ openness: "closed" }, {}]);
  });
  it("keeps the last edit of a field and the reason for leaving an item out", () => {
    const state = told(
      { act: "edit-item", edit: { item: "plan", field: "note", value: "first" } },
      { act: "edit-item", edit: { item: "plan", field: "note", value: "second" } },
      { act: "remove-item", item: "visit-1", reason: "Already arranged" },
    );
    expect(state.edits).toEqual([{ item: "plan", field: "note", value: "second" }]);
    expect(state.removed).toEqual({ "visit-1": "Already arranged" });
    expect(caseReducer(state, { act: "restore-item", item: "visit-1" }).removed).toEqual({});
  });
});
