// @vitest-environment happy-dom
import { readdirSync, readFileSync } from "node:fs";
import { act, cleanup, render, screen } from "@testing-library/react";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { Desk } from "../../src/app/desk.tsx";
import { words as PLAN_WORDS } from "../../src/app/tasks/see-advice/words.ts";
import { assessCase, type CaseRecord, readCase } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { pathway } from "../fhir/cases.ts";
import { PUBLISHED_CASES } from "../reference/published-cases.ts";
import { conditionOf, EMPTY_PARTS, sessionFor, slowReading } from "./chart-parts.ts";
import { practiceBone } from "./fake-module.ts";
import { Plan } from "./plan-on-screen.tsx";

afterEach(cleanup);

/** A set of findings as a case: each finding where its scope puts it. Age in years becomes a birth date. */
function caseOf(facts: Facts): CaseRecord {
  const assessedAt = "2026-11-25T12:00";
  const of = (scope: string) =>
    Object.fromEntries(
      Object.entries(facts).filter(
        ([id]) =>
          pathway.module.findings[id]?.scope === scope &&
          !["ageYears", "hoursSinceInjury", "tetanusYearsSinceLast"].includes(id),
      ),
    );
  const age = facts.ageYears;
  return {
    assessedAt,
    ...(typeof age === "number" ? { birthDate: `${2026 - age}-01-01` } : {}),
    patient: of("patient"),
    injury: of("injury"),
    digits: [of("digit")],
  } as CaseRecord;
}
const FINDINGS = "fixtures/findings";
const invented = readdirSync(FINDINGS)
  .filter((file) => file.endsWith(".json"))
  .flatMap((file): (readonly [string, CaseRecord])[] => {
    const read = readCase(JSON.parse(readFileSync(`${FINDINGS}/${file}`, "utf8")));
    return read.ok ? [[file, read.record]] : [];
  });
const published = Object.values(PUBLISHED_CASES).map((c) => [c.report, caseOf(c.facts)] as const);
const CASES = [...invented, ...published];
/** What comes before all else or asks to be closed: the red panel, alerts, dialogues. */
const interruptions = () => document.querySelectorAll(".go-now, [role=alert], [role=alertdialog], dialog[open]").length;

describe("interruptions over all cases that are kept here", () => {
  it("SAF-11 are at most one a case, less than one on average, and only where somebody must act now", () => {
    expect(CASES.length).toBeGreaterThan(10);
    const counted = CASES.map(([name, record]) => {
      render(<Plan record={record} />);
      const count = interruptions();
      cleanup();
      const now = assessCase(pathway, record).digits.some((d) => d.exits.some((e) => e.effect.urgency === "NOW"));
      return { name, count, now };
    });
    expect(counted.filter(({ count }) => count > 1)).toEqual([]);
    expect(counted.filter(({ count, now }) => count !== Number(now))).toEqual([]);
    const mean = counted.reduce((sum, { count }) => sum + count, 0) / counted.length;
    console.log(`${counted.length} cases, ${mean.toFixed(2)} interruptions a case`);
    expect(mean).toBeLessThanOrEqual(1);
  });
  it("SAF-11 the count sees one: a white tip that stays white after the first steps", () => {
    const [, first] = CASES.find(([name]) => name === "closed-bony-mallet.json")!;
    render(
      <Plan
        record={{
          ...first,
          digits: [{ ...first.digits[0]!, tipColour: "white", perfusionAfterFirstSteps: "still-poor" }],
        }}
      />,
    );
    expect(interruptions()).toBe(1);
  });
});

describe("before the clinician has found anything", () => {
  beforeEach(() => {
    vi.useFakeTimers({ now: new Date(2026, 2, 10, 14, 30), toFake: ["Date"] });
    window.sessionStorage.clear();
    window.scrollTo = () => undefined;
  });
  afterEach(() => vi.useRealTimers());
  it.each(["", "plan"])(
    "SAF-09 no part of the advice is said, though the chart proposes a broken finger (#%s)",
    async (step) => {
      window.location.hash = step;
      await act(async () => {
        render(
          <Desk
            session={sessionFor()}
            reading={slowReading({ ...EMPTY_PARTS, conditions: conditionOf("S62.634A", "Broken ring finger") })}
            policy={Promise.resolve(undefined)}
            module={practiceBone}
          />,
        );
      });
      await vi.waitFor(() => expect(screen.queryByText(/being prepared|Reading the patient/)).toBeNull(), {
        timeout: 20_000,
      });
      // A line of advice opens to its reason. What an answer may still lead to stands folded, under a heading that says so.
      const folded = [...document.querySelectorAll("details")].filter(
        (d) => d.querySelector(":scope > summary")?.textContent === PLAN_WORDS.stillPossible,
      );
      expect(folded.map((d) => d.open)).toEqual(step === "plan" ? [false] : []);
      const said = [...document.querySelectorAll("details.line")].filter(
        (line) => !folded.some((d) => d.contains(line)),
      );
      expect(said.map((line) => line.textContent)).toEqual([]);
      expect(document.querySelectorAll(".go-now, .draft")).toHaveLength(0);
      expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
      expect(document.body.textContent).toMatch(/not set yet|Cannot decide yet|not both recorded/);
    },
  );
});
