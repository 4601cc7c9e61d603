// @vitest-environment happy-dom
import { act, fireEvent, screen, waitFor, within } from "@testing-library/react";
import type { Appointment, Communication, Patient, ServiceRequest, Slot } from "fhir/r4";
import { describe, expect, it } from "vitest";
import { type House, openHouse } from "./clinic-house.ts";
import { button, onTheMorning, openDesk, outsideForAReason } from "./clinic-screen.tsx";

onTheMorning();

const open = (house?: House, view = "arrange") => openDesk(view, house);
/** Somebody comes back to the page: it looks at the server at once. */
const comeBack = () => act(async () => void document.dispatchEvent(new Event("visibilitychange")));
const names = () => [...document.querySelectorAll(".worklist .whose b")].map((b) => b.textContent);
const ANSGAR = /^Arrange the visits of Ansgar Brackenridge ?, Splint review/;
const reviewOfAnsgar = (house: House) =>
  house
    .all<Appointment>("Appointment")
    .filter(
      (a) =>
        a.status === "proposed" &&
        a.serviceType?.[0]?.text?.startsWith("Splint review") &&
        JSON.stringify(a.participant).includes("Patient/ansgar-brackenridge"),
    )
    .sort((a, b) => a.requestedPeriod![0]!.start!.localeCompare(b.requestedPeriod![0]!.start!))[0]!;
async function openAnsgar() {
  const opened = await open();
  await opened.user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
  const times = within((await screen.findAllByRole("group", { name: /^Choose a time: Splint review/ }))[0]!);
  return { ...opened, times };
}

describe("the list of visits to arrange", () => {
  it("W1 begins with the most overdue, says how much there is to do by week, and goes on by pages to the last visit", async () => {
    const { user, house } = await open();
    const left = () => [...document.querySelectorAll(".worklist .left")].map((p) => p.textContent?.trim());
    expect(left()[0]).toMatch(/^!! Overdue by \d+ days/);
    const overdue = screen.getByText("Overdue").nextElementSibling!.textContent;
    expect(Number(overdue)).toBeGreaterThan(5);
    const first = names().length;
    expect(screen.getByText(/visits shown, out of \d+ orders; more can be read below/)).toBeTruthy();
    expect(screen.getByText(/Every visit with a last day before .* is among them/)).toBeTruthy();
    const pagesAsked = () =>
      house.asked.filter((line) => line.startsWith("GET ServiceRequest") && !line.includes("_summary")).length;
    while (screen.queryByRole("button", { name: "Show more visits" })) {
      const [before, asked] = [names().length, pagesAsked()];
      await user.click(button("Show more visits"));
      await waitFor(() => expect(names().length).toBeGreaterThan(before));
      expect(pagesAsked(), "what is shown is not read again").toBe(asked + 1);
    }
    expect(names().length).toBeGreaterThan(first);
    expect(screen.getByText(`${names().length} visits, all there are.`)).toBeTruthy();
  });

  it("W1 is narrowed by clinic, person, doctor, purpose and days where the record system searches, and widened again by one press", async () => {
    const { user, house } = await open();
    const all = names().length;
    const asked = () =>
      house.asked.filter((line) => line.startsWith("GET ServiceRequest") && !line.includes("_summary")).at(-1)!;
    await user.selectOptions(screen.getByLabelText("Clinic"), "Hand therapy, Alder Quay");
    await user.click(button("Show"));
    await waitFor(() => expect(asked()).toContain("performer-type:text=hand+therapist"));
    await waitFor(() => expect(names().length).toBeLessThan(all));
    expect(document.querySelectorAll(".worklist > li").length).toBe(names().length);
    await user.click(button("Clear filters"));
    await waitFor(() => expect(names().length).toBe(all));
    await user.selectOptions(screen.getByLabelText("Who sees the patient"), "hand surgeon");
    await user.selectOptions(screen.getByLabelText("Doctor who asked"), "Dr Imke Harrowgate");
    await user.selectOptions(screen.getByLabelText("Purpose"), "Check film");
    fireEvent.change(screen.getByLabelText("Days from"), { target: { value: "2031-01-01" } });
    fireEvent.change(screen.getByLabelText("Days to"), { target: { value: "2031-02-01" } });
    await user.click(button("Show"));
    expect(await screen.findByText("No visit matches these filters.")).toBeTruthy();
    expect(asked()).toMatch(
      /requester=Practitioner\/imke-harrowgate.*occurrence=ge2031-01-01.*occurrence=le2031-02-01/,
    );
  });

  it("W1 is narrowed to a named clinician: what they see, and times at their sessions only", async () => {
    const { user, house } = await open();
    await user.selectOptions(screen.getByLabelText("Named clinician"), "Ilse Thackerby");
    await user.click(button("Show"));
    await waitFor(() => expect(document.querySelectorAll(".worklist > li").length).toBeGreaterThan(0));
    await waitFor(() => expect(house.asked.at(-1)).toContain("performer-type:text=hand+therapist"));
    await user.click((await screen.findAllByRole("button", { name: ANSGAR }))[0]!);
    await screen.findAllByRole("group", { name: /^Choose a time/ });
    const slots = house.asked.filter((line) => line.startsWith("GET Slot")).at(-1)!;
    expect(slots).toContain("schedule=Schedule/brindle-lane-hand-therapy&");
  });

  it("W4 tells of a patient whose address changed after the visit was ordered, and not of one who moved long before", async () => {
    const house = openHouse();
    const move = (id: string, start: string) =>
      house.enter({ ...house.one<Patient>(`Patient/${id}`), address: [{ city: "Farrow Head", period: { start } }] });
    move("osric-pellingham", "2026-03-09");
    move("petronella-drayhurst", "2019-03-09");
    await open(house);
    const told = [...document.querySelectorAll(".worklist li")].filter((li) =>
      li.textContent!.includes("New address since"),
    );
    expect(new Set(told.map((li) => li.querySelector(".whose b")!.textContent))).toEqual(
      new Set(["Klemens Otterbourne", "Osric Pellingham"]),
    );
  });

  it("without any visit says so, and when one will appear", async () => {
    await open(openHouse({ empty: true }));
    expect(screen.getByText(/^No visit is to be arranged. A visit appears here once a doctor has signed/)).toBeTruthy();
  });

  it("REL-46 that cannot be read says what happened, and is read by one press when the record system is back", async () => {
    const house = openHouse();
    house.fail = (line) => (line.startsWith("GET ServiceRequest") ? 500 : undefined);
    const { user } = await open(house);
    expect((await screen.findByRole("alert")).textContent).toBeTruthy();
    expect(names()).toEqual([]);
    house.fail = () => undefined;
    await user.click(button("Read the list again"));
    await waitFor(() => expect(names().length).toBeGreaterThan(10));
    expect(screen.queryByRole("alert")).toBeNull();
  });

  it("W1 is brought up to date when somebody else arranged or ended something, and says so once", async () => {
    const { house } = await open();
    const gone = house.all<Appointment>("Appointment").find((a) => a.status === "proposed" && a.requestedPeriod)!;
    const whose = gone.participant[0]!.actor!.display!;
    const linesOf = (name: string) => names().filter((one) => one === name);
    const before = linesOf(whose).length;
    expect(before).toBeGreaterThan(0);
    house.enter({ ...gone, status: "booked", start: "2026-03-12T09:00:00Z", end: "2026-03-12T09:15:00Z" });
    await comeBack();
    expect(await screen.findByText(/^The list was brought up to date: 1 visit no longer to arrange/)).toBeTruthy();
    expect(linesOf(whose).length).toBe(before - 1);
  });

  it("tells what is not granted, and that times of the clinics could not be read, and lists the visits all the same", async () => {
    const house = openHouse({ session: { granted: ["user/*.rs"] } });
    house.fail = (line) => (line.startsWith("GET Schedule") ? 403 : undefined);
    await open(house);
    expect(screen.getByText("Visits cannot be booked, moved or cancelled here.")).toBeTruthy();
    expect(screen.getByText("A doctor cannot be told here of a visit outside their days: phone them.")).toBeTruthy();
    expect(document.querySelector("p.notice")?.textContent).toBeTruthy();
    expect(names().length).toBeGreaterThan(10);
  });

  it("stops when the sign-in has ended, and shows no patient any more", async () => {
    const problem = {
      kind: "ended",
      title: "Your sign-in has ended.",
      what: "Nothing is lost.",
      next: "Open it again.",
    };
    const house = openHouse({ session: { state: () => ({ kind: "ended", problem }) as never } });
    await open(house);
    expect(screen.getByRole("alert").textContent).toContain("Your sign-in has ended. Nothing is lost. Open it again.");
    expect(names()).toEqual([]);
  });
});

describe("days on which the clinics are closed", () => {
  const closedOn = (...closedDays: { day: string; why: string; clinic?: string }[]) => {
    const config = { issuers: [], frameAncestors: [], closedDays: "closed-days.json" };
    const house = openHouse({ session: { config } });
    house.files.set("closed-days.json", JSON.stringify({ from: "2026-01-01", to: "2026-12-31", closedDays }));
    return house;
  };
  const FOUNDERS = "public holiday, Founders' Day";

  it("W2 hold no suggestion, the screen says why no time fits, and a time that stands there all the same is marked", async () => {
    const { user } = await open(closedOn({ day: "2026-03-10", why: FOUNDERS }, { day: "2026-03-11", why: FOUNDERS }));
    await user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
    await waitFor(() => expect(document.querySelector(".one-visit")).not.toBeNull());
    const part = document.querySelector<HTMLElement>(".one-visit")!;
    expect(part.textContent).toContain(`Closed on 2 days: ${FOUNDERS}.`);
    const offered = within(within(part).getByRole("group", { name: /^Choose a time/ })).getAllByRole("radio");
    expect(offered.map((o) => o.closest("label")!.textContent).filter((o) => /1[01] March/.test(o!))).toEqual([]);
    const days = [...within(part).getByLabelText<HTMLSelectElement>("Day").options].map((o) => o.text);
    expect(days.filter((text) => text.includes("11 March"))).toEqual([expect.stringContaining(`closed: ${FOUNDERS}`)]);
    expect(screen.queryByText(/holidays are not known|are known until/)).toBeNull();
  });

  it("W2 of another clinic do not close this one, and a name that no clinic bears is told", async () => {
    const days = [
      { day: "2026-03-11", why: FOUNDERS, clinic: "Hand clinic, Alder Quay" },
      { day: "2026-03-10", why: FOUNDERS, clinic: "Hand therapy, Alder Quay" },
      { day: "2026-03-12", why: FOUNDERS, clinic: "Hand terapy" },
    ];
    const { user } = await open(closedOn(...days));
    expect(
      screen.getByText(/^Closed days are written down for "Hand terapy", and no clinic here has that name/),
    ).toBeTruthy();
    await user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
    await waitFor(() => expect(document.querySelector(".one-visit")).not.toBeNull());
    const part = within(document.querySelector<HTMLElement>(".one-visit")!);
    const offered = part.getByRole("group", { name: /^Choose a time/ }).textContent!;
    expect(offered).toContain("11 March");
    expect(offered).not.toMatch(/10 March 2026, \d\d:\d\d, Hand therapy, Alder Quay/);
    const closedDay = [...part.getByLabelText<HTMLSelectElement>("Day").options].find((o) =>
      o.text.includes("10 March"),
    )!;
    await user.selectOptions(part.getByLabelText("Day"), closedDay.value);
    const ofDay = part.getByRole("group", { name: "Times of that day" }).textContent;
    expect(ofDay).toContain(`Hand therapy, Alder QuayClosed: ${FOUNDERS}`);
  });

  it("W2 are proposed to nobody of a whole list", async () => {
    const { user } = await open(
      closedOn(...["2026-03-10", "2026-03-11", "2026-03-12", "2026-03-13"].map((day) => ({ day, why: FOUNDERS }))),
    );
    await user.click(button("Propose times for everyone shown"));
    await screen.findByText(/no proposal can have fewer than/);
    const proposed = [...document.querySelectorAll(".proposals label")].map((label) => label.textContent!);
    expect(proposed.length).toBeGreaterThan(3);
    expect(proposed.filter((text) => /: (Tue|Wed|Thu|Fri) 1[0-3] March 2026/.test(text))).toEqual([]);
  });

  it.each([
    ["are not written down", undefined, /^Public holidays are not known here/],
    ["cannot be read", "<p>", /^The closed days of the clinics could not be read \(closed-days.json\)/],
    [
      "hold a mistake",
      '{"from":"2026-01-01","to":"2026-12-31","closedDays":[{"day":"2026-02-30","why":"x"}]}',
      /closedDays.0.day/,
    ],
    ["end too soon", '{"from":"2026-01-01","to":"2026-04-01","closedDays":[]}', /are known until Wed 1 April 2026/],
  ] as const)("REL-46 that %s are told of, and visits are arranged all the same", async (_, file, said) => {
    const config = { issuers: [], frameAncestors: [], ...(file ? { closedDays: "closed-days.json" } : {}) };
    const house = openHouse({ session: { config } });
    if (file) house.files.set("closed-days.json", file);
    await open(house);
    expect(screen.getByText(said)).toBeTruthy();
    expect(names().length).toBeGreaterThan(10);
  });
});

describe("one patient's visits", () => {
  it("W2 W7 are booked by three presses: the time is taken, the visit leaves the list, the next patient has the focus", async () => {
    const { user, house, times } = await openAnsgar();
    const { id } = reviewOfAnsgar(house);
    const [first] = times.getAllByRole<HTMLInputElement>("radio");
    await user.click(first!);
    await user.click(button("Book"));
    expect(await screen.findByText(/^Splint review is booked: /)).toBeTruthy();
    const booked = house.one<Appointment>(`Appointment/${id}`);
    expect(booked.status).toBe("booked");
    expect(house.one<Slot>(booked.slot![0]!.reference!).status).toBe("busy");
    await user.click(button("Go on with the next visit"));
    await waitFor(() => expect(document.activeElement?.textContent).toMatch(/^Arrange the visits of/));
    expect(document.activeElement?.textContent).not.toContain("Ansgar");
  });

  it("W2 a time that was taken meanwhile is told, the next best is chosen and booked by one more press", async () => {
    const { user, house, times } = await openAnsgar();
    const { id } = reviewOfAnsgar(house);
    const [first] = times.getAllByRole<HTMLInputElement>("radio");
    await user.click(first!);
    const taken = house.one<Slot>(/(Slot\/.+)$/.exec(first!.getAttribute("aria-describedby")!)![1]!);
    house.enter({ ...taken, status: "busy" });
    await user.click(button("Book"));
    expect(await screen.findByText("This time was taken a moment ago.")).toBeTruthy();
    expect(screen.getByText(/^The next best free time is/)).toBeTruthy();
    expect(house.one<Appointment>(`Appointment/${id}`).status).toBe("proposed");
    await user.click(button("Book"));
    expect(await screen.findByText(/^Splint review is booked: /)).toBeTruthy();
    expect(house.one<Appointment>(`Appointment/${id}`).slot![0]!.reference).not.toBe(`Slot/${taken.id}`);
  });

  it("W3 outside the days of the plan a reason is asked for, kept, and the doctor is told", async () => {
    const { user, house } = await openAnsgar();
    const { id } = reviewOfAnsgar(house);
    const part = within(document.querySelector<HTMLElement>(".one-visit")!);
    await outsideForAReason(
      user,
      part,
      () => button("Book"),
      "Away until then",
      () => expect(house.one<Appointment>(`Appointment/${id}`).status).toBe("proposed"),
    );
    expect(JSON.stringify(house.one<Appointment>(`Appointment/${id}`).extension)).toContain("Away until then");
    expect(house.all<Communication>("Communication").map((c) => c.about?.[0]?.reference)).toEqual([
      `Appointment/${id}`,
    ]);
  });

  it("W2 a time agreed elsewhere is entered, refused when it has gone by, and booked without taking a slot", async () => {
    const { user, house } = await openAnsgar();
    const visit = reviewOfAnsgar(house);
    const part = within(document.querySelector<HTMLElement>(".one-visit")!);
    const enter = async (date: string, clock: string) => {
      fireEvent.change(part.getByLabelText("Date"), { target: { value: date } });
      fireEvent.change(part.getByLabelText("Time, hours and minutes"), { target: { value: clock } });
      await user.click(part.getByRole("button", { name: "Use this time" }));
    };
    await enter("2026-03-09", "10:00");
    expect(part.getByText(/^Enter a date and a time that lie ahead/)).toBeTruthy();
    await enter(visit.requestedPeriod![0]!.end!, "18:40");
    expect(part.queryByText(/^Enter a date and a time that lie ahead/)).toBeNull();
    await user.click(button("Book"));
    expect(await screen.findByText(/^Splint review is booked: /)).toBeTruthy();
    const booked = house.one<Appointment>(`Appointment/${visit.id}`);
    expect([booked.status, booked.slot, booked.start?.slice(0, 16)]).toEqual([
      "booked",
      undefined,
      `${visit.requestedPeriod![0]!.end}T18:40`,
    ]);
  });

  it("REL-46 that the record system refuses is not booked, and what it says is shown", async () => {
    const { user, house, times } = await openAnsgar();
    await user.click(times.getAllByRole("radio")[0]!);
    house.store.remove("Practitioner", "tobias-quillfeather");
    await user.click(button("Book"));
    expect(await screen.findByText(/The record system said: .*Practitioner\/tobias-quillfeather/)).toBeTruthy();
    expect(reviewOfAnsgar(house).status).toBe("proposed");
  });

  it("nothing is booked before a time is chosen, and closing gives the focus back to where it was", async () => {
    const { user, house } = await openAnsgar();
    const before = JSON.stringify(house.all("Appointment"));
    await user.click(button("Book"));
    expect(await screen.findByText("Choose a time first.")).toBeTruthy();
    await user.click(
      within(screen.getByRole("region", { name: /^Times for Ansgar/ })).getByRole("button", { name: "Close" }),
    );
    await waitFor(() => expect(document.activeElement?.textContent).toMatch(ANSGAR));
    expect(JSON.stringify(house.all("Appointment"))).toBe(before);
  });

  it("W1 later days are read when asked for, and a series says what cannot be arranged yet and why", async () => {
    const { user, house } = await openAnsgar();
    const part = within(document.querySelector<HTMLElement>(".one-visit")!);
    const until = () => part.getByText(/^Times are read until/).textContent;
    const before = until();
    await user.click(part.getByRole("button", { name: "Read later days" }));
    await waitFor(() => expect(until()).not.toBe(before));
    expect(house.asked.filter((line) => line.startsWith("GET Slot")).length).toBeGreaterThan(1);
  });

  it("REL-46 whose times cannot be read are arranged by entering one; whose list cannot be read says so and is read again", async () => {
    const house = openHouse();
    const { user } = await open(house);
    house.fail = (line) => (line.startsWith("GET Slot") ? 500 : undefined);
    await user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
    expect(await screen.findByText(/^Free times could not be read\./)).toBeTruthy();
    expect(screen.getAllByText(/^The record system offers no times for this visit/).length).toBeGreaterThan(0);
    await user.click(
      within(screen.getByRole("region", { name: /^Times for Ansgar/ })).getByRole("button", { name: "Close" }),
    );
    house.fail = (line) => (line.startsWith("GET Appointment") ? 500 : undefined);
    await user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
    expect(await screen.findByRole("alert")).toBeTruthy();
    house.fail = () => undefined;
    await user.click(button("Read the list again"));
    expect((await screen.findAllByRole("group", { name: /^Choose a time: / })).length).toBeGreaterThan(0);
  });

  it("REL-44 of a patient who died since the list was read is not booked, and the list says why", async () => {
    const { user, house, times } = await openAnsgar();
    await user.click(times.getAllByRole("radio")[0]!);
    house.enter({ ...house.one<Patient>("Patient/ansgar-brackenridge"), deceasedBoolean: true });
    await user.click(button("Book"));
    expect(await screen.findByText("This visit was changed a moment ago.")).toBeTruthy();
    expect(reviewOfAnsgar(house).status).toBe("proposed");
    await waitFor(() => expect(document.querySelector(".panel > .error")?.textContent ?? "").toBeTruthy());
  });

  it("that somebody else withdrew meanwhile says so when it is opened", async () => {
    const { user, house } = await open();
    for (const order of house.all<ServiceRequest>("ServiceRequest"))
      if (order.subject.reference === "Patient/ansgar-brackenridge") house.enter({ ...order, status: "revoked" });
    await user.click(screen.getAllByRole("button", { name: ANSGAR })[0]!);
    expect(await screen.findByText(/^Somebody else arranged or changed this visit/)).toBeTruthy();
  });
});
