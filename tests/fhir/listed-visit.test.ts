import { describe, expect, it } from "vitest";
import {
  askedAgainAs,
  bookedIn,
  byDays,
  isInstant,
  isOverdue,
  itemOf,
  ListReading,
  short,
  visitsIn,
} from "../../src/fhir/listed-visit.ts";
import { offers, schedulesIn, timesIn } from "../../src/fhir/slot.ts";

const TODAY = "2026-03-10";
const ITEM = "https://fingerpost.example/plan-item";
const ACT = "https://fingerpost.example/fhir/CodeSystem/act";
const PATIENT = {
  resourceType: "Patient",
  id: "p1",
  name: [{ family: "Farnsworth", given: ["Ottilie"] }],
  birthDate: "1988-05-03",
  gender: "female",
  telecom: [{ system: "email", value: "o@example.org", rank: 2 }, { system: "phone", value: "555-0142", rank: 1 }, {}],
};
const order = (more: object = {}) => ({
  resourceType: "ServiceRequest",
  id: "o1",
  status: "active",
  intent: "order",
  subject: { reference: "Patient/p1" },
  performerType: { text: "hand clinic" },
  occurrencePeriod: { start: "2026-03-16", end: "2026-03-20" },
  ...more,
});
const visit = (more: object = {}, item = "plan-1:visit-clinic") => ({
  resourceType: "Appointment",
  id: item.replace(/\W/g, "-"),
  identifier: [{ system: ITEM, value: item }],
  status: "proposed",
  basedOn: [{ reference: "ServiceRequest/o1" }],
  participant: [{ actor: { reference: "Patient/p1", display: "Ottilie Farnsworth" }, status: "needs-action" }],
  ...more,
});
const read = (...resources: object[]) => new ListReading(resources, TODAY, "Europe/London");
const listed = (...resources: object[]) => visitsIn(read(PATIENT, order(), ...resources));
const booked = (more: object = {}) =>
  visit({ status: "booked", start: "2026-03-17T09:15:00Z", end: "2026-03-17T09:30:00Z", ...more });
const recheck = (appointment: object, ...others: object[]) =>
  bookedIn(read(...(others.length ? others : [PATIENT, order()]), appointment))[0]?.recheck?.why;

describe("what is to be arranged", () => {
  it("W1 is read from order and visit: who, which days, whom to call first", () => {
    const [one] = listed(visit({ serviceType: [{ text: "Clinic review, hand clinic" }], comment: "Check the nail" }));
    expect(one).toMatchObject({
      state: "asked",
      before: 0,
      who: "hand clinic",
      days: { earliest: "2026-03-16", latest: "2026-03-20" },
      check: "Check the nail",
      patient: { contact: ["555-0142", "o@example.org"] },
    });
    expect(one!.patient.name).toContain("Farnsworth");
  });
  it("W1 leaves out drafts, entries of other programs, errors, and visits of an order that is not in effect", () => {
    expect(
      listed(
        visit({ meta: { tag: [{ system: ACT, code: "draft" }] } }, "p:a"),
        visit({ status: "entered-in-error" }, "p:b"),
        visit({ identifier: [] }, "p:c"),
      ),
    ).toEqual([]);
    expect(visitsIn(read(PATIENT, order({ status: "revoked" }), visit()))).toEqual([]);
    expect(visitsIn(read(PATIENT, visit({ basedOn: [] }))), "one without an order is not lost").toHaveLength(1);
  });
  it("W4 W6 comes back after it was missed or called off by others, and not after it was ended for good", () => {
    const states = (appointment: object) => listed(appointment).map(({ state }) => state);
    expect(states(visit({ status: "noshow" }))).toEqual(["missed"]);
    expect(states(visit({ status: "cancelled" }))).toEqual(["called-off"]);
    const ended = { url: "https://fingerpost.example/fhir/StructureDefinition/need-ended", valueString: "Died" };
    expect(states(visit({ status: "cancelled", extension: [ended] }))).toEqual([]);
    expect(states(visit({ status: "fulfilled" }))).toEqual([]);
    const [again] = listed(visit({ status: "noshow" }), visit({}, "plan-1:visit-clinic-again-2"));
    expect(again).toMatchObject({ state: "asked", before: 1, key: "plan-1:visit-clinic" });
    expect(listed(visit({ status: "noshow" }), visit({ status: "booked" }, "plan-1:visit-clinic-again-2"))).toEqual([]);
    expect(
      listed(visit({ status: "booked" }), visit({ status: "noshow" }, "plan-1:visit-clinic-again-2")),
      "an earlier entry that still stands counts",
    ).toEqual([]);
  });
  it("without a patient that could be read it is listed, and cannot be booked", () => {
    const [one] = visitsIn(read(order(), visit()));
    expect(one!.patient).toMatchObject({ name: "Ottilie Farnsworth" });
    expect(one!.patient.stop).toContain("did not say whose visit this is");
    const [nameless] = visitsIn(read(order(), visit({ participant: [] })));
    expect(nameless!.patient.name).toBe("Name not recorded");
  });
  it("counted from an operation without a date it keeps the count", () => {
    const url = "https://fingerpost.example/fhir/StructureDefinition/days-after-operation";
    const counted = {
      url,
      extension: [
        { url: "earliest", valueInteger: 10 },
        { url: "latest", valueInteger: 14 },
      ],
    };
    const [one] = visitsIn(read(PATIENT, order({ occurrencePeriod: undefined }), visit({ extension: [counted] })));
    expect(one).toMatchObject({ afterOperation: { earliest: 10, ideal: 0, latest: 14 }, days: {} });
  });
  it("REL-46 an entry that cannot be read is told, and the others are listed", () => {
    const reading = read(PATIENT, order(), visit(), { ...visit({}, "p:x"), participant: "nobody" });
    expect(visitsIn(reading)).toHaveLength(1);
    expect(reading.problems.join(" ")).toContain("Appointment/p-x");
  });
  it("stands in the order of its last day, those without days at the end", () => {
    const days = (key: string, latest?: string, earliest?: string) => ({ key, days: { latest, earliest } });
    const sorted = [
      days("d"),
      days("b", "2026-03-11", "2026-03-02"),
      days("a", "2026-03-11", "2026-03-02"),
      days("c", "2026-03-10"),
    ];
    expect(sorted.sort(byDays).map(({ key }) => key)).toEqual(["c", "a", "b", "d"]);
    expect([isOverdue({ days: {} }, TODAY), isOverdue({ days: { latest: TODAY } }, TODAY)]).toEqual([false, false]);
    expect(isOverdue({ days: { latest: "2026-03-09" } }, TODAY)).toBe(true);
  });
});

describe("W6 a booked visit is asked about", () => {
  it("when its plan ended, its patient died, its day went by, or its days were changed; else not", () => {
    expect(recheck(booked())).toBeUndefined();
    expect(recheck(booked(), PATIENT, order({ status: "revoked" }))).toBe("plan-ended");
    expect(recheck(booked(), { ...PATIENT, deceasedBoolean: true }, order())).toBe("patient");
    expect(recheck(booked({ start: "2026-03-09T09:15:00Z", end: "2026-03-09T09:30:00Z" }))).toBe("time-passed");
    expect(recheck(booked(), PATIENT, order({ occurrencePeriod: { start: "2026-03-18", end: "2026-03-20" } }))).toBe(
      "days-changed",
    );
    expect(recheck(booked(), PATIENT, order({ occurrencePeriod: { start: "2026-03-12", end: "2026-03-16" } }))).toBe(
      "days-changed",
    );
    expect(recheck(booked({ status: "fulfilled" }), PATIENT, order({ status: "revoked" }))).toBeUndefined();
  });
  it("not about its days where somebody said why it lies outside them", () => {
    const because = {
      url: "https://fingerpost.example/fhir/StructureDefinition/outside-days-because",
      valueString: "Away",
    };
    const late = order({ occurrencePeriod: { start: "2026-03-12", end: "2026-03-16" } });
    expect(recheck(booked({ extension: [because] }), PATIENT, late)).toBeUndefined();
  });
});

describe("names and instants", () => {
  it("W7 an instant names its zone; a day or a local time does not", () => {
    expect(["2026-03-17T09:15:00Z", "2026-03-17T09:15+01:00", "2026-03-17T09:15:00.5-05:00"].map(isInstant)).toEqual([
      true,
      true,
      true,
    ]);
    expect(["2026-03-17T09:15:00", "2026-03-17", "2026-13-17T09:15:00Z", undefined].map(isInstant)).toEqual([
      false,
      false,
      false,
      false,
    ]);
  });
  it("a reference is the same with an address before it or a version behind it", () => {
    expect(short("https://ehr.example/fhir/Patient/12/_history/3")).toBe("Patient/12");
    expect(short("#contained")).toBe("#contained");
  });
  it("an entry asked for again counts on", () => {
    expect(askedAgainAs("p:visit-film")).toBe("p:visit-film-again-2");
    expect(askedAgainAs("p:visit-film-again-2")).toBe("p:visit-film-again-3");
    expect(itemOf({})).toBe("");
  });
});

describe("the clinics' schedules", () => {
  const schedule = (more: object = {}) => ({
    resourceType: "Schedule",
    id: "s1",
    actor: [{ reference: "Location/l1", display: "Hand room" }],
    ...more,
  });
  it("have the name that the record gives, else that of who is booked, else their own", () => {
    const problems: string[] = [];
    const read = [
      schedule({ comment: "Hand clinic" }),
      schedule({ id: "s2" }),
      schedule({ id: "s3", actor: [{ reference: "Location/l1" }] }),
      schedule({ id: "s4", active: false }),
      { resourceType: "Slot" },
      schedule({ id: "s5", actor: "none" }),
      schedule({ id: "s6", active: false, actor: "none" }),
    ];
    const names = schedulesIn(read, problems).map(({ reference, name }) => [reference, name]);
    expect(names).toContainEqual(["Schedule/s1", "Hand clinic"]);
    expect(names).toContainEqual(["Schedule/s2", "Hand room"]);
    expect(names.map(([reference]) => reference).sort()).toEqual(["Schedule/s1", "Schedule/s2", "Schedule/s3"]);
    expect(problems).toEqual([expect.stringContaining("A clinic could not be read (Schedule.actor: ")]);
  });
  it("offer a visit by the same trade words, whatever their case", () => {
    const [one] = schedulesIn([schedule({ specialty: [{ text: "Hand Clinic" }] })]);
    expect([offers(one!, { who: "hand clinic" }), offers(one!, { who: "hand therapist" })]).toEqual([true, false]);
  });
  it("have times in the order of their start, and nothing else is taken for one", () => {
    const slot = (id: string, start: string) => ({
      resourceType: "Slot",
      id,
      schedule: {},
      status: "free",
      start,
      end: start,
    });
    const times = timesIn(
      [slot("b", "2026-03-17T09:15:00Z"), slot("a", "2026-03-17T09:15:00Z"), slot("c", "2026-03-17T08:00:00Z"), {}],
      "Europe/London",
    );
    expect(times.map(({ reference, minutes }) => [reference, minutes])).toEqual([
      ["Slot/c", 0],
      ["Slot/a", 0],
      ["Slot/b", 0],
    ]);
  });
});
