/** What is told of a write: item by item, and as a whole. */
import { describe, expect, it, vi } from "vitest";
import { removeDraft } from "../../src/fhir/drafts.ts";
import {
  changesIn,
  type ItemOutcome,
  notSaved,
  pauseOf,
  reportFrom,
  signalOf,
  unknownAll,
} from "../../src/smart/write-report.ts";
import { RecordInMemory } from "./record-in-memory.ts";
import { drafts } from "./stored-plan.ts";
import { AT, jobOver } from "./writing-job.ts";

describe("the report as a whole", () => {
  const item = (outcome: ItemOutcome["outcome"]): ItemOutcome => ({ key: outcome, title: outcome, outcome });
  const of = (...all: ItemOutcome["outcome"][]) =>
    reportFrom(
      "sign",
      all.map(item),
      () => false,
      (_items, outcome) => ({ kind: "write", title: outcome, what: "", next: "" }),
    );
  it.each<[ItemOutcome["outcome"][], string]>([
    [["saved", "saved"], "saved"],
    [["not-saved", "not-saved"], "not-saved"],
    [["saved", "not-saved"], "part"],
    [["as-draft", "not-saved"], "part"],
    [["as-draft"], "part"],
    [["saved", "unknown"], "unknown"],
    [["unknown"], "unknown"],
  ])("INV-4 of %j is %s", (all, outcome) => {
    expect(of(...all).outcome).toBe(outcome);
    expect(of(...all).problem?.title).toBe(outcome === "saved" ? undefined : outcome);
  });

  it("D9 the record of who did what stands apart and decides nothing", () => {
    const report = reportFrom(
      "draft",
      [item("saved"), item("not-saved")],
      (at) => at === 1,
      () => undefined,
    );
    expect(report).toEqual({
      act: "draft",
      outcome: "saved",
      items: [item("saved")],
      provenance: item("not-saved"),
    });
    expect(of("saved")).not.toHaveProperty("provenance");
  });

  it("nothing was stored, or nothing could be looked at: each item that was to be written says why", () => {
    const [condition, request, plan, provenance] = drafts();
    const refining = { ...condition!, refines: { reference: "Condition/c9" } };
    const items = [
      refining,
      { ...request!, stands: { reference: "ServiceRequest/s1" } },
      removeDraft(plan!, "no"),
      provenance!,
    ];
    const changes = [{ key: "old:x", title: "Old order", words: [], reference: "", resource: {} as never }];
    const reason = { kind: "write", title: "Because.", what: "", next: "" };
    expect(notSaved(jobOver(new RecordInMemory(), { items, context: { changes } }), reason)).toEqual({
      act: "sign",
      outcome: "not-saved",
      problem: reason,
      items: [
        { key: "condition", title: "condition", outcome: "not-saved", reason: "Because." },
        { key: "old:x", title: "Old order", outcome: "not-saved", reason: "Because." },
      ],
    });
    expect(unknownAll(jobOver(new RecordInMemory(), { items: [...items, plan!], act: "draft" }), "No answer.")).toEqual(
      {
        act: "draft",
        outcome: "unknown",
        problem: {
          kind: "write",
          title: "It could not be checked what was stored.",
          what: "No answer.",
          next: "Try again.",
        },
        items: [{ key: "plan", title: "plan", outcome: "unknown", reason: "No answer." }],
      },
    );
  });

  it("passes on what was asked for, and nothing that was not", async () => {
    const { signal } = new AbortController();
    expect(signalOf({ at: AT, signal })).toEqual({ signal });
    expect(signalOf({ at: AT })).toEqual({});
    expect(changesIn({ at: AT, changes: [] })).toEqual({});
    expect(changesIn({ at: AT })).toEqual({});
    vi.useFakeTimers();
    try {
      let over = false;
      const waiting = pauseOf({ at: AT })(500).then(() => {
        over = true;
      });
      await vi.advanceTimersByTimeAsync(499);
      expect(over).toBe(false);
      await vi.advanceTimersByTimeAsync(1);
      await waiting;
      expect(over).toBe(true);
    } finally {
      vi.useRealTimers();
    }
  });
});
