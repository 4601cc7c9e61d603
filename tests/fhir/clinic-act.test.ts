import type { Appointment, Communication, Provenance, Slot } from "fhir/r4";
import { describe, expect, it } from "vitest";
import {
  type ActAnswer,
  actBundle,
  booking,
  type ClinicAct,
  callingOff,
  came,
  missing,
  moving,
  type Place,
} from "../../src/fhir/clinic-act.ts";
import type { BookedVisit, Held, ListedVisit } from "../../src/fhir/listed-visit.ts";
import { aBooked, aTime, aVisit, CLINIC } from "../app/clinic-visits.ts";

const staff = { signer: { reference: "Practitioner/7" }, at: "2026-03-10T08:00:00+00:00", appVersion: "1.0.0" };
const item = (value: string) => [{ system: "https://fingerpost.example/plan-item", value }];
const resource = (more: Partial<Appointment> = {}): Appointment => ({
  resourceType: "Appointment",
  id: "v1",
  meta: { versionId: "4", lastUpdated: "2026-03-01T00:00:00Z" },
  identifier: item("plan-1:visit-clinic"),
  status: "proposed",
  participant: [{ actor: { reference: "Patient/ottilie" }, status: "needs-action" }],
  ...more,
});
const held = (more: Partial<Appointment> = {}): Held => ({
  reference: "Appointment/v1",
  version: "4",
  resource: resource(more) as unknown as Record<string, unknown>,
});
const order = (requester?: object): ListedVisit["order"] =>
  ({
    reference: "ServiceRequest/o1",
    resource: {},
    status: "active",
    words: "Follow-up",
    priority: "routine",
    ...(requester ? { requester } : {}),
  }) as ListedVisit["order"];
const HARROWGATE = { reference: "Practitioner/imke-harrowgate", display: "Dr Imke Harrowgate" };
const visit = (change: Partial<ListedVisit> = {}) => aVisit({ entry: held(), order: order(HARROWGATE), ...change });
const booked = (change: Partial<BookedVisit> = {}) =>
  aBooked({ entry: held({ status: "booked" }), order: order(HARROWGATE), ...change });
const place = (day = "2026-03-17", change: Parameters<typeof aTime>[2] = {}): Place => ({
  time: aTime(day, "09:15", { resource: { resourceType: "Slot", id: "s", status: "free" }, ...change }),
  schedule: CLINIC,
});
function made(answer: ActAnswer): ClinicAct {
  if (!answer.ok) throw new Error(answer.problem);
  return answer.act;
}
const refused = (answer: ActAnswer) => (answer.ok ? "done" : answer.problem);
const stepOf = ({ steps }: ClinicAct, what: string) => steps.find((step) => step.what === what);
const written = <R>(act: ClinicAct, what: string) => stepOf(act, what)?.resource as R;

describe("a visit is not booked", () => {
  it("when none is chosen, for two patients at once, or for somebody who may not be booked", () => {
    const other = visit({ key: "p:2", patient: { ...visit().patient, reference: "Patient/other" } });
    const dead = visit({ patient: { ...visit().patient, stop: "The patient has died." } });
    expect(refused(booking([], place(), staff))).toBe("Choose a visit first.");
    expect(refused(booking([visit(), other], place(), staff))).toContain("different patients");
    expect(refused(booking([dead], place(), staff))).toBe("The patient has died.");
    expect(refused(moving(booked({ patient: dead.patient }), [], place(), staff))).toBe("The patient has died.");
  });
  it("into a time that has gone by or is not free any more", () => {
    expect(refused(booking([visit()], place("2026-03-09"), staff))).toContain("gone by");
    expect(refused(booking([visit()], place("2026-03-17", { status: "busy" }), staff))).toContain("not free any more");
  });
  it("W3 outside the days of the plan without a reason, before them as after them", () => {
    for (const day of ["2026-03-13", "2026-03-24"]) {
      expect(refused(booking([visit()], place(day), staff, "  "))).toContain("say why");
      expect(refused(booking([visit()], place(day), staff, "Away"))).toBe("done");
    }
    expect(refused(booking([visit({ days: {} })], place("2026-03-24"), staff))).toBe("done");
  });
});

describe("a booked visit, as it is written", () => {
  it("W2 keeps what others wrote into it, names clinic and patient as accepted, and goes over the version that was read", () => {
    const entry = held({
      meta: { versionId: "4", tag: [{ system: "https://ward.example", code: "x" }] },
      comment: "Comes with an interpreter",
      extension: [{ url: "https://ward.example/room", valueString: "3" }],
      participant: [
        { actor: { reference: "Patient/ottilie" }, status: "needs-action" },
        { actor: { reference: "Location/old" }, status: "needs-action" },
      ],
    });
    const act = made(booking([visit({ entry })], place(), staff));
    const appointment = written<Appointment>(act, "visit");
    expect(appointment).toMatchObject({
      status: "booked",
      minutesDuration: 15,
      comment: "Comes with an interpreter",
      extension: [{ url: "https://ward.example/room", valueString: "3" }],
      meta: { tag: [{ system: "https://ward.example", code: "x" }] },
      slot: [{ reference: "Slot/2026-03-17-09:15" }],
    });
    expect(appointment.meta).not.toHaveProperty("versionId");
    expect(appointment.participant.map((p) => [p.actor?.reference, p.status])).toEqual([
      ["Patient/ottilie", "accepted"],
      ["Location/hands", "accepted"],
    ]);
    expect(appointment.text!.div).toContain("Comes with an interpreter");
    expect(actBundle(act).entry![0]!.request).toMatchObject({ method: "PUT", ifMatch: 'W/"4"' });
  });
  it("W2 holds the slot first where one thing is written at a time, and says for which visit", () => {
    const step = stepOf(made(booking([visit()], place(), staff)), "time")!;
    expect((step.hold as Slot).status).toBe("busy-tentative");
    expect((step.resource as Slot).status).toBe("busy");
    expect((step.resource as Slot).extension).toMatchObject([{ valueReference: { reference: "Appointment/v1" } }]);
    expect((step.undo as Slot).status).toBe("free");
  });
  it("W2 at a time agreed by phone takes no slot, and gives up the one that it had", () => {
    const agreed = place("2026-03-17", { reference: "", minutes: 0 });
    const act = made(
      moving(booked({ entry: held({ status: "booked", slot: [{ reference: "Slot/9" }] }) }), [], agreed, staff),
    );
    expect(stepOf(act, "time")).toBeUndefined();
    expect(written<Appointment>(act, "visit").slot).toBeUndefined();
    expect(written<Appointment>(act, "visit").minutesDuration).toBeUndefined();
  });
  it("W4 after one that was missed is a new entry of its own, made once, that points to the missed one", () => {
    const entry = held({ status: "noshow", start: "2026-03-09T09:00:00Z", end: "2026-03-09T09:15:00Z" });
    const act = made(booking([visit({ entry, state: "missed" })], place(), staff));
    const step = stepOf(act, "visit")!;
    const appointment = step.resource as Appointment;
    expect(step).toMatchObject({ method: "POST", url: "Appointment" });
    expect(step.ifNoneExist).toContain("plan-1:visit-clinic-again-2");
    expect(appointment.id).toBeUndefined();
    expect(appointment.start).toBe(place().time.start);
    expect(JSON.stringify(appointment.extension)).toContain("Appointment/v1");
    expect(step.undo).toMatchObject({ status: "cancelled" });
    const hold = stepOf(act, "time")!.hold as Slot;
    expect(hold.extension, "a hold names what is there already, so that it is found").toMatchObject([
      { valueReference: { reference: "Appointment/v1" } },
    ]);
  });
  it("W3 inside the days again, the reason for being outside is gone", () => {
    const outside = made(booking([visit()], place("2026-03-24"), staff, "Away"));
    const entry = { ...held(), resource: written<Record<string, unknown>>(outside, "visit") };
    const back = made(moving(booked({ entry }), [], place(), staff));
    expect(JSON.stringify(written<Appointment>(outside, "visit").extension)).toContain("Away");
    expect(JSON.stringify(written<Appointment>(back, "visit").extension ?? [])).not.toContain("Away");
  });
});

describe("W2 W4 a visit of several times in a row", () => {
  const slotAt = (clock: string, status = "free") =>
    aTime("2026-03-17", clock, { status, resource: { resourceType: "Slot", id: clock.replace(":", ""), status } });
  const two = (): Place => {
    const [first, second] = [slotAt("09:00"), slotAt("09:15")];
    return { time: { ...first, end: second.end, minutes: 30, rest: [second] }, schedule: CLINIC };
  };
  const times = (act: ClinicAct) => act.steps.flatMap((s) => (s.what === "time" ? [s] : []));
  it("takes all of them in one act, each over the version that was read, and lasts until the end of the last one", () => {
    const act = made(booking([visit()], two(), staff));
    expect(written<Appointment>(act, "visit")).toMatchObject({
      start: "2026-03-17T09:00:00+00:00",
      end: "2026-03-17T09:30:00+00:00",
      minutesDuration: 30,
      slot: [{ reference: "Slot/2026-03-17-09:00" }, { reference: "Slot/2026-03-17-09:15" }],
    });
    expect(
      times(act).map(({ url, version, resource, hold }) => [url, version, (resource as Slot).status, hold?.status]),
    ).toEqual([
      ["Slot/2026-03-17-09:00", "1", "busy", "busy-tentative"],
      ["Slot/2026-03-17-09:15", "1", "busy", "busy-tentative"],
    ]);
    expect(written<Provenance>(act, "record").target).toHaveLength(3);
  });
  it("is not booked when one of them is not free any more", () => {
    const place = two();
    const rest = [slotAt("09:15", "busy")];
    expect(refused(booking([visit()], { ...place, time: { ...place.time, rest } }, staff))).toContain(
      "not free any more",
    );
  });
  it("gives all of them back when it is moved or called off, and is asked for again at its length", () => {
    const slot = ["Slot/2026-03-17-09:00", "Slot/2026-03-17-09:15"].map((reference) => ({ reference }));
    const long = booked({ entry: held({ status: "booked", slot, minutesDuration: 30 }) });
    const own = [slotAt("09:00", "busy"), slotAt("09:15", "busy")];
    const freed = (act: ClinicAct) =>
      times(act).flatMap(({ url, resource }) => ((resource as Slot).status === "free" ? [url] : []));
    const off = { by: "patient", reason: "Has a cold", needRemains: true } as const;
    const called = made(callingOff(long, own, staff, off));
    expect(freed(called)).toEqual(slot.map(({ reference }) => reference));
    expect(written<Appointment>(called, "need").minutesDuration).toBe(30);
    expect(freed(made(moving(long, own, place("2026-03-18"), staff)))).toEqual(slot.map(({ reference }) => reference));
  });
  it("a visit of one time is asked for again without the length of that time, which another clinic may not have", () => {
    const short = booked({ entry: held({ status: "booked", slot: [{ reference: "Slot/1" }], minutesDuration: 20 }) });
    expect(written<Appointment>(made(missing(short, staff, "2026-03-18")), "need").minutesDuration).toBeUndefined();
  });
});

describe("the doctor", () => {
  it("W3 is told by a message that names the visit and the reason, from whoever booked", () => {
    const named = { ...staff, signer: { reference: "Practitioner/7", display: "Tobias Quillfeather" } };
    const act = made(booking([visit()], place("2026-03-24"), named, "Away for work"));
    const message = written<Communication>(act, "message");
    expect(message).toMatchObject({
      recipient: [HARROWGATE],
      sender: { display: "Tobias Quillfeather" },
      about: [{ reference: "Appointment/v1" }],
    });
    expect(message.payload![0]!.contentString).toMatch(/^Clinic review: Booked for .*Away for work/);
    expect(act.tellByPhone).toBeUndefined();
  });
  it("W3 is to be phoned where the order names nobody, or there is no order", () => {
    for (const nobody of [order(), undefined]) {
      const act = made(booking([visit({ order: nobody })], place("2026-03-24"), staff, "Away"));
      expect(stepOf(act, "message")).toBeUndefined();
      expect(act.tellByPhone).toContain("by phone");
    }
  });
  it("W4 is told of a missed visit only once its days are over", () => {
    const told = (today: string) => stepOf(made(missing(booked(), staff, today)), "message") !== undefined;
    expect([told("2026-03-18"), told("2026-03-20"), told("2026-03-21")]).toEqual([false, false, true]);
    expect(stepOf(made(missing(booked({ days: {} }), staff, "2031-01-01")), "message")).toBeUndefined();
  });
});

describe("a visit that took place", () => {
  it("W4 is noted as such once it has begun, and nobody is told or asked again", () => {
    const later = { ...staff, at: "2026-03-17T10:00:00+00:00" };
    const act = made(came(booked(), later));
    expect(act.steps.map(({ what }) => what)).toEqual(["visit", "record"]);
    expect(written<Appointment>(act, "visit").status).toBe("fulfilled");
    expect(refused(came(booked(), staff))).toContain("lies ahead");
  });
});

describe("a visit that is called off", () => {
  const off = { by: "patient", reason: "Has a cold", needRemains: true } as const;
  it("W4 needs a reason", () => {
    expect(refused(callingOff(booked(), [], staff, { ...off, reason: " " }))).not.toBe("done");
  });
  it("W4 is asked for again before it is cancelled, and its time is given back to others", () => {
    const time = aTime("2026-03-17", "09:15", {
      status: "busy",
      resource: {
        resourceType: "Slot",
        status: "busy",
        extension: [{ url: "https://ward.example/room", valueString: "3" }],
      },
    });
    const act = made(callingOff(booked(), [time], staff, off));
    expect(act.steps.map(({ what }) => what)).toEqual(["need", "visit", "time", "record"]);
    expect(written<Appointment>(act, "need")).toMatchObject({ status: "proposed" });
    expect(written<Slot>(act, "time")).toMatchObject({ status: "free", extension: [{ valueString: "3" }] });
    expect(written<Appointment>(act, "visit").cancelationReason?.coding?.[0]?.code).toBe("pat");
  });
  it("W6 for good is not asked for again, and says why on the entry", () => {
    const act = made(callingOff(booked(), [], staff, { by: "clinic", reason: "Died", needRemains: false }));
    expect(act.steps.map(({ what }) => what)).toEqual(["visit", "record"]);
    expect(written<Appointment>(act, "visit").extension).toMatchObject([{ valueString: "Died" }]);
    expect(written<Appointment>(act, "visit").cancelationReason?.coding?.[0]?.code).toBe("prov");
  });
  it("records who did it, with which program and knowledge, and every entry it touched", () => {
    const entry = held({
      meta: { tag: [{ system: "https://fingerpost.example/fhir/CodeSystem/knowledge", code: "9" }] },
    });
    const act = made(missing(booked({ entry }), staff, "2026-03-18"));
    const record = written<Provenance>(act, "record");
    expect(record.target.map(({ reference }) => reference)).toEqual([
      expect.stringMatching(/^urn:uuid:/),
      "Appointment/v1",
    ]);
    expect(record.agent.at(-1)!.who).toEqual({ reference: "Practitioner/7" });
    expect(stepOf(act, "record")!.ifNoneExist).toContain("provenance-missed");
  });
});
