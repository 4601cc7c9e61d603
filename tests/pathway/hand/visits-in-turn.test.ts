import { describe, expect, it } from "vitest";
import {
  datedLines,
  datedVisits,
  dischargeLast,
  mergeVisits,
  withDeadline,
} from "../../../src/pathway/hand/follow-up.ts";

type Visit = Parameters<typeof mergeVisits>[0][number];
const visit = (
  purpose: Visit["purpose"],
  earliest: number,
  ideal: number,
  latest: number,
  more: object = {},
): Visit => ({
  purpose,
  earliest,
  ideal,
  latest,
  ...more,
});
const days = (visits: readonly Visit[]) => visits.map((v) => [v.purpose, v.earliest, v.ideal, v.latest]);

describe("two visits of one purpose", () => {
  it("join while both are early and their windows touch, on the earlier of each day", () => {
    expect(days(mergeVisits([visit("wound-check", 5, 6, 7), visit("wound-check", 2, 4, 5)]))).toEqual([
      ["wound-check", 2, 4, 5],
    ]);
    expect(mergeVisits([visit("wound-check", 2, 3, 4), visit("wound-check", 5, 6, 7)])).toHaveLength(2);
    // The later of the two comes first in the list when its best day is earlier.
    expect(days(mergeVisits([visit("film", 6, 6, 6), visit("film", 1, 9, 10)]))).toEqual([["film", 1, 6, 6]]);
    expect(mergeVisits([visit("film", 8, 8, 10), visit("film", 6, 9, 7)])).toHaveLength(2);
  });
  it("count as early up to day 21 after the injury, and no longer", () => {
    const until = (latest: number) => mergeVisits([visit("clinic", 14, 16, latest), visit("clinic", 15, 17, 20)]);
    expect(until(21)).toHaveLength(1);
    expect(until(22)).toHaveLength(2);
  });
  it("join whatever their purpose when the windows are the same", () =>
    expect(mergeVisits([visit("wire-out", 28, 30, 42), visit("wire-out", 28, 30, 42)])).toHaveLength(1));
  it("stay apart when they hang on different conditions, deadlines or first days", () => {
    const film = visit("film", 7, 8, 10);
    for (const other of [{ onlyIf: "if wired" }, { dueDay: 10 }, { countFrom: "operation" as const }])
      expect(mergeVisits([film, { ...film, ...other }]), JSON.stringify(other)).toHaveLength(2);
    expect(mergeVisits([film, { ...film, countFrom: "treatment" as const }])).toHaveLength(1);
  });
  it("of the surgeon join when both start on one day, and only then", () => {
    expect(days(mergeVisits([visit("surgeon-review", 0, 1, 3), visit("surgeon-review", 0, 0, 1)]))).toEqual([
      ["surgeon-review", 0, 0, 1],
    ]);
    expect(mergeVisits([visit("surgeon-review", 0, 1, 3), visit("surgeon-review", 1, 1, 3)])).toHaveLength(2);
    expect(mergeVisits([visit("discharge-check", 0, 1, 3), visit("discharge-check", 0, 0, 1)])).toHaveLength(2);
  });
  it("are early or late by their days after the treatment, not after the injury", () => {
    const late = [20, 21].map((from) => visit("wound-check", from, from + 1, from + 3, { countFrom: "treatment" }));
    expect(mergeVisits(late, 18)).toHaveLength(1);
    expect(mergeVisits(late, 0)).toHaveLength(2);
    const fromInjury = late.map(({ countFrom: _, ...v }: Visit) => v);
    expect(mergeVisits(fromInjury, 18)).toHaveLength(2);
  });
  it("say both checks once; a visit without words keeps the words of the other's only when it has its own", () => {
    const check = (text?: string) => visit("clinic", 3, 3, 4, text === undefined ? {} : { check: text });
    expect(mergeVisits([check("Wound; splint"), check("Splint"), check("Wound")])).toMatchObject([
      { check: "Wound; splint; Splint" },
    ]);
    expect(mergeVisits([check("Wound"), check()])).toMatchObject([{ check: "Wound" }]);
    expect(mergeVisits([check(), check("Wound")])[0]).not.toHaveProperty("check");
  });
});

describe("the order of visits", () => {
  it("is that of their best days, then of their first days", () =>
    expect(days(mergeVisits([visit("film", 9, 9, 9), visit("clinic", 2, 3, 4), visit("therapy", 1, 3, 5)]))).toEqual([
      ["therapy", 1, 3, 5],
      ["clinic", 2, 3, 4],
      ["film", 9, 9, 9],
    ]));
  it("puts what follows an operation behind the day on which it is planned", () => {
    const after = visit("wound-check", 2, 3, 4, { countFrom: "operation", operationFrom: 7 });
    expect(mergeVisits([after, visit("film", 8, 8, 8), visit("clinic", 12, 12, 12)]).map((v) => v.purpose)).toEqual([
      "film",
      "wound-check",
      "clinic",
    ]);
    const { operationFrom: _, ...unplanned } = after as Visit & { operationFrom: number };
    expect(mergeVisits([unplanned, visit("film", 8, 8, 8)]).map((v) => v.purpose)).toEqual(["wound-check", "film"]);
    // Only what counts from the operation waits for it.
    expect(
      mergeVisits([visit("clinic", 2, 3, 4, { operationFrom: 7 }), visit("film", 8, 8, 8)]).map((v) => v.purpose),
    ).toEqual(["clinic", "film"]);
  });
});

describe("a discharge", () => {
  const discharge = visit("discharge-check", 42, 49, 56);
  it("waits for the last film and the last wire, its window as long as it was", () => {
    expect(days(dischargeLast([discharge, visit("film", 63, 66, 70), visit("film", 7, 8, 10)]))[0]).toEqual([
      "discharge-check",
      70,
      77,
      84,
    ]);
    expect(days(dischargeLast([visit("wire-out", 42, 42, 45), discharge]))[1]).toEqual(["discharge-check", 45, 52, 59]);
    expect(days(dischargeLast([visit("film-true-lateral", 42, 42, 50), discharge]))[1]![1]).toBe(50);
  });
  it("does not wait for what is over before, for therapy, or for what counts from another day", () => {
    for (const other of [
      visit("film", 28, 30, 42),
      visit("therapy", 60, 60, 60),
      visit("film", 60, 60, 60, { countFrom: "operation" }),
    ])
      expect(dischargeLast([discharge, other])).toEqual([discharge, other]);
    const afterOperation = { ...discharge, countFrom: "operation" as const };
    expect(dischargeLast([afterOperation, visit("film", 60, 60, 60)])[0]).toEqual(afterOperation);
    expect(dischargeLast([afterOperation, visit("film", 60, 60, 60, { countFrom: "operation" })])[0]!.earliest).toBe(
      60,
    );
  });
  it("leaves every other visit where it is", () => {
    const all = [visit("clinic", 1, 2, 3), visit("film", 60, 60, 60)];
    expect(dischargeLast(all)).toEqual(all);
  });
});

describe("dates", () => {
  it("of what follows an operation wait for its day, and a list that is dated throughout is in the order of its dates", () => {
    const list = [visit("film", 9, 9, 9), visit("wire-out", 2, 3, 4, { countFrom: "operation" })];
    const partly = datedVisits(list, "2026-03-01");
    expect(partly.map((v) => v.dates?.ideal)).toEqual(["2026-03-10", undefined]);
    const whole = datedVisits(list, "2026-03-01", "2026-03-02");
    expect(whole.map((v) => [v.purpose, v.dates!.ideal])).toEqual([
      ["wire-out", "2026-03-05"],
      ["film", "2026-03-10"],
    ]);
    expect(datedVisits([list[1]!], undefined, "2026-03-02")[0]!.dates).toEqual({
      earliest: "2026-03-04",
      ideal: "2026-03-05",
      latest: "2026-03-06",
    });
  });
  it("of a deadline stand before the stop of its sentence", () => {
    expect(withDeadline("Repair by day 10.", 10, "2026-03-02")).toBe("Repair by day 10 (by Thu 12 March 2026).");
    expect(withDeadline("Repair: soon;", 10, "2026-03-02")).toBe("Repair: soon (by Thu 12 March 2026);");
    expect(withDeadline("Repair", 10, "2026-03-02")).toBe("Repair (by Thu 12 March 2026)");
    expect(withDeadline("Repair.", undefined, "2026-03-02")).toBe("Repair.");
    expect(withDeadline("Repair.", 10, undefined)).toBe("Repair.");
    expect(withDeadline("Two lines.\nRepair.", 0, "2026-03-02")).toBe("Two lines.\nRepair (by Mon 2 March 2026).");
  });
  it("of a deadline count from the injury, also in a visit after an operation or one without a date", () => {
    const due = visit("surgeon-review", 0, 1, 3, { check: "Plan it.", dueDay: 10, countFrom: "operation" });
    expect(datedVisits([due], "2026-03-02")[0]).toMatchObject({ check: "Plan it (by Thu 12 March 2026)." });
    expect(datedVisits([due], undefined, "2026-03-04")[0]).toMatchObject({ check: "Plan it." });
  });
  it("stand in lines that have a deadline, and in no other", () => {
    const lines = [
      { text: "Repair.", effect: { kind: "manage", call: "operative", say: "Repair.", dueDay: 10 } },
      { text: "Wait.", effect: { kind: "manage", call: "options", say: "Wait." } },
      { text: "Mind.", effect: { kind: "warn", say: "Mind." } },
    ] as const;
    expect(datedLines(lines, "2026-03-02").map((l) => l.text)).toEqual([
      "Repair (by Thu 12 March 2026).",
      "Wait.",
      "Mind.",
    ]);
    expect(datedLines(lines, undefined)).toEqual(lines);
  });
});
