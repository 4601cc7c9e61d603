import ICAL from "ical.js";
import { describe, expect, it } from "vitest";
import { calendarOf, titleOf } from "../../src/fhir/calendar.ts";
import { aBooked } from "../app/clinic-visits.ts";

// RFC 5545 3.8.8.2: what begins with X- is text; this reader would leave it as it is written.
ICAL.design.icalendar.property["x-wr-calname"] = { defaultType: "text" };
const STAMP = new Date(Date.UTC(2026, 2, 12, 8, 30));
const made = (visits = [aBooked({})], titles: "plain" | "place" | "purpose" = "plain") =>
  calendarOf(visits, { name: "Hand clinic, Alder Quay", titles, stamp: STAMP });
/** As ical.js, a reader of RFC 5545 written by others, understands it. */
const read = (text: string) => new ICAL.Component(ICAL.parse(text));
const events = (text: string) =>
  read(text)
    .getAllSubcomponents("vevent")
    .map((one) => new ICAL.Event(one));

describe("a calendar file of booked visits, read by another program", () => {
  it("W7 has each visit once, at its instant, whatever the zone of the reader", () => {
    const summer = aBooked({
      entry: { ...aBooked({}).entry, reference: "Appointment/b2" },
      start: "2026-03-30T09:15:00+01:00",
      end: "2026-03-30T09:35:00+01:00",
    });
    const [first, second, ...none] = events(made([aBooked({}), summer]));
    expect(none).toEqual([]);
    expect(first!.startDate.toJSDate()).toEqual(new Date(Date.UTC(2026, 2, 17, 9, 15)));
    expect(second!.startDate.toJSDate()).toEqual(new Date(Date.UTC(2026, 2, 30, 8, 15)));
    expect(second!.endDate.toJSDate()).toEqual(new Date(Date.UTC(2026, 2, 30, 8, 35)));
    expect(new Set([first!.uid, second!.uid]).size).toBe(2);
  });
  it("RFC 5545 3.6, 3.6.1: names version and program, and each event has UID, DTSTAMP and DTSTART", () => {
    const calendar = read(made());
    expect(calendar.getFirstPropertyValue("version")).toBe("2.0");
    expect(calendar.getFirstPropertyValue("prodid")).toContain("Fingerpost");
    expect(calendar.getFirstPropertyValue("method")).toBe("PUBLISH");
    for (const name of ["uid", "dtstamp", "dtstart"])
      expect(calendar.getFirstSubcomponent("vevent")!.getFirstPropertyValue(name), name).toBeTruthy();
  });
  it("RFC 5545 3.1: lines end with CRLF, none is longer than 75 octets, and a folded one is read whole", () => {
    const display = "Hand clinic of the hospital at the old quay; second floor, the door beside the stairs, Ølderkaj";
    const { entry } = aBooked({});
    const there = aBooked({
      entry: {
        ...entry,
        resource: { ...entry.resource, participant: [{ actor: { reference: "Location/hands", display } }] },
      },
    });
    const text = made([there], "place");
    expect(text.replaceAll("\r\n", "")).not.toMatch(/[\r\n]/);
    expect(text.split("\r\n").filter((line) => new TextEncoder().encode(line).length > 75)).toEqual([]);
    expect(events(text)[0]!.location).toBe(display);
    // RFC 5545 3.3.11: semicolon and comma of a text are escaped
    expect(text.replaceAll("\r\n ", "")).toContain("old quay\\; second floor\\, the door");
  });
  it("RFC 5545 3.8.4.7, 3.8.7.4: a moved visit is the same event in a later version", () => {
    const { entry } = aBooked({});
    const [before] = events(made());
    const [after] = events(made([aBooked({ entry: { ...entry, version: "2" }, start: "2026-03-18T09:15:00+00:00" })]));
    expect(after!.uid).toBe(before!.uid);
    expect(after!.sequence).toBeGreaterThan(before!.sequence);
  });
  it("RFC 5545 3.3.11, 3.4: its name is one text, whatever the record system calls the clinic, and the last line ends too", () => {
    const name = "Hand clinic; Alder\\Quay, floor 2\r\nBEGIN:VEVENT";
    const text = calendarOf([aBooked({})], { name, titles: "plain", stamp: STAMP });
    expect(read(text).getFirstPropertyValue("x-wr-calname")).toBe("Hand clinic; Alder\\Quay, floor 2 BEGIN:VEVENT");
    expect(text).toContain("X-WR-CALNAME:Hand clinic\\; Alder\\\\Quay\\, floor 2");
    expect(events(text)).toHaveLength(1);
    expect(text).toMatch(/END:VCALENDAR\r\n$/);
  });
  it("RFC 5545 3.6: holds one component also when nobody is booked, which is no event", () => {
    const components = read(made([])).getAllSubcomponents();
    expect(components.map(({ name }) => name)).toEqual(["vtimezone"]);
    const [utc] = components;
    expect(utc!.getFirstSubcomponent("standard")!.getFirstPropertyValue("tzoffsetto")!.toString()).toBe("+00:00");
  });
  it("R4 id, RFC 5545 3.8.4.7: entries whose ids differ only by case are two events", () => {
    const as = (id: string) => aBooked({ entry: { ...aBooked({}).entry, reference: `Appointment/${id}` } });
    expect(events(made([as("aB3"), as("Ab3")])).map(({ uid }) => uid)).toEqual([
      "appointment-aB3@fingerpost",
      "appointment-Ab3@fingerpost",
    ]);
  });
  it("RFC 7986 5.7: says after how long to read it again only to who subscribed", () => {
    const again = (readAgainAfter?: number) =>
      read(
        calendarOf([], { name: "Hands", titles: "plain", stamp: STAMP, ...(readAgainAfter ? { readAgainAfter } : {}) }),
      ).getFirstPropertyValue("refresh-interval");
    expect(String(again(15))).toBe("PT15M");
    expect(again()).toBeNull();
  });
  it("says no more in its title than the site allows, and never a name or a finger", () => {
    expect(titleOf(aBooked({}), "plain")).toBe("Clinic visit");
    expect(titleOf(aBooked({}), "place")).toBe("Clinic visit, Hand clinic, Alder Quay Hospital");
    expect(titleOf(aBooked({}), "purpose")).toBe("Clinic visit, Hand clinic, Alder Quay Hospital: Clinic review");
    for (const titles of ["plain", "place", "purpose"] as const)
      expect(made([aBooked({})], titles)).not.toMatch(/Ottilie|Farnsworth|ring finger|555/);
  });
});

describe("the reader that these tests rest on", () => {
  it("reads the first example of RFC 5545 section 4 as the RFC means it", () => {
    const text = [
      "BEGIN:VCALENDAR",
      "PRODID:-//xyz Corp//NONSGML PDA Calendar Version 1.0//EN",
      "VERSION:2.0",
      "BEGIN:VEVENT",
      "DTSTAMP:19960704T120000Z",
      "UID:uid1@example.com",
      "ORGANIZER:mailto:jsmith@example.com",
      "DTSTART:19960918T143000Z",
      "DTEND:19960920T220000Z",
      "STATUS:CONFIRMED",
      "CATEGORIES:CONFERENCE",
      "SUMMARY:Networld+Interop Conference",
      "DESCRIPTION:Networld+Interop Conference",
      "  and Exhibit\\nAtlanta World Congress Center\\n",
      " Atlanta\\, Georgia",
      "END:VEVENT",
      "END:VCALENDAR",
    ].join("\r\n");
    const [event] = events(text);
    expect(event!.startDate.toJSDate()).toEqual(new Date(Date.UTC(1996, 8, 18, 14, 30)));
    expect(event!.description).toBe(
      "Networld+Interop Conference and Exhibit\nAtlanta World Congress Center\nAtlanta, Georgia",
    );
  });
});
