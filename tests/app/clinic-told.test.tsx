// @vitest-environment happy-dom
import { act, cleanup, render, screen } from "@testing-library/react";
import type { Appointment, Communication } from "fhir/r4";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { EarlierPlans } from "../../src/app/parts/earlier-plans.tsx";
import ClinicTold from "../../src/app/tasks/read-plans/clinic-told.tsx";
import { type Chart, chartFrom } from "../../src/fhir/chart.ts";
import { booking, missing, moving } from "../../src/fhir/clinic-act.ts";
import { clinicTold } from "../../src/fhir/clinic-told.ts";
import type { BookedVisit, ListedVisit } from "../../src/fhir/listed-visit.ts";
import { readChart } from "../../src/smart/read-chart.ts";
import type { Session } from "../../src/smart/session.ts";
import { type House, MORNING, openHouse, TODAY } from "./clinic-house.ts";
import { act as actOf, atTheClinic, DAY } from "./clinic-staff.ts";

beforeEach(() => {
  vi.useFakeTimers({ now: MORNING, toFake: ["Date"] });
});
afterEach(() => {
  cleanup();
  vi.useRealTimers();
});

const PATIENT = "ansgar-brackenridge";
const does = async (house: House, visit: ListedVisit | BookedVisit, make: Parameters<typeof actOf>[2]) =>
  expect(await actOf(house, [visit], make)).toMatchObject({ outcome: "done" });
const bookedOutside = async (house: House) => {
  const clinic = await atTheClinic(house, PATIENT);
  const { visit, where } = clinic;
  await does(house, visit, (staff) => booking([visit], where("after"), staff, "Away for work until then"));
  return clinic;
};
/** The chart as the doctor's page reads it. */
async function openChart(house: House, changes: Partial<Session> = {}) {
  const session = {
    ...house.session,
    context: { ...house.session.context, patientId: PATIENT },
    ...changes,
  } as unknown as Session;
  const parts = await readChart(session, () => undefined, { today: TODAY });
  return { session, chart: chartFrom(parts, { patientId: PATIENT, today: TODAY, zone: DAY.zone }) as Chart };
}
/** What the page says once every answer is there, and what it asked for. */
async function told(house: House, changes: Partial<Session> = {}) {
  const { session, chart } = await openChart(house, changes);
  const answers: Promise<unknown>[] = [];
  const search: Session["fhir"]["search"] = (...asked) => {
    const answer = session.fhir.search(...asked);
    answers.push(answer);
    return answer;
  };
  const before = house.asked.length;
  await act(async () => {
    render(<ClinicTold plans={chart.earlierPlans} session={{ ...session, fhir: { ...session.fhir, search } }} />);
  });
  await act(async () => void (await Promise.all(answers)));
  const text = screen.queryByRole("region", { name: "What the clinic tells you" })?.textContent ?? undefined;
  return { text, asked: house.asked.slice(before) };
}

describe("W3 the doctor who opens the chart is told of a visit outside the days of the plan", () => {
  it("which one and for when, the days of the plan, why, by whom and when", async () => {
    const house = openHouse();
    const { visit } = await bookedOutside(house);
    const { text } = await told(house);
    expect(text).toContain(`${visit.words}, ${visit.who}: booked for `);
    expect(text).toMatch(/outside the days of the plan \(\w{3},? \d+ \w+ 2026 to \w{3},? \d+ \w+ 2026\)/);
    expect(text).toContain("Why: Away for work until then");
    expect(text).toMatch(/Told by Tobias Quillfeather, Tue,? 10 March 2026, 07:30\.$/);
  });

  it("and on the first page as well, with the way to the saved plan", async () => {
    const house = openHouse();
    await bookedOutside(house);
    const { chart } = await openChart(house);
    render(<EarlierPlans chart={chart} continued={undefined} onSee={() => undefined} />);
    expect(await screen.findByText("Away for work until then")).toBeTruthy();
  });

  it("until it is moved back inside: then nothing is said any more", async () => {
    const house = openHouse();
    const { where, booked } = await bookedOutside(house);
    const now = await booked();
    await does(house, now, (staff) => moving(now, [], where("within"), staff));
    expect(house.all("Communication")).toHaveLength(1);
    expect((await told(house)).text).toBeUndefined();
  });

  it("of one that was missed and booked again, by the new entry and not by the missed one", async () => {
    const house = openHouse();
    const { visit, where, listed } = await atTheClinic(house, PATIENT);
    house.enter({
      ...visit.entry.resource,
      status: "noshow",
      start: "2026-03-09T09:00:00Z",
      end: "2026-03-09T09:15:00Z",
    });
    const missed = await listed();
    expect(missed.state).toBe("missed");
    await does(house, missed, (staff) => booking([missed], where("after"), staff, "No time before"));
    const again = house
      .all<Appointment>("Appointment")
      .find((a) => JSON.stringify(a.identifier).includes(`${visit.key}-again-2"`))!;
    expect(house.all<Communication>("Communication")[0]!.about).toEqual([{ reference: `Appointment/${again.id}` }]);
    expect((await told(house)).text).toContain("Why: No time before");
  });

  it("where the messages may not be read, or cannot be: the reason still stands, and it is said what is missing", async () => {
    const house = openHouse();
    await bookedOutside(house);
    const why = "Why: Away for work until then";
    const unread = "Who booked it, and when, could not be read.";
    const closed = await told(house, { can: (type: string) => type !== "Communication" });
    expect([closed.text?.includes(why), closed.text?.includes(unread), closed.asked]).toEqual([true, true, []]);
    cleanup();
    house.fail = (line) => (line.startsWith("GET Communication") ? 500 : undefined);
    const failed = await told(house);
    expect([failed.text?.includes(why), failed.text?.includes(unread)]).toEqual([true, true]);
    cleanup();
    house.fail = () => undefined;
    house.store.remove("Communication", house.all<Communication>("Communication")[0]!.id!);
    expect((await told(house)).text).toContain("The record holds no message about it.");
  });

  it("a chart without such a visit is told nothing, and costs no further request", async () => {
    const house = openHouse();
    expect(await told(house)).toEqual({ text: undefined, asked: [] });
  });
});

describe("W4 the doctor is told of a missed visit", () => {
  it("once its days are over, until it is arranged anew", async () => {
    const house = openHouse();
    const { visit, where, booked, listed } = await atTheClinic(house, PATIENT);
    await does(house, visit, (staff) => booking([visit], where("within"), staff));
    const now = await booked();
    vi.setSystemTime(new Date(`${visit.days.latest}T20:00:00`));
    await does(house, now, (staff) => missing(now, staff, "2026-12-01"));
    expect((await told(house)).text).toMatch(
      /: the patient did not come, \w{3}.* 2026, 09:\d\d, and the days of the plan are over\./,
    );
    cleanup();
    const again = await listed();
    await does(house, again, (staff) => booking([again], where("after"), staff, "Missed the first one"));
    const { text } = await told(house);
    expect(text).not.toContain("did not come");
    expect(text).toContain("Missed the first one");
  });

  it("is not told of one that was missed while there is still time", async () => {
    const house = openHouse();
    const { visit, where, booked } = await atTheClinic(house, PATIENT);
    await does(house, visit, (staff) => booking([visit], where("within"), staff));
    const now = await booked();
    await does(house, now, (staff) => missing(now, staff, visit.days.latest!));
    expect((await told(house)).text).toBeUndefined();
  });
});

describe("messages of others", () => {
  it("about the same visit are not taken for the clinic's, and of two of ours the newest counts, however the server writes the reference", async () => {
    const house = openHouse();
    await bookedOutside(house);
    const { chart } = await openChart(house);
    const [own] = house.all<Communication>("Communication");
    const about = own!.about![0]!.reference!;
    const later = {
      ...own!,
      id: "later",
      sent: "2026-03-11T08:00:00Z",
      about: [{ reference: `https://ehr.example/fhir/${about}/_history/3` }],
      sender: { reference: "Practitioner/8" },
    };
    const others = [
      { ...own!, identifier: undefined, sent: "2026-03-12T08:00:00Z", sender: { display: "Somebody" } },
      { ...own!, status: "entered-in-error", sent: "2026-03-12T08:00:00Z", sender: { display: "Somebody" } },
      { ...own!, about: [{ reference: `${about}0` }], sent: "2026-03-12T08:00:00Z", sender: { display: "Somebody" } },
      { resourceType: "Communication", about: "nothing that can be read" },
    ];
    expect(clinicTold(chart.earlierPlans, [...others, own, later])).toMatchObject([
      { by: "Practitioner/8", on: "2026-03-11T08:00:00Z", because: "Away for work until then" },
    ]);
  });
});
