import { describe, expect, it } from "vitest";
import { fillDates } from "../../launch/ehr/seed.ts";

const NOW = new Date(2026, 10, 25, 14, 30);
describe("date placeholders of the charts", () => {
  it.each([
    ["{{today}}", /^2026-11-25$/],
    ["{{today-1}}", /^2026-11-24$/],
    ["{{today-7y}}", /^2019-11-25$/],
    ["{{today-3m}}", /^2026-08-25$/],
    ["{{today-34y-138}}", /^1992-07-10$/],
    ["{{now}}", /^2026-11-25T14:30:00(Z|[+-]\d\d:\d\d)$/],
    ["{{now-90min}}", /^2026-11-25T13:00:00(Z|[+-]\d\d:\d\d)$/],
    ["{{today-6T04:20}}", /^2026-11-19T04:20:00(Z|[+-]\d\d:\d\d)$/],
  ])("%s", (text, pattern) => expect(fillDates(text, NOW)).toMatch(pattern));
  it("a placeholder that is not known stops the start with its name", () => {
    expect(() => fillDates("{{tomorrow}}", NOW)).toThrow("{{tomorrow}}");
  });
});
