// @vitest-environment happy-dom
import { cleanup, fireEvent, render, screen, within } from "@testing-library/react";
import { afterEach, describe, expect, it } from "vitest";
import { sayDay } from "../../src/app/say-date.ts";
import type { Proposed } from "../../src/app/value-state.ts";
import { assessCase, type CaseRecord } from "../../src/pathway/index.ts";
import { MALLET, pathway } from "../fhir/cases.ts";
import { Plan } from "./plan-on-screen.tsx";

afterEach(cleanup);

/** The end joint cannot be bent any more: the deep flexor tendon may be torn off, and an operation may follow. */
const TORN: CaseRecord = {
  ...MALLET,
  injuredAt: "2026-11-20T11:30",
  digits: [{ ...MALLET.digits[0]!, activeFlexion: "absent" }],
};
const open = (record: CaseRecord, operations?: readonly Proposed[]) =>
  render(<Plan record={record} {...(operations ? { operations } : {})} />);
const OPERATED = "Operated on (if already operated)";
const visits = () => screen.getByRole("region", { name: "Visits" });
const stitches = () => within(visits()).getByText("Stitches out").closest("li")!.textContent;
const text = () => screen.getByRole<HTMLTextAreaElement>("textbox", { name: /plan as text/, hidden: true }).value;
const day = () => screen.getByLabelText<HTMLInputElement>(OPERATED);
const enter = (value: string) => fireEvent.change(day(), { target: { value } });

describe("what to look for later", () => {
  it("stands folded below the plan of its finger, each sign with what it leads to and its reason", () => {
    open(MALLET);
    const later = screen.getByText("Later: what to look for").closest("details")!;
    expect(later.open).toBe(false);
    const [digit] = assessCase(pathway, MALLET).digits;
    expect(digit!.later.length).toBeGreaterThan(0);
    expect(later.querySelectorAll(":scope > ul > li")).toHaveLength(digit!.later.length);
    for (const line of digit!.later) expect(later.textContent).toContain(line.text);
  });
  it("SAF-20 carries the versions and the time in the plain text", () => {
    const { container } = render(<Plan record={MALLET} />);
    const text = container.querySelector("textarea")!.value;
    expect(text).toContain(`Assessed: ${sayDay(MALLET.assessedAt)}`);
    expect(MALLET.assessedAt).toMatch(/T\d\d:\d\d$/);
    expect(text).toMatch(/Fingerpost 0, knowledge \d+\.\d+\.\d+, site policy ./);
  });
  it("SAF-20 stands in the plain text too", () => {
    open(MALLET);
    const [first] = assessCase(pathway, MALLET).digits[0]!.later;
    expect(text()).toContain(`\nLater: what to look for\n- ${first!.text}`);
  });
});

describe("visits that follow an operation", () => {
  it("say their days after the operation, on screen and in the text, and carry no date while its day is not known", () => {
    open(TORN);
    expect(stitches()).toContain("Aim for day 12 after the operation.");
    expect(stitches()).toContain("Days 10 to 14 after the operation; booked once its day is known.");
    expect(stitches()).not.toContain("Between");
    expect(text()).toMatch(
      /- Stitches out, .*: aim for day 12 after the operation\. .*Days 10 to 14 after the operation/,
    );
  });
  it("get their dates from the day that the clinician enters, and lose them when it is taken back", () => {
    open(TORN);
    enter("2026-11-24");
    // Day 12 after 24 November.
    expect(stitches()).toContain(`Aim for ${sayDay("2026-12-06")}.`);
    expect(text()).toContain(`\nOperated: ${sayDay("2026-11-24")}\n`);
    enter("");
    expect(stitches()).toContain("Aim for day 12 after the operation.");
    expect(text()).not.toContain("Operated:");
  });
  it.each([
    ["2026-11-26", /cannot be later than today/],
    ["2026-11-19", /cannot be before the injury on Fri.* 20 November 2026/],
  ])("are not dated by an operation on %s, the day after the assessment or the day before the injury", (value, why) => {
    open(TORN);
    enter("2026-11-24");
    enter(value);
    expect(screen.getByText(why)).toBeTruthy();
    expect(day().getAttribute("aria-invalid")).toBe("true");
    expect(stitches()).toContain("Aim for day 12 after the operation.");
    expect(text()).not.toContain("Operated:");
    enter("2026-11-20");
    expect(day().getAttribute("aria-invalid")).toBeNull();
    expect(text()).toContain(`\nOperated: ${sayDay("2026-11-20")}\n`);
  });
  it("are dated from an earlier record only once the clinician takes its day over", () => {
    const from = { label: "The saved plan", reference: "QuestionnaireResponse/q1", date: "2026-11-24" };
    open(TORN, [{ value: "2026-11-23", from, conflict: false, written: "signed" }]);
    expect(day().value).toBe("");
    fireEvent.click(screen.getByRole("button", { name: /^Use Mon.* 23 November 2026/ }));
    expect(day().value).toBe("2026-11-23");
    expect(stitches()).toContain(`Aim for ${sayDay("2026-12-05")}.`);
  });
  it("are the only reason to ask for that day", () => {
    open(MALLET);
    expect(assessCase(pathway, MALLET).visits.length).toBeGreaterThan(0);
    expect(screen.queryByLabelText(OPERATED)).toBeNull();
  });
});
