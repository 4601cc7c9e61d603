// @vitest-environment happy-dom
import { cleanup, render, screen, within } from "@testing-library/react";
import { afterEach, describe, expect, it } from "vitest";
import { freshCase } from "../../src/app/case-state.ts";
import { planText } from "../../src/app/plan-text.ts";
import PlanScreen from "../../src/app/tasks/see-advice/screen.tsx";
import SignScreen from "../../src/app/tasks/sign-off/screen.tsx";
import { openQuestions, undecidedParts } from "../../src/app/undecided.ts";
import { assessCase, type CaseAssessment, type CaseRecord, factsOf } from "../../src/pathway/index.ts";
import { inputFor, MALLET, pathway, TWO_DIGITS } from "../fhir/cases.ts";
import { chartOf, EMPTY_PARTS, recordOf, sessionFor, slowReading } from "./chart-parts.ts";

afterEach(cleanup);

const CRUSH: CaseRecord = { ...TWO_DIGITS, lastTetanusDoseOn: "2010-06-02" };
/** The same open crush, of which nobody asked the tetanus doses. */
const { tetanusDoses: _, ...patient } = CRUSH.patient;
const NO_DOSES: CaseRecord = { ...CRUSH, patient };

const screenProps = (record: CaseRecord, assessment: CaseAssessment = assessCase(pathway, record)) => {
  const facts = record.digits.map((_, i) => factsOf(record, i));
  const undecided = assessment.digits.map((d, i) => undecidedParts(pathway, d, facts[i]!));
  const { module, policy } = pathway;
  const state = { ...freshCase("3f2b8c1e-7a4d-4e6b-9c1a-5d8e7f6a1b2c", record.assessedAt), digits: record.digits };
  const text = planText({
    patient: "A",
    module,
    policy,
    record,
    facts,
    assessment,
    decisions: [],
    undecided,
    appVersion: "0",
  });
  const common = { state, dispatch: () => undefined, facts, assessment, undecided, text, moved: false };
  return { ...common, onBack: () => undefined, record };
};
const plan = (record: CaseRecord, assessment?: CaseAssessment) =>
  render(
    <PlanScreen {...screenProps(record, assessment)} pathway={pathway} operations={[]} onDone={() => undefined} />,
  );
const DOSES = /cannot decide, needs: .*tetanus/i;

describe("tetanus of an open crush when the doses were not asked", () => {
  it("keeps its heading on the plan and says what is needed; answered, it says nothing of the kind", () => {
    plan(NO_DOSES);
    const [heading] = screen.getAllByRole("heading", { name: "Tetanus" });
    expect(heading!.parentElement!.textContent).toMatch(DOSES);
    cleanup();
    plan(CRUSH);
    expect(screen.queryByText(DOSES)).toBeNull();
  });
  it("with hardly anything asked yet, the first needs are named and the others counted, never dropped in silence", () => {
    const nothingAsked: CaseRecord = { assessedAt: CRUSH.assessedAt, patient: {}, injury: {}, digits: [{}] };
    const [digit] = assessCase(pathway, nothingAsked).digits;
    const parts = undecidedParts(pathway, digit!, factsOf(nothingAsked, 0));
    expect(parts.map((p) => p.part)).toContain("tetanus");
    for (const { needs, say } of parts) {
      const [, named = "", others] = /^cannot decide, needs: (.*); and (\d+) other answers$/.exec(say) ?? [];
      expect(named.split("; ").length + Number(others)).toBe(needs.length);
      expect(named.split("; ")).toHaveLength(6);
    }
  });
  it("stands in the plain text too", () => {
    expect(screenProps(NO_DOSES).text).toMatch(/Tetanus\n- Cannot decide, needs: .*tetanus/);
  });
  it("is named in the sentence that is signed and beside its button, with the number of open questions", async () => {
    const { text, ...props } = screenProps(NO_DOSES);
    const { assessment } = props;
    const open = openQuestions(pathway, assessment.digits);
    const reading = slowReading(EMPTY_PARTS);
    expect(open).toBeGreaterThan(0);
    render(
      <SignScreen
        {...props}
        textOf={() => text}
        session={{ ...sessionFor(), fhir: recordOf(reading) }}
        reading={reading}
        onReadAgain={() => undefined}
        module={pathway.module}
        policy={pathway.policy}
        chart={chartOf()}
        reasons={{}}
        origins={{}}
        decisions={[]}
        signs={[]}
        open={open}
        onWritten={() => undefined}
      />,
    );
    const confirm = await screen.findByRole("region", { name: "Sign this plan?" });
    const count = `${open} ${open === 1 ? "question is" : "questions are"} still open.`;
    expect(within(confirm).getAllByText(new RegExp(`${count}.*Tetanus: cannot decide, needs: `))).toHaveLength(2);
    const stored = screen.getAllByText(/Tetanus: cannot decide, needs: /, { ignore: ".confirm *" });
    expect(stored.length, "the plan that is written says it as well").toBeGreaterThan(0);
  });
});

describe("management on the plan", () => {
  const EQUAL = /both ways are shown with equal weight/;
  const input = inputFor(CRUSH);
  const [digit] = input.assessment.digits;
  const line = (rule: string, call: "options" | "operative", source: string) => ({
    rule,
    text: `${rule}.`,
    because: "x",
    sources: [{ source, strength: "C", says: "for" }] as never,
    effect: { kind: "manage", call, say: `${rule}.` } as const,
  });
  const withManagement = (...management: ReturnType<typeof line>[]): CaseAssessment => ({
    ...input.assessment,
    digits: [{ ...digit!, management }],
  });
  it("SAF-07 says that sources differ only where two ways with sources of their own are listed", () => {
    plan(CRUSH, withManagement(line("A", "operative", "S1"), line("B", "options", "S2")));
    expect(screen.queryByText(EQUAL)).toBeNull();
    cleanup();
    plan(CRUSH, withManagement(line("A", "options", "S1"), line("B", "options", "S2")));
    expect(screen.getByText(EQUAL)).toBeTruthy();
  });
  it("can be decided differently, as can antibiotic, splint and tetanus", () => {
    for (const [record, title] of [
      [CRUSH, "Antibiotic"],
      [CRUSH, "Tetanus"],
      [MALLET, "Splint"],
    ] as const) {
      cleanup();
      plan(record);
      const [heading] = screen.getAllByRole("heading", { name: title });
      expect(
        within(heading!.parentElement!).getAllByRole("button", { name: /^I decide differently/ }).length,
      ).toBeGreaterThan(0);
    }
  });
  it("a published class name stands with why it fits, not with the name of its scheme twice", () => {
    const { assessment } = input;
    const published = assessment.digits
      .flatMap((d) => d.classes)
      .find((c) => pathway.module.classes[c.class]?.scheme !== undefined)!;
    plan(CRUSH);
    const shown = screen.getAllByText(published.name)[0]!.closest("summary")!.textContent;
    expect(shown).toContain(`${published.name}. ${published.because}`);
    expect(shown).not.toContain(`: ${pathway.module.classes[published.class]!.definition}`);
  });
  it("a best day on a weekend keeps its date and says that the clinic picks the session", () => {
    const visit = { ...input.assessment.visits[0]!, check: "Look", onlyIf: "if a wire was placed" };
    const dates = { earliest: "2026-11-26", ideal: "2026-11-28", latest: "2026-12-02" };
    const assessment = { ...input.assessment, visits: [{ ...visit, dates }] };
    plan(CRUSH, assessment);
    const visits = screen.getByRole("region", { name: "Visits" }).textContent;
    expect(visits).toMatch(/Sat,? 28 November 2026/);
    expect(visits).toContain("falls on a weekend: the clinic picks the nearest session inside the window");
    expect(visits).toContain("Only if a wire was placed. Look");
    expect(screenProps(CRUSH, assessment).text).toContain("falls on a weekend");
  });
});
