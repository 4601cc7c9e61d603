// @vitest-environment happy-dom
import { cleanup, render, screen, within } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { useReducer, useState } from "react";
import { afterEach, describe, expect, it } from "vitest";
import { type CaseState, caseReducer, freshCase } from "../../src/app/case-state.ts";
import { type PlanLife, usePlanLife } from "../../src/app/tasks/sign-off/stored-changes.tsx";
import type { Chart } from "../../src/fhir/chart.ts";
import { KNOWLEDGE_TAG } from "../../src/fhir/codings.ts";
import { draftPlan } from "../../src/fhir/drafts.ts";
import { type CaseRecord, KNOWLEDGE_VERSION } from "../../src/pathway/index.ts";
import { AT, inputFor, MALLET, PLAN_ID, SIGNER } from "../fhir/cases.ts";
import { Visits } from "../fhir/chart-after.ts";
import { sessionFor } from "./chart-parts.ts";

afterEach(cleanup);

const OTHER_PLAN = "8d1f0c55-2b7e-4a3d-9e61-0c4b5a697788";
const made = (record: CaseRecord, planId: string) => draftPlan(inputFor(record, { planId }));

interface Now {
  life?: PlanLife;
  state?: CaseState;
}
/** The part of the signing page that speaks of what the record already holds. */
function Part({ now, chart, record, planId, may, frozen = false, edits = [] }: PartProps) {
  const [session] = useState(() => sessionFor({ can: may }));
  const [state, dispatch] = useReducer(caseReducer, { ...freshCase(planId, record.assessedAt), edits });
  const life = usePlanLife({
    ...{ session, state, dispatch, chart, record },
    items: made(record, state.planId),
    signer: { reference: SIGNER.reference, name: SIGNER.display },
    at: AT,
    ...{ done: false, frozen, singly: false },
  });
  Object.assign(now, { life, state });
  return (
    <>
      {life.panel}
      {life.items.map((i) => (
        <section key={i.key} aria-label={i.key}>
          {life.choiceFor(i.key)}
        </section>
      ))}
    </>
  );
}
interface PartProps {
  readonly now: Now;
  readonly chart: Chart;
  readonly record: CaseRecord;
  readonly planId: string;
  readonly may: () => boolean;
  readonly frozen?: boolean;
  readonly edits?: CaseState["edits"];
}
function open(
  visits: Visits,
  { record = MALLET, planId = OTHER_PLAN, may = () => true as boolean, edits = [] as CaseState["edits"] } = {},
) {
  const now: Now = {};
  const { rerender } = render(<Part {...{ now, record, planId, may, edits }} chart={visits.chart()} />);
  const again = (frozen: boolean) =>
    rerender(<Part {...{ now, record, planId, may, edits, frozen }} chart={visits.chart()} />);
  return { now, user: userEvent.setup(), again };
}
const written = (act: "draft" | "sign", record = MALLET) => {
  const visits = new Visits();
  visits.write(made(record, PLAN_ID), act);
  return visits;
};
const UNDECIDED = "Say first whether this is the injury of an earlier plan.";

describe("an earlier plan of the same injury", () => {
  it("X1 signed: nothing is chosen for the clinician, and it cannot be signed before the choice", async () => {
    const { now, user } = open(written("sign"));
    expect(screen.getAllByRole("radio").every((r) => !(r as HTMLInputElement).checked)).toBe(true);
    expect(now.life?.obstacles).toContain(UNDECIDED);
    expect(now.life?.changes.sign).toEqual([]);
    await user.click(screen.getByRole("radio", { name: /^Revise that plan/ }));
    expect(now.life?.obstacles).not.toContain(UNDECIDED);
    expect(now.life?.changes.sign.map((c) => c.key)).toEqual([`old:${PLAN_ID}:plan`]);
    expect(now.life?.changes.draft, "a draft ends nothing").toEqual([]);
  });
  it("kept apart: the earlier plan is left alone, and its diagnosis is not refined by this one", async () => {
    const { now, user } = open(written("sign"));
    await user.click(screen.getByRole("radio", { name: /^Another injury/ }));
    expect(now.life?.obstacles).toEqual([]);
    expect(now.life?.changes.sign).toEqual([]);
    expect(now.life?.items.filter((i) => i.stands || i.refines)).toEqual([]);
  });
  it("an unsigned draft: to go on with it puts this page over it, under its own identity", async () => {
    const { now, user } = open(written("draft"));
    await user.click(screen.getByRole("radio", { name: /^Go on with that draft/ }));
    expect(now.state?.planId).toBe(PLAN_ID);
    expect(now.life?.obstacles).toEqual([]);
    expect(screen.getByText(/^This goes on with: Your saved draft/)).toBeTruthy();
  });
  it("the plan signed a moment ago on this very page: what comes after it is another plan", async () => {
    const { now, user } = open(written("sign"), { planId: PLAN_ID });
    expect(now.life?.obstacles).toContain(UNDECIDED);
    await user.click(screen.getByRole("radio", { name: /^Revise that plan/ }));
    expect(now.state?.planId).not.toBe(PLAN_ID);
    expect(now.life?.changes.sign.map((c) => c.key)).toContain(`old:${PLAN_ID}:plan`);
  });
  it("REL-26 I2 a revision of which nobody knows yet whether it was stored is looked for as it was meant, not written anew", async () => {
    const visits = written("sign");
    const { now, user, again } = open(visits);
    await user.click(screen.getByRole("radio", { name: /^Revise that plan/ }));
    const { items, changes } = now.life!;
    // It was stored, and only the answer was lost: by now the chart shows the new plan, with the orders that it took over.
    visits.write(items, "sign", { changes: changes.sign });
    again(true);
    expect(now.life?.items.filter((i) => i.stands).map((i) => i.key)).toEqual(
      items.filter((i) => i.stands).map((i) => i.key),
    );
    expect(items.filter((i) => i.stands).length).toBeGreaterThan(3);
    expect(now.life?.changes).toEqual(changes);
  });
  it("of another finger and day is not asked about", () => {
    const { now } = open(written("sign"), {
      record: { ...MALLET, injuredAt: "2026-11-10", digits: [{ ...MALLET.digits[0], digit: "index", side: "right" }] },
    });
    expect(now.life?.obstacles).toEqual([]);
    expect(screen.queryByRole("radio")).toBeNull();
  });
  it("X4 a booked visit that the new plan leaves out is said to be the clinic's to change", async () => {
    const visits = written("sign");
    const visit = visits
      .all<import("fhir/r4").Appointment>("Appointment")
      .find((a) => a.description?.startsWith("Splint"))!;
    visits.elsewhere(`Appointment/${visit.id}`, (r) => {
      Object.assign(r, { status: "booked", start: "2027-05-03T09:00:00+02:00", end: "2027-05-03T09:20:00+02:00" });
    });
    const { user } = open(visits);
    await user.click(screen.getByRole("radio", { name: /^Revise that plan/ }));
    const becomes = screen.getByRole("region", { name: "What becomes of the earlier plan" });
    expect(within(becomes).getByText(/Booked for Mon 3 May 2027/).textContent).toMatch(/^Tell the clinic: /);
    expect(within(becomes).getByText(/It is now booked/)).toBeTruthy();
  });
});

describe("SAF-12 a stored draft of other clinical knowledge", () => {
  const older = () => {
    const visits = written("draft");
    for (const plan of visits.all<import("fhir/r4").CarePlan>("CarePlan"))
      visits.elsewhere(`CarePlan/${plan.id}`, (r) => {
        const meta = r.meta as { tag: { system: string; code: string }[] };
        meta.tag = meta.tag.map((t) => (t.system === KNOWLEDGE_TAG ? { ...t, code: "0.0.9" } : t));
        r.description = "Urgency: Within two weeks.";
      });
    return visits;
  };
  it("shows what is said differently now, and is not signed before the clinician has looked", async () => {
    const { now, user } = open(older(), { planId: PLAN_ID });
    const part = screen.getByRole("region", {
      name: `This draft was made with clinical knowledge 0.0.9; it was looked at again with ${KNOWLEDGE_VERSION}`,
    });
    expect(within(part).getAllByText("Urgency: Within two weeks.").length).toBeGreaterThan(0);
    expect(now.life?.obstacles).toHaveLength(1);
    await user.click(within(part).getByRole("checkbox", { name: "I have looked at the differences" }));
    expect(now.life?.obstacles).toEqual([]);
  });
  it("a draft of the same knowledge needs no second look", () => {
    const { now } = open(written("draft"), { planId: PLAN_ID });
    expect(screen.queryByRole("checkbox")).toBeNull();
    expect(now.life?.obstacles).toEqual([]);
  });
});

describe("a diagnosis that the chart holds", () => {
  const entry = (sides: readonly string[]) => {
    const visits = new Visits();
    visits.file(
      {
        resourceType: "Condition",
        subject: { reference: "Patient/p1" },
        encounter: { reference: "Encounter/e1" },
        code: { text: "Injury of a ring finger" },
        bodySite: ["770817006", ...sides].map((code) => ({ coding: [{ system: "http://snomed.info/sct", code }] })),
      },
      "triage-1",
    );
    return visits;
  };
  const [LEFT, RIGHT] = ["7771000", "24028007"];
  const refines = (life: PlanLife | undefined) => life?.items.find((i) => i.kind === "condition")?.refines?.reference;
  it("SAF-01 of the same finger and side is refined only when the clinician says so, and until then it cannot be signed", async () => {
    const { now, user } = open(entry([LEFT!]));
    expect(screen.getAllByRole("radio").every((r) => !(r as HTMLInputElement).checked)).toBe(true);
    expect(refines(now.life)).toBeUndefined();
    expect(now.life?.obstacles).toHaveLength(1);
    await user.click(screen.getByRole("radio", { name: /^Refine the chart's entry/ }));
    expect([refines(now.life), now.life?.obstacles]).toEqual(["Condition/triage-1", []]);
    await user.click(screen.getByRole("radio", { name: "File a new diagnosis beside it" }));
    expect([refines(now.life), now.life?.obstacles]).toEqual([undefined, []]);
  });
  it("SAF-01 that was confirmed together with finger and side needs no second word, and can still be filed apart", async () => {
    const confirmed = { item: "entry-left-ring", field: "refines", value: "Condition/triage-1" };
    const { now, user } = open(entry([LEFT!]), { edits: [confirmed] });
    expect([refines(now.life), now.life?.obstacles]).toEqual(["Condition/triage-1", []]);
    expect(screen.getByText("You confirmed this entry together with finger and side.")).toBeTruthy();
    await user.click(screen.getByRole("radio", { name: "File a new diagnosis beside it" }));
    expect([refines(now.life), now.life?.obstacles]).toEqual([undefined, []]);
  });
  it("SAF-01 that was confirmed for another finger, or is no longer in the chart, counts for nothing", () => {
    const elsewhere = { item: "entry-left-index", field: "refines", value: "Condition/triage-1" };
    const gone = { item: "entry-left-ring", field: "refines", value: "Condition/long-gone" };
    const { now } = open(entry([LEFT!]), { edits: [elsewhere, gone] });
    expect(refines(now.life)).toBeUndefined();
    expect(now.life?.obstacles).toHaveLength(1);
  });
  it("without a side is chosen by nobody but the clinician", async () => {
    const { now, user } = open(entry([]));
    expect(refines(now.life)).toBeUndefined();
    expect(now.life?.obstacles).toHaveLength(1);
    await user.click(screen.getByRole("radio", { name: /^Refine the chart's entry/ }));
    expect([refines(now.life), now.life?.obstacles]).toEqual(["Condition/triage-1", []]);
  });
  it("of the other hand is shown as a conflict and left as it is", () => {
    const { now } = open(entry([RIGHT!]));
    expect(screen.getByText(/names the other hand\. It is left as it is\.$/)).toBeTruthy();
    expect(screen.queryByRole("radio")).toBeNull();
    expect([refines(now.life), now.life?.obstacles]).toEqual([undefined, []]);
  });
  it("S4 is not refined where the launch does not allow changing diagnoses, and that is said", () => {
    const { now } = open(entry([LEFT!]), { may: () => false });
    expect(refines(now.life)).toBeUndefined();
    expect(screen.getByText(/does not allow changing a diagnosis/)).toBeTruthy();
  });
});
