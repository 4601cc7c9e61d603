import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { sayDay, sayShortDay } from "../../src/app/say-date.ts";

beforeEach(() => void vi.stubEnv("TZ", "Europe/Berlin"));
afterEach(() => void vi.unstubAllEnvs());

describe("a date in the chart", () => {
  it("that is a calendar day is shown as that day", () => {
    expect(sayShortDay("2026-03-09")).toBe("9 Mar 2026");
    expect(sayDay("2026-03-09T08:05")).toMatch(/^Mon,? 9 March 2026, 08:05$/);
  });
  it("that a server keeps in world time is shown in the clinic's own time, with its day", () => {
    expect(sayShortDay("2026-03-09T23:30:00Z")).toBe("10 Mar 2026, 00:30");
    expect(sayShortDay("2026-03-09T10:00:00+01:00")).toBe("9 Mar 2026, 10:00");
  });
  it("SAF-19 that no calendar has stays as it stands, and becomes no other day", () => {
    for (const date of ["2026-02-30", "2025-02-29", "2026-04-31"]) expect(sayDay(date)).toBe(date);
    expect(sayDay("2026-13-45")).toBe("2026-13-45");
  });
  it("of which only the year or the month is known stays as it stands", () => {
    expect([sayDay("1988"), sayDay("1988-03")]).toEqual(["1988", "1988-03"]);
  });
});
