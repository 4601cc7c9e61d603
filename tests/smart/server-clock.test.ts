import { formatISO } from "date-fns";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { localTime } from "../../src/app/say-date.ts";
import { ServerClock } from "../../src/smart/server-clock.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { BASE, fhirJson, RecordSystem } from "./record-system.ts";

const HOUR = 3_600_000;
const TRUE_TIME = Date.UTC(2026, 2, 10, 12, 0);
/** The record system's `Date` header (RFC 9110 6.6.1) at a moment. */
const header = (at: number) => new Date(at).toUTCString();
const minutesOff = (clock: ServerClock) => clock.off / 60_000;

/** This computer's clock is off by so much. */
const wrongBy = (ms: number) => vi.setSystemTime(TRUE_TIME + ms);
beforeEach(() => vi.useFakeTimers({ toFake: ["Date"], now: TRUE_TIME }));
afterEach(() => vi.useRealTimers());

describe("REL-09 the clock of the computer", () => {
  it.each([
    ["a day ahead", 24 * HOUR],
    ["a day behind", -24 * HOUR],
    ["six minutes ahead", 6 * 60_000],
  ])("%s: time and day are the record system's", (_how, ms) => {
    wrongBy(ms);
    const clock = new ServerClock();
    clock.hear(header(TRUE_TIME));
    expect(minutesOff(clock)).toBe(-ms / 60_000);
    expect(clock.now().getTime()).toBe(TRUE_TIME);
  });

  it("off by less than five minutes is left alone", () => {
    wrongBy(4 * 60_000);
    const clock = new ServerClock();
    clock.hear(header(TRUE_TIME));
    expect(clock.off).toBe(0);
    expect(clock.now().getTime()).toBe(Date.now());
  });

  it("stays as it is where the server tells no time, or nothing that is one", () => {
    wrongBy(24 * HOUR);
    const clock = new ServerClock();
    clock.hear(null);
    clock.hear("yesterday evening");
    expect(clock.heard).toBe(false);
    expect(clock.off).toBe(0);
  });

  it("an answer out of the cache carries an old date and proves no clock wrong once a fresh one came", () => {
    const clock = new ServerClock();
    clock.hear(header(TRUE_TIME));
    clock.hear(header(TRUE_TIME - 2 * HOUR), true);
    expect(clock.off).toBe(0);
    clock.hear(header(TRUE_TIME - 2 * HOUR));
    expect(minutesOff(clock), "a fresh one does").toBe(-120);
  });

  it("set right in the meantime, it counts again with the next answer", () => {
    wrongBy(24 * HOUR);
    const clock = new ServerClock();
    clock.hear(header(TRUE_TIME));
    wrongBy(0);
    clock.hear(header(TRUE_TIME));
    expect(clock.off).toBe(0);
  });

  it.each([
    ["the night the clocks go forward in Berlin", "Europe/Berlin", Date.UTC(2026, 2, 29, 0, 30), "2026-03-29T01:30"],
    [
      "an hour later, which is two hours on the wall",
      "Europe/Berlin",
      Date.UTC(2026, 2, 29, 1, 30),
      "2026-03-29T03:30",
    ],
    ["the night they go back in New York", "America/New_York", Date.UTC(2026, 10, 1, 6, 30), "2026-11-01T01:30"],
  ])("REL-41 wrong by a day in %s, the time on the wall is still the true one", (_when, zone, at, wall) => {
    const before = process.env.TZ;
    process.env.TZ = zone;
    try {
      for (const ms of [-24 * HOUR, 24 * HOUR]) {
        vi.setSystemTime(at + ms);
        const clock = new ServerClock();
        clock.hear(header(at));
        expect(localTime(clock.now())).toBe(wall);
        expect(formatISO(clock.now(), { representation: "date" })).toBe(wall.slice(0, 10));
      }
    } finally {
      if (before === undefined) delete process.env.TZ;
      else process.env.TZ = before;
    }
  });
});

describe("REL-09 the transport", () => {
  it("hears the date of every answer, refusals included", async () => {
    const server = new RecordSystem();
    server.start();
    try {
      server.fhir = () => fhirJson({}, { status: 403, headers: { date: header(TRUE_TIME - 24 * HOUR) } });
      const clock = new ServerClock();
      const fhir = fhirTransport({
        base: BASE,
        token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
        clock,
      });
      await fhir.read("Patient/p1");
      expect(minutesOff(clock)).toBe(-24 * 60);
    } finally {
      server.stop();
    }
  });
});
