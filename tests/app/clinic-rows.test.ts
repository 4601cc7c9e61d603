import { describe, expect, it } from "vitest";
import {
  bringWords,
  byDay,
  changesBetween,
  changeWords,
  dependsWords,
  merged,
  rowOf,
  timeLeft,
  timeWords,
  windowWords,
} from "../../src/app/tasks/arrange-visits/rows.ts";
import type { BookedVisit, ListedVisit } from "../../src/fhir/listed-visit.ts";
import { aBooked, aVisit } from "./clinic-visits.ts";

const TODAY = "2026-03-12";
const days = (earliest?: string, latest?: string, ideal?: string) => ({ earliest, latest, ideal });
const keys = (visits: readonly Pick<ListedVisit | BookedVisit, "key">[]) => visits.map(({ key }) => key);

describe("a line of the list of visits to arrange", () => {
  it("W1 tells in words how long there is, counted in calendar days", () => {
    const left = (latest: string | undefined) => timeLeft(days(undefined, latest), TODAY);
    expect(left("2026-03-10")).toEqual({ kind: "overdue", words: "Overdue by 2 days" });
    expect(left("2026-03-11")).toEqual({ kind: "overdue", words: "Overdue by 1 day" });
    expect(left("2026-03-12")).toEqual({ kind: "last-day", words: "Last day is today" });
    expect(left("2026-03-13")).toEqual({ kind: "soon", words: "1 day left" });
    expect(left("2026-03-15").kind).toBe("soon");
    expect(left("2026-03-16")).toEqual({ kind: "later", words: "4 days left" });
    expect(left(undefined)).toEqual({ kind: "unknown", words: "No last day" });
  });
  it("W7 counts over the night in which clocks change as over any other", () => {
    expect(timeLeft(days(undefined, "2026-03-30"), "2026-03-28").words).toBe("2 days left");
    expect(timeLeft(days(undefined, "2026-10-26"), "2026-10-24").words).toBe("2 days left");
  });
  it("says the window as the plan gives it: both ends and the best day, or what is there", () => {
    expect(windowWords({ days: days("2026-03-16", "2026-03-20", "2026-03-18") })).toBe(
      "Mon 16 March 2026 to Fri 20 March 2026, best on Wed 18 March 2026",
    );
    expect(windowWords({ days: days("2026-03-16", "2026-03-20", "2026-03-16") })).toMatch(/, best at the start$/);
    expect(windowWords({ days: days("2026-03-16", "2026-03-20", "2026-03-20") })).toMatch(/, best at the end$/);
    expect(windowWords({ days: days("2026-03-16", "2026-03-20") })).not.toContain("best");
    expect(windowWords({ days: days("2026-03-16", "2026-03-16", "2026-03-16") })).toBe("Only Mon 16 March 2026");
    expect(windowWords({ days: days(undefined, "2026-03-20") })).toBe("Until Fri 20 March 2026");
    expect(windowWords({ days: days("2026-03-16") })).toBe("From Mon 16 March 2026");
    expect(windowWords({ days: {} })).toBe("No days given");
    expect(windowWords({ days: {}, afterOperation: { earliest: 10, ideal: 12, latest: 14 } })).toBe(
      "10 to 14 days after the operation, best 12; its date is not known yet",
    );
  });
  it("says what it depends on as a deed, and what to bring for a film or a splint", () => {
    expect(dependsWords("wire-out")).toBe("after the wire is out");
    expect(dependsWords("wound-check")).toBe("after the wound check");
    expect(dependsWords(undefined)).toBeUndefined();
    expect(bringWords("splint-review")).toContain("splint");
    expect(bringWords("splint-review", "family doctor, by phone")).toBeUndefined();
    expect(bringWords("discharge-check")).toBeUndefined();
  });
  it("shows a name without the hidden characters that would make it look like another", () => {
    const row = rowOf(aVisit({ patient: { ...aVisit({}).patient, name: "Ottilie\u202e Farnsworth\u200b" } }), TODAY);
    expect(row.name).toBe("Ottilie Farnsworth");
  });
  it("tells that the patient did not come, and how often it was arranged before", () => {
    expect(rowOf(aVisit({ state: "missed", before: 1 }), TODAY).history).toBe("The patient did not come");
    expect(rowOf(aVisit({ state: "asked", before: 2 }), TODAY).history).toBe(
      "Arranged 2 times before without taking place",
    );
    expect(rowOf(aVisit({ state: "asked", before: 0 }), TODAY).history).toBe("");
  });
  it("says what is not recorded instead of leaving a gap", () => {
    const row = rowOf(
      aVisit({ who: "", digits: "", patient: { ...aVisit({}).patient, contact: [], summary: undefined } }),
      TODAY,
    );
    expect([row.who, row.what, row.contact, row.born]).toEqual([
      "Not said with whom",
      "Finger not recorded",
      "No phone number or address recorded",
      "birth date not recorded",
    ]);
  });
});

describe("the list while others work in it", () => {
  const [a, b, c] = ["2026-03-20", "2026-03-14", "2026-03-10"].map((latest, i) =>
    aVisit({ key: `plan:${i}`, days: days("2026-03-01", latest) }),
  ) as [ListedVisit, ListedVisit, ListedVisit];
  it("W1 pages become one list, each visit once, the most overdue first", () => {
    expect(
      keys(
        merged([
          [a, b],
          [b, c],
        ]),
      ),
    ).toEqual([c.key, b.key, a.key]);
  });
  it("tells what others did, once and in one sentence, and not what was done here", () => {
    const changed = { ...b, entry: { ...b.entry, version: "9" } };
    const found = changesBetween([a, b], [changed, c]);
    expect(found).toEqual({ gone: [a.key], added: [c.key], changed: [b.key] });
    expect(changeWords(found)).toBe(
      "The list was brought up to date: 1 visit no longer to arrange, 1 new visit, 1 visit changed.",
    );
    expect(changeWords(changesBetween([a, b], [b], new Set([a.key])))).toBeUndefined();
    expect(changeWords(changesBetween([a], [a]))).toBeUndefined();
  });
});

describe("the day list", () => {
  it("is by day and time, with the clock of the clinic", () => {
    const late = aBooked({
      key: "p:1",
      at: "2026-03-12T16:50",
      start: "2026-03-12T16:50:00Z",
      end: "2026-03-12T17:10:00Z",
    });
    const next = aBooked({ key: "p:2", at: "2026-03-13T09:00", start: "2026-03-13T09:00:00Z", end: undefined });
    expect(byDay([late, next]).map(([day, visits]) => [day, keys(visits)])).toEqual([
      ["2026-03-12", ["p:1"]],
      ["2026-03-13", ["p:2"]],
    ]);
    expect([timeWords(late), timeWords(next)]).toEqual(["16:50 to 17:10", "09:00"]);
  });
});
