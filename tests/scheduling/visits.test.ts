import { describe, expect, it } from "vitest";
import { type Day, type Place, type PlannedVisit, type Taken, visitsToArrange } from "../../src/scheduling/index.ts";

const CLINIC: Place = { clinic: "harbour", role: "hand clinic" };
const THERAPY: Place = { clinic: "harbour", role: "hand therapist" };
const GP: Place = { clinic: "quay", role: "family doctor" };
const march = (day: number): Day => `2026-03-${String(day).padStart(2, "0")}`;
const visit = (
  purpose: PlannedVisit["purpose"],
  [earliest, ideal, latest]: readonly [number, number, number],
  more: Partial<PlannedVisit> = {},
): PlannedVisit => ({
  ...{ key: purpose, plan: "plan", patient: "kim", purpose, words: purpose },
  ...CLINIC,
  due: { earliest: march(earliest), ideal: march(ideal), latest: march(latest) },
  ...more,
});
const NOTHING = new Map<string, Taken>();
const always = () => true;
const arrange = (
  planned: PlannedVisit[],
  { taken = NOTHING as ReadonlyMap<string, Taken>, times = {}, opens = always as (p: Place, d: Day) => boolean } = {},
) => visitsToArrange(planned, taken, new Map([["kim", { unavailable: [], ...times }]]), opens);
const ids = (planned: PlannedVisit[], more = {}) => arrange(planned, more).visits.map((v) => v.id);

describe("visits that share a window and a place become one", () => {
  it("stitches out with the wound check, when the family doctor does both", () => {
    const { visits } = arrange([visit("wound-check", [10, 11, 12], GP), visit("stitches-out", [11, 13, 15], GP)]);
    expect(visits).toHaveLength(1);
    expect(visits[0]!.due).toEqual({ earliest: march(11), ideal: march(11), latest: march(12) });
    expect(visits[0]!.parts.map((p) => p.purpose)).toEqual(["wound-check", "stitches-out"]);
  });
  it("the film with the clinic, and the wire after it in the same visit, in that order", () => {
    const { visits } = arrange([
      visit("wire-out", [20, 24, 28], { after: "film" }),
      visit("film", [21, 24, 28]),
      visit("clinic", [20, 22, 26]),
    ]);
    expect(visits).toHaveLength(1);
    const order = visits[0]!.parts.map((p) => p.purpose);
    expect(order.indexOf("film")).toBeLessThan(order.indexOf("wire-out"));
    expect(visits[0]!.after).toEqual([]);
  });
  it("but not at another place, nor without a day in common", () => {
    expect(ids([visit("wound-check", [10, 11, 12]), visit("stitches-out", [10, 11, 12], GP)])).toHaveLength(2);
    expect(ids([visit("wound-check", [6, 7, 7]), visit("film", [8, 9, 10])])).toHaveLength(2);
  });
  it("and not when the only days in common are closed, or the patient cannot come", () => {
    const pair = [visit("wound-check", [10, 11, 12]), visit("film", [12, 13, 14])];
    expect(ids(pair)).toHaveLength(1);
    expect(ids(pair, { opens: (_: Place, day: Day) => day !== march(12) })).toHaveLength(2);
    expect(ids(pair, { times: { unavailable: [{ from: march(12), to: march(12) }] } })).toHaveLength(2);
  });
  it("and never two films of one plan, which are meant to lie apart; those of two hurt fingers are one", () => {
    const twice = (plan: string) => [visit("film", [13, 14, 16]), visit("film", [15, 16, 17], { key: "second", plan })];
    expect(ids(twice("plan"))).toHaveLength(2);
    expect(ids(twice("other finger"))).toHaveLength(1);
  });
  it("and not when something elsewhere has to come between them", () => {
    const between = [
      visit("film", [10, 11, 14]),
      visit("therapy", [11, 12, 14], { ...THERAPY, after: "film" }),
      visit("discharge-check", [12, 13, 14], { after: "therapy" }),
    ];
    const { visits } = arrange(between);
    expect(visits.map((v) => [v.id, v.after])).toEqual([
      ["film", []],
      ["therapy", ["film"]],
      ["discharge-check", ["therapy"]],
    ]);
  });
});

describe("a visit that waits for another", () => {
  const wire = visit("wire-out", [20, 22, 24]);
  const therapy = visit("therapy", [20, 23, 26], { ...THERAPY, after: "wire-out" });
  it("names it while it is to be arranged, and comes on its day or later once it is booked", () => {
    expect(arrange([wire, therapy]).visits[1]!.after).toEqual(["wire-out"]);
    const { visits } = arrange([wire, therapy], { taken: new Map([["wire-out", { day: march(24), had: false }]]) });
    expect(visits.map((v) => [v.id, v.due.earliest, v.after])).toEqual([["therapy", march(24), []]]);
  });
  it("waits for the last look of that purpose that is not meant to come later", () => {
    const films = [
      visit("film", [6, 7, 8]),
      visit("film", [13, 14, 15], { key: "second" }),
      visit("film", [27, 28, 29], { key: "third" }),
    ];
    expect(
      arrange([...films, visit("therapy", [14, 16, 20], { ...THERAPY, after: "film" })]).visits.find(
        (v) => v.id === "therapy",
      )!.after,
    ).toEqual(["second"]);
  });
  it("cannot be arranged while that one has no day to count from, and is told, not dropped", () => {
    const { due: _, ...undated } = wire;
    const { visits, notYet } = arrange([undated, therapy]);
    expect(visits).toEqual([]);
    expect(notYet.map((n) => [n.visit.key, n.because])).toEqual([
      ["wire-out", "no-day-to-count-from"],
      ["therapy", "waits-for-one-without-a-day"],
    ]);
  });
  it("in a circle, which only a damaged plan holds, is told as such", () => {
    const circle = [visit("film", [10, 11, 12], { after: "clinic" }), visit("clinic", [10, 11, 12], { after: "film" })];
    expect(arrange(circle).notYet.map((n) => n.because)).toEqual(["waits-in-a-circle", "waits-in-a-circle"]);
  });
});

describe("what a patient said", () => {
  it("not before and not after narrow the window, and the best day stays inside", () => {
    const { visits } = arrange([visit("film", [10, 12, 20])], { times: { notBefore: march(14), notAfter: march(18) } });
    expect(visits[0]!.due).toEqual({ earliest: march(14), ideal: march(14), latest: march(18) });
  });
  it("a visit that no day suits stays in the list, with a window that is empty", () => {
    const { visits } = arrange([visit("film", [10, 12, 14])], { times: { notBefore: march(20) } });
    expect(visits.map((v) => v.due.earliest > v.due.latest)).toEqual([true]);
  });
});
