import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { addDays, format, formatISO, startOfToday } from "date-fns";
import type { Appointment, Patient, Schedule, Slot } from "fhir/r4";
import ICAL from "ical.js";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { type ActAnswer, type ActingStaff, callingOff, moving } from "../../src/fhir/clinic-act.ts";
import type { BookedVisit } from "../../src/fhir/listed-visit.ts";
import { PURPOSE_WORDS } from "../../src/pathway/index.ts";
import { carryOut } from "../../src/smart/booking.ts";
import { readBooked } from "../../src/smart/clinic-list.ts";
import { readSchedules, readTimes } from "../../src/smart/clinic-times.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { given } from "../app/clinic-staff.ts";
import { clinicLaunched, control, openPractice, type Practice } from "../smart/on-practice.ts";
import { clinicCommand, tokenOf } from "./clinic-command.ts";

// RFC 5545 3.8.8.2: what begins with X- is text; this reader would leave it as it is written.
ICAL.design.icalendar.property["x-wr-calname"] = { defaultType: "text" };
const ZONE = Intl.DateTimeFormat().resolvedOptions().timeZone;
const inDays = (n: number) => format(addDays(new Date(), n), "yyyy-MM-dd");
const DAY = { today: inDays(0), zone: ZONE };
/** R4 appointmentstatus: with a time, and not called off or missed. */
const WITH_A_TIME = ["booked", "pending", "arrived", "fulfilled", "checked-in", "waitlist"];

let practice: Practice;
let session: ClinicSession;
let token = "";
let folder = "";
beforeAll(async () => {
  practice = await openPractice(true);
});
afterAll(async () => {
  vi.unstubAllGlobals();
  await practice.close();
});
beforeEach(async () => {
  // Anew for each: a token lasts some minutes.
  session = await clinicLaunched(practice);
  token = await tokenOf(session);
  folder = mkdtempSync(join(tmpdir(), "fingerpost-calendars-"));
});
afterEach(async () => {
  rmSync(folder, { recursive: true });
  await control(practice, { reset: true, reseed: true });
});

const calendars = (...words: string[]) =>
  clinicCommand("calendars", ["--out", folder, "--zone", ZONE, ...words, practice.fhirBase], token);
/** Every calendar of the folder by its file, as ical.js, a reader of RFC 5545 written by others, understands it. */
const published = () =>
  new Map(readdirSync(folder).map((file) => [file, new ICAL.Component(ICAL.parse(text(file)))] as const));
const text = (file: string) => readFileSync(join(folder, file), "utf8");
const files = () => Object.fromEntries(readdirSync(folder).map((file) => [file, text(file)]));
const eventsOf = (calendar: ICAL.Component) => calendar.getAllSubcomponents("vevent").map((one) => new ICAL.Event(one));
/** The event of a visit in every calendar that holds it. */
const eventsFor = (visit: BookedVisit) =>
  [...published()].flatMap(([file, calendar]) =>
    eventsOf(calendar).flatMap((event) =>
      event.uid === `appointment-${visit.entry.resource.id}@fingerpost` ? [{ file, event }] : [],
    ),
  );
const titles = () => [
  ...new Set([...published().values()].flatMap((calendar) => eventsOf(calendar).map(({ summary }) => summary))),
];
/** What calendars tell of who comes, and with which finger. */
const whoseIn = (calendars: Readonly<Record<string, string>>) => {
  const people = stored<Patient>("Patient").flatMap(({ id, name }) => [id!, name?.[0]?.family ?? id!]);
  const all = JSON.stringify(
    Object.entries(calendars).map(([file, content]) => [file, content.replaceAll("\r\n ", "")]),
  );
  return [...people.filter((word) => all.includes(word)), ...(all.match(/\b(finger|thumb|555-\d|born)\b/gi) ?? [])];
};
const stored = <T>(type: string) => practice.stored(type) as unknown as T[];
const booked = async () => given(await readBooked(session, DAY, DAY.today, inDays(84))).visits;
/** As the clinic's staff do it at their screen. */
const act = async (visit: BookedVisit, make: (staff: ActingStaff) => ActAnswer) =>
  expect(
    await carryOut(session, [visit], make, { at: formatISO(new Date()), appVersion: "0.1.0", wait: async () => {} }),
  ).toMatchObject({ outcome: "done" });

describe("the calendars of the practice EHR's clinics", () => {
  it("W7 hold every booked visit from today on once, at its instant, in the calendar of the clinic whose time it takes, and say no more", async () => {
    const { exit, out, said } = await calendars();
    expect([exit, said]).toEqual([0, []]);
    const clinicOf = new Map(stored<Slot>("Slot").map(({ id, schedule }) => [`Slot/${id}`, schedule.reference!]));
    const expected = stored<Appointment>("Appointment").flatMap(({ id, status, start, slot }) =>
      WITH_A_TIME.includes(status) && start && Date.parse(start) >= startOfToday().getTime()
        ? [`clinic-${clinicOf.get(slot![0]!.reference!)!.slice(9)}.ics ${id} ${Date.parse(start)}`]
        : [],
    );
    const found = [...published()].flatMap(([file, calendar]) =>
      eventsOf(calendar).map(
        ({ uid, startDate }) =>
          `${file} ${/^appointment-(.+)@fingerpost$/.exec(uid)![1]} ${startDate.toJSDate().getTime()}`,
      ),
    );
    expect(found.sort()).toEqual(expected.sort());
    expect(found.length).toBeGreaterThan(5);
    expect(new Set(found.map((line) => line.split(" ")[0])).size).toBeGreaterThan(2);
    expect(titles()).toEqual(["Clinic visit"]);
    expect(whoseIn(files())).toEqual([]);
    expect(whoseIn({ "a.ics": "SUMMARY:Josephine Wyver\r\n ley\r\n" })).toEqual(["Wyverley"]);
    const counted = [...published()].map(([file, calendar]) => {
      const { comment } = stored<Schedule>("Schedule").find(({ id }) => file === `clinic-${id}.ics`)!;
      expect(calendar.getFirstPropertyValue("x-wr-calname")).toBe(comment);
      return `${join(folder, file)}\t${comment}\t${eventsOf(calendar).length}`;
    });
    expect(out.trimEnd().split("\n").sort()).toEqual(counted.sort());
  });

  it("tell what a visit is for only where that is allowed, and never whose it is or which finger", async () => {
    expect((await calendars("--titles", "purpose")).exit).toBe(0);
    const purposes = Object.values(PURPOSE_WORDS);
    const told = titles();
    expect(told.filter((title) => !purposes.some((purpose) => title.endsWith(`: ${purpose}`)))).toEqual([]);
    expect(told.filter((title) => /^Clinic visit, .+ (Hospital|Centre): /.test(title))).toEqual(told);
    expect(told.length).toBeGreaterThan(2);
    expect(whoseIn(files())).toEqual([]);
  });

  it("W7 leave a visit out once it was called off, and keep one that was moved as the same event at its new time", async () => {
    await calendars();
    const visits = (await booked()).filter(
      ({ status, slots, patient }) => status === "booked" && slots.length === 1 && !patient.stop,
    );
    const [off, moved] = visits as [BookedVisit, BookedVisit];
    const [before] = eventsFor(moved);
    expect(eventsFor(off)).toHaveLength(1);
    const all = given(await readSchedules(session));
    const asked = { schedules: all.map(({ reference }) => reference), from: DAY.today, to: inDays(80) };
    const { times } = given(await readTimes(session, DAY, { ...asked, status: "any" }));
    const own = (visit: BookedVisit) => times.filter(({ reference }) => visit.slots.includes(reference));
    const why = { by: "patient", reason: "Has a cold", needRemains: true } as const;
    await act(off, (staff) => callingOff(off, own(off), staff, why));
    const [old] = own(moved);
    const time = times.findLast(({ schedule, status }) => schedule === old!.schedule && status === "free")!;
    const place = { time, schedule: all.find(({ reference }) => reference === old!.schedule)! };
    await act(moved, (staff) => moving(moved, [old!], place, staff, "Away for work until then"));

    expect((await calendars()).exit).toBe(0);
    expect(eventsFor(off)).toEqual([]);
    const after = eventsFor(moved);
    expect(after.map(({ file }) => file)).toEqual([before!.file]);
    expect(after[0]!.event.startDate.toJSDate().getTime()).toBe(Date.parse(time.start));
    expect(before!.event.startDate.toJSDate().getTime()).toBe(Date.parse(moved.start));
    expect(after[0]!.event.sequence).toBeGreaterThan(before!.event.sequence);
  });

  it("are without an event for a clinic nobody is booked at; once that clinic is in use no more, its file is told as an old one", async () => {
    const evening = {
      resourceType: "Schedule",
      id: "evening-hand-clinic",
      active: true,
      actor: [{ reference: "HealthcareService/evening-hands" }],
      // a name that would begin an entry of its own
      comment: "Evening, Alder Quay\r\nBEGIN:VEVENT\r\nSUMMARY:not a visit",
    };
    const file = "clinic-evening-hand-clinic.ics";
    const [{ entry }] = (await booked()) as [BookedVisit];
    const { participant } = entry.resource as unknown as Appointment;
    const alone = participant.filter(({ actor }) => actor!.reference!.startsWith("Patient/"));
    await control(practice, { enter: [evening, { ...entry.resource, participant: alone }] });
    const { exit, out } = await calendars();
    expect(exit).toBe(0);
    expect(out).toContain(`${file}\tEvening, Alder Quay BEGIN:VEVENT SUMMARY:not a visit\t0\n`);
    expect(out).toContain("-\tat none of these clinics, in no file\t1\n");
    const calendar = published().get(file)!;
    // RFC 5545 3.6: at least one component
    expect(calendar.getAllSubcomponents().map(({ name }) => name)).toEqual(["vtimezone"]);
    expect(calendar.getFirstPropertyValue("x-wr-calname")).toBe("Evening, Alder Quay BEGIN:VEVENT SUMMARY:not a visit");

    await control(practice, { enter: [{ ...evening, active: false }] });
    const again = await calendars();
    expect(again.exit).toBe(2);
    expect(again.said).toEqual([
      `${join(folder, file)}: no clinic in use fills this file any more: tell who subscribed to it, and remove it`,
    ]);
    expect(again.out.match(/^.+\.ics\t/gm)).toHaveLength(6);
  });

  it("SEC-22 stay as they were, all of them, when a visit or a clinic cannot be read, and the command says which", async () => {
    await calendars();
    const before = files();
    const [visit] = await booked();
    const { resource, reference } = visit!.entry;
    await control(practice, {
      enter: [
        { ...resource, modifierExtension: [{ url: "https://ward.example/not-for-this", valueBoolean: true }] },
        { resourceType: "Schedule", id: "broken", active: true, actor: "nobody" },
      ],
    });
    const { exit, out, said } = await calendars();
    expect([exit, out]).toEqual([2, ""]);
    expect(said.some((line) => line.includes(reference))).toBe(true);
    expect(said.some((line) => line.includes("Schedule.actor"))).toBe(true);
    expect(said.at(-1)).toBe(
      `${folder}: no calendar is written, because visits may be missing; the files that were there stay as they are`,
    );
    expect(files()).toEqual(before);
  });

  it("stay as they were when the token is refused, and when it does not open the clinics' schedules", async () => {
    writeFileSync(join(folder, "clinic-alder-quay-hand-clinic.ics"), "as it was");
    const refused = await clinicCommand("calendars", ["--out", folder, practice.fhirBase], "nobody-gave-this");
    expect([refused.exit, refused.out]).toEqual([2, ""]);
    expect(refused.said.join(" ")).toContain("The token was refused: get a new one and set FINGERPOST_TOKEN.");
    await control(practice, {
      faults: [{ path: "^/fhir/Schedule|/Schedule\\?", kind: "status", status: 403, times: 9 }],
    });
    const part = await calendars();
    await control(practice, { reset: true });
    expect([part.exit, part.out]).toEqual([2, ""]);
    expect(files()).toEqual({ "clinic-alder-quay-hand-clinic.ics": "as it was" });
  });

  it("that cannot be written are told, and a half file never stays", async () => {
    writeFileSync(join(folder, "taken"), "");
    const out = join(folder, "taken");
    const { exit, said } = await clinicCommand("calendars", ["--out", out, practice.fhirBase], token);
    expect([exit, said]).toEqual([2, [`${out}: cannot be written (EEXIST); allowed: a folder you may write to`]]);
    expect(readdirSync(folder)).toEqual(["taken"]);
  });
});

describe("the command for calendars refuses", () => {
  it("what it cannot use, says of each what is allowed, and makes no folder", async () => {
    const words = ["--days", "0", "--titles", "names", "--zone", "Mars/Base", "http://ehr.example/fhir"];
    expect(await clinicCommand("calendars", words, undefined)).toEqual({
      exit: 2,
      out: "",
      said: [
        "options: http://ehr.example/fhir cannot be used; allowed: https://HOST/PATH, or http on this computer, without user or query",
        "options: --out is not set; allowed: a folder you may write to",
        "options: --days 0; allowed: 1 to 366",
        "options: --titles names; allowed: plain, place, purpose",
        "options: --zone Mars/Base; allowed: an IANA name such as Europe/London",
        "environment: FINGERPOST_TOKEN is not set; allowed: an access token of the server",
      ],
    });
    const none = join(folder, "none");
    const { exit } = await clinicCommand("calendars", ["--out", none, "--days", "1e2", practice.fhirBase], token);
    expect([exit, existsSync(none)]).toEqual([2, false]);
  });
});
