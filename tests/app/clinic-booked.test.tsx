// @vitest-environment happy-dom
import { cleanup, fireEvent, screen, waitFor, within } from "@testing-library/react";
import type { Appointment, Communication, Slot } from "fhir/r4";
import { describe, expect, it, vi } from "vitest";
import { readBooked } from "../../src/smart/clinic-list.ts";
import { type House, openHouse, TODAY } from "./clinic-house.ts";
import { button, onTheMorning, openDesk, outsideForAReason } from "./clinic-screen.tsx";
import { DAY, given } from "./clinic-staff.ts";

onTheMorning();

const lines = () => [...document.querySelectorAll<HTMLElement>(".booked > li")];
const lineOf = (text: string) => lines().find((li) => li.textContent?.includes(text))!;
/** The first visit that is booked in the days shown and still lies ahead, its line, and what it is stored as. */
async function firstBooked(house: House) {
  const { visits } = given(await readBooked(house.session, DAY, TODAY, "2026-03-16"));
  const visit = visits.find((v) => v.status === "booked" && !v.recheck && v.slots.length > 0)!;
  const line = lines().find(
    (li) => li.textContent?.includes(visit.patient.name) && li.textContent.includes(visit.at.slice(11)),
  )!;
  return { visit, line: within(line), stored: () => house.one<Appointment>(visit.entry.reference) };
}

/** The time of the same schedule that begins when this one ends. */
const nextTo = (house: House, reference: string | undefined): Slot | undefined => {
  const own = reference ? house.one<Slot>(reference) : undefined;
  return house
    .all<Slot>("Slot")
    .find((s) => own && s.schedule.reference === own.schedule.reference && Date.parse(s.start) === Date.parse(own.end));
};

describe("booked visits", () => {
  it("stand by day and time, are narrowed to a clinic, and other days are read when asked for", async () => {
    const { user, house } = await openDesk("booked");
    const all = lines().length;
    expect(all).toBeGreaterThan(0);
    expect(document.querySelectorAll("section.day h2").length).toBeGreaterThan(0);
    const clinic = screen.getByLabelText<HTMLSelectElement>("Clinic");
    const counted = [];
    for (const option of [...clinic.options].slice(1)) {
      await user.selectOptions(clinic, option.value);
      counted.push(lines().length);
    }
    expect(counted.reduce((sum, n) => sum + n, 0)).toBe(all);
    await user.selectOptions(clinic, "");
    fireEvent.change(screen.getByLabelText("From"), { target: { value: "2031-01-01" } });
    fireEvent.change(screen.getByLabelText("To"), { target: { value: "2031-01-02" } });
    await user.click(button("Show"));
    expect(await screen.findByText("No visit is booked in these days.")).toBeTruthy();
    expect(house.asked.at(-1)).toContain("date=ge2031-01-01");
    expect(button("Print the day list").disabled).toBe(true);
  });

  it("are printed as the day list of the clinic that they are narrowed to, without anything that can be pressed", async () => {
    const printed: string[] = [];
    vi.stubGlobal("print", () => printed.push(document.querySelector(".print-only")!.textContent!));
    const { user } = await openDesk("booked");
    await user.click(button("Print the day list"));
    const clinic = screen.getByLabelText<HTMLSelectElement>("Clinic");
    const all = lines().length;
    const one = [...clinic.options].slice(1).find(({ value }) => {
      fireEvent.change(clinic, { target: { value } });
      return lines().length > 0;
    });
    expect(lines().length).toBeLessThan(all);
    await user.click(button("Print the day list"));
    expect(printed).toHaveLength(2);
    expect(printed[1]).toContain(one!.text);
    expect(printed[0]).not.toContain(one!.text);
    const pressed = [...document.querySelectorAll("button, select, input, nav")];
    expect(pressed.filter((element) => element.closest(".no-print") === null)).toEqual([]);
    vi.unstubAllGlobals();
  });

  it("REL-46 that cannot be read say so, and are read again by one press", async () => {
    const house = openHouse();
    house.fail = (line) => (line.startsWith("GET Appointment") ? 500 : undefined);
    const { user } = await openDesk("booked", house);
    expect(await screen.findByRole("alert")).toBeTruthy();
    house.fail = () => undefined;
    await user.click(button("Read the list again"));
    await waitFor(() => expect(lines().length).toBeGreaterThan(0));
  });

  it("W4 one is moved to another time inside its days: the old time is free, the new one is taken", async () => {
    const { user, house } = await openDesk("booked");
    const { visit, line, stored } = await firstBooked(house);
    await user.click(line.getByRole("button", { name: /^Move/ }));
    const choice = (await line.findAllByRole("radio"))[0]!;
    await user.click(line.getAllByRole("button", { name: "Move" }).at(-1)!);
    expect(line.getByText("Choose a time first.")).toBeTruthy();
    await user.click(choice);
    await user.click(line.getAllByRole("button", { name: "Move" }).at(-1)!);
    expect(await screen.findByText(/ is moved to /)).toBeTruthy();
    expect(stored().start).not.toBe(visit.start);
    expect(house.one<Slot>(visit.slots[0]!).status).toBe("free");
    expect(house.one<Slot>(stored().slot![0]!.reference!).status).toBe("busy");
  });

  it("W3 moved outside its days it needs a reason, and the doctor is told", async () => {
    const { user, house } = await openDesk("booked");
    const { line, stored } = await firstBooked(house);
    await user.click(line.getByRole("button", { name: /^Move/ }));
    const doMove = () => line.getAllByRole("button", { name: "Move" }).at(-1)!;
    const { start } = stored();
    await outsideForAReason(user, line, doMove, "No way to come earlier", () => expect(stored().start).toBe(start));
    expect(JSON.stringify(stored().extension)).toContain("No way to come earlier");
    expect(house.all<Communication>("Communication")).toHaveLength(1);
  });

  it("W4 one that took two times in a row is moved to two others, and both of its own are free again", async () => {
    const house = openHouse();
    const { visits } = given(await readBooked(house.session, DAY, TODAY, "2026-03-16"));
    const visit = visits.find((v) => {
      const next = v.status === "booked" && !v.recheck && nextTo(house, v.slots[0]);
      return next && next.status === "free";
    })!;
    const second = nextTo(house, visit.slots[0])!;
    house.enter({ ...second, status: "busy" });
    const minutes = (Date.parse(second.end) - Date.parse(visit.start)) / 60_000;
    const slot = [...visit.slots, `Slot/${second.id}`].map((reference) => ({ reference }));
    house.enter({ ...visit.entry.resource, end: second.end, minutesDuration: minutes, slot });
    const { user } = await openDesk("booked", house);
    const line = within(
      lines().find(
        (li) => li.textContent?.includes(visit.patient.name) && li.textContent.includes(visit.at.slice(11)),
      )!,
    );
    await user.click(line.getByRole("button", { name: /^Move/ }));
    const [choice] = await line.findAllByRole("radio");
    expect(choice!.closest("label")!.textContent).toContain(`, ${minutes} minutes, `);
    await user.click(choice!);
    await user.click(line.getAllByRole("button", { name: "Move" }).at(-1)!);
    expect(await screen.findByText(/ is moved to /)).toBeTruthy();
    const states = (references: readonly string[]) => references.map((reference) => house.one<Slot>(reference).status);
    const stored = house.one<Appointment>(visit.entry.reference);
    const taken = stored.slot!.map(({ reference }) => reference!);
    expect(states(taken)).toEqual(["busy", "busy"]);
    expect(states(slot.map(({ reference }) => reference).filter((one) => !taken.includes(one)))).toEqual([
      "free",
      "free",
    ]);
  });

  it("W4 one is called off by the clinic with a reason: its time is free, and it is asked for again", async () => {
    const { user, house } = await openDesk("booked");
    const { visit, line, stored } = await firstBooked(house);
    await user.click(line.getByRole("button", { name: /^Call off/ }));
    await user.click(line.getByRole("button", { name: "Call this visit off" }));
    expect(line.getByText("Say why it is called off.")).toBeTruthy();
    expect(stored().status).toBe("booked");
    await user.click(line.getByRole("radio", { name: "The clinic" }));
    await user.type(line.getByLabelText("Why is it called off?"), "The surgeon is ill");
    await user.click(line.getByRole("button", { name: "Call this visit off" }));
    expect(await screen.findByText(/is called off and is on the list again/)).toBeTruthy();
    expect(stored().cancelationReason).toMatchObject({ coding: [{ code: "prov" }], text: "The surgeon is ill" });
    expect(house.one<Slot>(visit.slots[0]!).status).toBe("free");
    const again = house.all<Appointment>("Appointment").filter((a) => JSON.stringify(a).includes(`${visit.key}-again`));
    expect(again.map((a) => a.status)).toContain("proposed");
  });

  it("is left as it is when somebody thinks better of it", async () => {
    const { user, house } = await openDesk("booked");
    const { line, stored } = await firstBooked(house);
    const before = JSON.stringify(stored());
    for (const act of [/^Call off/, /^Move/]) {
      await user.click(line.getByRole("button", { name: act }));
      await user.click(await line.findByRole("button", { name: "Leave it as it is" }));
      expect(line.queryByRole("button", { name: "Leave it as it is" })).toBeNull();
    }
    expect(JSON.stringify(stored())).toBe(before);
  });

  it("W2 a visit that somebody else changed meanwhile is told and not written over", async () => {
    const { user, house } = await openDesk("booked");
    const { line, stored } = await firstBooked(house);
    await user.click(line.getByRole("button", { name: /^Call off/ }));
    await user.type(line.getByLabelText("Why is it called off?"), "Has a cold");
    house.enter({ ...stored(), comment: "Comes with an interpreter" });
    await user.click(line.getByRole("button", { name: "Call this visit off" }));
    expect(await screen.findByText("This visit was changed a moment ago.")).toBeTruthy();
    expect(stored()).toMatchObject({ status: "booked", comment: "Comes with an interpreter" });
  });

  it("W7 go into a calendar file whose name tells nothing of a patient", async () => {
    const files: { name: string; blob: Blob }[] = [];
    let last: Blob | undefined;
    vi.spyOn(URL, "createObjectURL").mockImplementation((blob) => {
      last = blob as Blob;
      return "blob:x";
    });
    vi.spyOn(URL, "revokeObjectURL").mockImplementation(() => undefined);
    vi.spyOn(HTMLAnchorElement.prototype, "click").mockImplementation(function (this: HTMLAnchorElement) {
      files.push({ name: this.download, blob: last! });
    });
    const { user, house } = await openDesk("booked");
    await user.click(button("Calendar file of all of them"));
    await waitFor(() => expect(files).toHaveLength(1));
    const { line } = await firstBooked(house);
    await user.click(line.getByRole("button", { name: /^Calendar file/ }));
    await waitFor(() => expect(files).toHaveLength(2));
    expect(files.map(({ name }) => name)).toEqual(["visits.ics", "visits.ics"]);
    const events = async (blob: Blob) => (await blob.text()).match(/BEGIN:VEVENT/g)!.length;
    expect(await events(files[0]!.blob)).toBe(lines().length);
    expect(await events(files[1]!.blob)).toBe(1);
  });
});

describe("nothing lost", () => {
  it("W6 shows what is due, what was missed, and what is booked for a plan or a patient that changed", async () => {
    await openDesk("again");
    const count = (heading: RegExp) =>
      Number(screen.getByRole("heading", { name: heading }).querySelector(".count")!.textContent);
    expect(count(/^Booked, and to be decided about/)).toBe(lines().length);
    expect(lineOf("Gunnar Silverthorn").textContent).toContain("was changed or withdrawn. Cancel this visit?");
    expect(lineOf("Josephine Wyverley").textContent).toContain("Cancel this visit?");
    expect(within(lineOf("Josephine Wyverley")).queryByRole("button", { name: /^Move/ })).toBeNull();
    expect(count(/^Did not take place/)).toBeGreaterThanOrEqual(4);
    expect(count(/^Due, and no time is arranged/)).toBeGreaterThan(5);
  });

  it("W6 a visit of a patient who died is called off for good by default, and leaves the page", async () => {
    const { user, house } = await openDesk("again");
    const line = within(lineOf("Josephine Wyverley"));
    await user.click(line.getByRole("button", { name: /^Call off/ }));
    expect(line.getByRole<HTMLInputElement>("checkbox").checked).toBe(false);
    await user.type(line.getByLabelText("Why is it called off?"), "Died");
    await user.click(line.getByRole("button", { name: "Call this visit off" }));
    expect(await screen.findByText(/is called off. Nobody has to arrange it again/)).toBeTruthy();
    const own = house
      .all<Appointment>("Appointment")
      .filter((a) => JSON.stringify(a.participant).includes("Patient/josephine-wyverley"));
    expect(own.some((a) => a.status === "booked")).toBe(false);
    expect(own.some((a) => JSON.stringify(a.identifier).includes("-again-"))).toBe(false);
  });

  it("W4 a booked visit whose day has gone by is asked about: noted as missed, it is on the list again", async () => {
    const house = openHouse();
    const visit = house
      .all<Appointment>("Appointment")
      .find((a) => a.status === "booked" && JSON.stringify(a.participant).includes("ulrich-penhallow"))!;
    house.enter({ ...visit, start: "2026-03-09T09:00:00Z", end: "2026-03-09T09:15:00Z" });
    const { user } = await openDesk("again", house);
    const line = within(lineOf("did the patient come?"));
    await user.click(line.getByRole("button", { name: /^Did not come/ }));
    await user.click(line.getByRole("button", { name: "Note that the patient did not come" }));
    expect(await screen.findByText(/noted that the patient did not come/)).toBeTruthy();
    expect(house.one<Appointment>(`Appointment/${visit.id}`).status).toBe("noshow");
  });

  it("W4 a patient who came is noted by one press, and the visit is neither asked about nor asked for again", async () => {
    const house = openHouse();
    const visit = house
      .all<Appointment>("Appointment")
      .find((a) => a.status === "booked" && JSON.stringify(a.participant).includes("ulrich-penhallow"))!;
    house.enter({ ...visit, start: "2026-03-10T06:30:00Z", end: "2026-03-10T06:45:00Z" });
    vi.setSystemTime(new Date(2026, 2, 11, 7, 30));
    const { user } = await openDesk("again", house);
    await user.click(within(lineOf("Ulrich Penhallow")).getByRole("button", { name: /^Came/ }));
    await waitFor(() => expect(house.one<Appointment>(`Appointment/${visit.id}`).status).toBe("fulfilled"));
    await waitFor(() => expect(lineOf("Ulrich Penhallow")).toBeUndefined());
    expect(
      house
        .all<Appointment>("Appointment")
        .some((a) => JSON.stringify(a.identifier).includes(`${visit.identifier![0]!.value}-again`)),
    ).toBe(false);
  });

  it("W6 a booked visit whose days were changed by the doctor is asked about, not moved", async () => {
    const house = openHouse();
    const visit = house
      .all<Appointment>("Appointment")
      .find((a) => a.status === "booked" && JSON.stringify(a.participant).includes("ulrich-penhallow"))!;
    house.enter({ ...visit, requestedPeriod: [{ start: "2026-05-01", end: "2026-05-08" }] });
    await openDesk("again", house);
    expect(lineOf("Ulrich Penhallow").textContent).toContain(
      "It lies outside the days of the plan. Keep it, or move it?",
    );
    expect(house.one<Appointment>(`Appointment/${visit.id}`).start).toBe(visit.start);
  });

  it("W4 a missed visit is arranged anew on the same page, and the page says how its days are counted", async () => {
    const { user } = await openDesk("again");
    const missed = screen.getByRole("heading", { name: /^Did not take place/ }).closest("section")!;
    const item = within(
      within(missed)
        .getAllByRole("listitem")
        .find((li) => li.textContent?.includes("Aurelio"))!,
    );
    await user.click(item.getByRole("button", { name: /^Arrange the visits of Aurelio/ }));
    expect(await screen.findByRole("region", { name: /^Times for Aurelio/ })).toBeTruthy();
    await waitFor(() => expect(screen.queryByText("Free times are being read.")).toBeNull());
    await user.click(item.getAllByRole("button", { name: /^Close/ })[0]!);
    expect(screen.queryByRole("region", { name: /^Times for Aurelio/ })).toBeNull();
  });

  it("says so when there is nothing, and when it could not be read", async () => {
    const house = openHouse({ empty: true });
    const { user } = await openDesk("again", house);
    expect(screen.getByText(/^Nothing: no visit is due without a time/)).toBeTruthy();
    cleanup();
    house.fail = (line) => (line.startsWith("GET ServiceRequest") ? 500 : undefined);
    await openDesk("again", house);
    expect(await screen.findByRole("alert")).toBeTruthy();
    expect(screen.queryByText(/^Nothing: no visit is due/)).toBeNull();
    house.fail = () => undefined;
    await user.click(button("Read the list again"));
    expect(await screen.findByText(/^Nothing: no visit is due without a time/)).toBeTruthy();
  });
});

describe("times for everyone shown", () => {
  async function propose() {
    const opened = await openDesk("arrange");
    await opened.user.click(button("Propose times for everyone shown"));
    const region = within(screen.getByRole("region", { name: "Proposal for everyone shown" }));
    await region.findByText(/no proposal can have fewer than/);
    const boxes = () => region.queryAllByRole<HTMLInputElement>("checkbox").filter((box) => !box.disabled);
    return { ...opened, region, boxes };
  }
  const booked = (house: House) => house.all<Appointment>("Appointment").filter(({ status }) => status === "booked");

  it("W2 nothing is booked before somebody ticks and presses; then what is ticked, and no more", async () => {
    const { user, house, region, boxes } = await propose();
    const before = booked(house).length;
    expect(button(/^Book the 0 ticked visits/).disabled).toBe(true);
    await user.click(button("Tick all"));
    expect(boxes().every((box) => box.checked)).toBe(true);
    await user.click(button("Tick none"));
    expect(boxes().some((box) => box.checked)).toBe(false);
    await user.click(boxes()[0]!);
    await user.click(boxes()[0]!);
    await user.click(boxes()[0]!);
    await user.click(button("Book the 1 ticked visit"));
    expect(await region.findByText("1 visit booked.")).toBeTruthy();
    expect(booked(house).length).toBeGreaterThan(before);
    await user.click(button("Close the proposal"));
    await waitFor(() => expect(screen.queryByRole("region", { name: "Proposal for everyone shown" })).toBeNull());
  });

  it("W2 one whose time was taken meanwhile is told, and the next best time is offered and taken by one press", async () => {
    const { user, house, region, boxes } = await propose();
    const label = boxes()[0]!.getAttribute("aria-label")!;
    house.fail = (line) => (line.startsWith("POST ") && line === "POST " ? 412 : undefined);
    await user.click(boxes()[0]!);
    await user.click(button("Book the 1 ticked visit"));
    expect(await region.findByText("0 visits booked, 1 visit not: see the lines below.")).toBeTruthy();
    expect(region.getByText("This time was taken a moment ago.")).toBeTruthy();
    house.fail = () => undefined;
    const before = booked(house).length;
    const next = region.queryByRole("button", { name: /^Take .* instead/ });
    expect(next, label).not.toBeNull();
    await user.click(next!);
    await region.findByText(/ is booked: /);
    expect(booked(house).length).toBeGreaterThan(before);
  });

  it("REL-46 says what could not be read, and proposes once it can be", async () => {
    const house = openHouse();
    const { user } = await openDesk("arrange", house);
    house.fail = (line) => (line.startsWith("GET Slot") ? 500 : undefined);
    await user.click(button("Propose times for everyone shown"));
    expect(await screen.findByRole("alert")).toBeTruthy();
    house.fail = () => undefined;
    await user.click(button("Read the list again"));
    expect(await screen.findByText(/no proposal can have fewer than/)).toBeTruthy();
  });
});
