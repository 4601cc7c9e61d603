// @vitest-environment happy-dom
import { act, cleanup, configure, fireEvent, render, screen, waitFor, within } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import StaffDesk from "../../src/app/staff-desk.tsx";
import OpenQueries from "../../src/app/tasks/answer-coders/open-queries.tsx";
import type { ClinicSession } from "../../src/smart/session.ts";
import { type FhirResource, fhirProblem } from "../../src/smart/transport.ts";
import { CRUSH, MALLET, TUFT } from "../browser/signed-records.ts";
import { sessionFor } from "./chart-parts.ts";
import { CodingRecord, coderOn } from "./coding-record.ts";

// Rooms and code tables are loaded when they are first needed, on whatever machine.
configure({ asyncUtilTimeout: 20_000 });
type User = ReturnType<typeof userEvent.setup>;
const SITE = { site: "Wending Vale Hospital", approvedBy: "Dr Liesel Okonjo", approvedOn: "2026-09-01" };
let record: CodingRecord;
beforeEach(() => {
  vi.useFakeTimers({ now: new Date(2026, 10, 10, 9, 0), toFake: ["Date"] });
  window.scrollTo = () => undefined;
  record = new CodingRecord();
});
afterEach(() => {
  cleanup();
  vi.useRealTimers();
  vi.restoreAllMocks();
});

async function desk(session: ClinicSession = coderOn(record), policy: unknown = undefined) {
  const answer = { ok: false as const, problem: {} as never, coder: session };
  await act(async () => {
    render(<StaffDesk answer={answer} policy={Promise.resolve(policy)} />);
  });
  return userEvent.setup();
}
const listed = async () => {
  await screen.findByRole("heading", { level: 1, name: "Records to code" });
  await waitFor(() => expect(screen.queryByText("Reading the signed records.")).toBeNull());
};
const lines = () => screen.queryAllByRole("listitem").map((li) => li.textContent ?? "");
async function opened(name: string, session?: ClinicSession, policy?: unknown) {
  const user = await desk(session, policy);
  await listed();
  await user.click(await screen.findByRole("button", { name: new RegExp(`^${name}`) }));
  return user;
}
/** What is said as a warning; forms hold their own empty place for one. */
const alerted = () =>
  waitFor(() => {
    const [said] = screen.getAllByRole("alert").filter((one) => one.textContent);
    expect(said).toBeTruthy();
    return said!;
  });
const shownCodes = () => [...document.querySelectorAll(".coder-code")].map((e) => e.textContent);
const codes = (...wanted: string[]) => waitFor(() => expect(shownCodes()).toEqual(wanted));

/** A record opened, its codes shown. */
async function coding(name: string, wanted: readonly string[], session?: ClinicSession) {
  const user = await opened(name, session);
  await codes(...wanted);
  return user;
}
const choose = (user: User, label: string, option: string) => user.selectOptions(screen.getByLabelText(label), option);
/** The mallet finger, said to be seen again while it heals: the proposal differs from the stored code. */
async function healing() {
  const user = await coding(MALLET, ["S62.635A"]);
  await choose(user, "What was this encounter for?", "Healing phase, healing as it should");
  await codes("S62.635D");
  return user;
}
const press = (user: User, name: string | RegExp) => user.click(screen.getByRole("button", { name }));
const sign = (user: User) => press(user, "Sign these codes");
const POSITION = /^Ask Dr Imke Harrowgate: Position of the fragments/;
/** The crushed fingers, with the question about the fragments sent. */
async function asking() {
  const user = await opened(CRUSH);
  await user.click(await screen.findByRole("button", { name: POSITION }));
  await screen.findByText(/^Question sent, /);
  return user;
}
/** So many more signed records of one patient, each of a plan of its own. */
function more(count: number): void {
  const [one] = record.records();
  for (let i = 0; i < count; i++)
    record.put({
      ...one,
      id: `more-${i}`,
      identifier: { ...one!.identifier, value: `plan-${i}:findings` },
    } as unknown as FhirResource);
}
const rows = () => lines().filter((l) => l.includes("signed by"));

describe("the list of signed records", () => {
  it("has each patient with the digits, the day, who signed and what is to be done, and counts them", async () => {
    await desk();
    await listed();
    expect(rows()).toHaveLength(3);
    expect(lines().find((l) => l.includes(MALLET))).toMatch(
      /born.*left ring finger.*2 November 2026.*signed by Dr Imke Harrowgate.*To code/,
    );
    expect(screen.getByText("3 shown, 3 read of 3 signed in these days.")).toBeTruthy();
  });
  it("says so when nothing was signed in these days, and days that are emptied set no limit", async () => {
    await desk();
    await listed();
    fireEvent.change(screen.getByLabelText("Signed from"), { target: { value: "2026-11-09" } });
    expect(await screen.findByText("No record of these days is in this state.")).toBeTruthy();
    fireEvent.change(screen.getByLabelText("Signed from"), { target: { value: "" } });
    fireEvent.change(screen.getByLabelText("to"), { target: { value: "" } });
    expect(await screen.findByText("3 shown, 3 read of 3 signed in these days.")).toBeTruthy();
  });
  it("says what the server refused, and reads again on demand", async () => {
    record.refuse = (what) => (what === "search QuestionnaireResponse" ? fhirProblem("server") : undefined);
    const user = await desk();
    const told = await alerted();
    expect(told.textContent).toContain(fhirProblem("server").title);
    expect(screen.queryByText("No record of these days is in this state.")).toBeNull();
    record.refuse = () => undefined;
    await press(user, "Read again");
    await waitFor(() => expect(rows()).toHaveLength(3));
    expect(screen.queryByRole("alert")).toBeNull();
  });
  it("names what could not be read beside the records, and leaves out and counts withdrawn plans", async () => {
    record.refuse = (what) => (what === "search Task" ? fhirProblem("refused") : undefined);
    const [plan] = record.of<FhirResource>("CarePlan");
    record.put({ ...plan!, status: "revoked" });
    await desk();
    await listed();
    expect(screen.getByText(/^Questions could not be read: /)).toBeTruthy();
    expect(screen.getByText("1 record is left out: the plan was withdrawn or replaced.")).toBeTruthy();
    expect(screen.getByText(/^2 shown/)).toBeTruthy();
  });
  it("is read on page by page, and no record stands twice", async () => {
    more(40);
    const user = await desk();
    await listed();
    expect(screen.getByText("25 shown, 25 read of 43 signed in these days.")).toBeTruthy();
    await press(user, "Read more");
    expect(await screen.findByText("43 shown, 43 read of 43 signed in these days.")).toBeTruthy();
    expect(screen.queryByRole("button", { name: "Read more" })).toBeNull();
  });
  it("shows what was asked, what was answered and what was coded, each by its own choice", async () => {
    const user = await asking();
    await press(user, "Back to the list");
    expect(rows()).toHaveLength(2);
    await choose(user, "Show", "Question sent");
    await waitFor(() => expect(rows()).toHaveLength(1));
    expect(lines().some((l) => l.includes(CRUSH) && l.includes("Question sent"))).toBe(true);
    await choose(user, "Show", "Answered");
    expect(await screen.findByText("No record of these days is in this state.")).toBeTruthy();
    await choose(user, "Show", "All");
    await waitFor(() => expect(rows()).toHaveLength(3));
  });
});

describe("one record", () => {
  it("has beside its code who confirmed what and from where, the rule, the section, and what would change it", async () => {
    const mallet = record.records().find((r) => r.subject?.reference === "Patient/coder-mallet")!;
    const item = mallet.item?.map((group) =>
      group.item?.some((i) => i.linkId === "openness")
        ? {
            ...group,
            item: group.item.map((i) =>
              i.linkId === "openness"
                ? {
                    ...i,
                    answer: i.answer?.map((a) => ({
                      ...a,
                      extension: [
                        {
                          url: "https://fingerpost.example/fhir/StructureDefinition/answer-origin",
                          valueCode: "chart-confirmed",
                        },
                        {
                          url: "https://fingerpost.example/fhir/StructureDefinition/answer-origin-entry",
                          valueReference: { reference: "Condition/note-7", display: "Note of the triage nurse" },
                        },
                      ],
                    })),
                  }
                : i,
            ),
          }
        : group,
    );
    record.put({ ...mallet, item } as unknown as FhirResource);
    await coding(MALLET, ["S62.635A"]);
    const facts = within(screen.getByRole("region", { name: "What was confirmed" }));
    expect(facts.getByText(/^Confirmed and signed by Dr Imke Harrowgate, .*2 November 2026/)).toBeTruthy();
    expect(
      facts.getAllByText("confirmed from the chart: Note of the triage nurse (Condition/note-7)").length,
    ).toBeGreaterThan(0);
    const line = document.querySelector(".coder-codes > li")!.textContent!;
    expect(line).toContain("First-listed diagnosis");
    expect(line).toContain("Sideleft");
    expect(line).toContain("Seventh characterA: initial encounter for closed fracture");
    expect(line).toMatch(/Decided by.*I\.C\.19/);
    expect(line).toContain("open or closed: open would give S62.635B");
    expect(screen.getByText(/^ICD-10-CM.*in effect from .*1 October 2026 to .*30 September 2027/)).toBeTruthy();
  });
  it("is signed as proposed, filed once with who signed, and the next record follows", async () => {
    const user = await coding(MALLET, ["S62.635A"]);
    expect(screen.getByText("Nobody has signed codes for this record yet.")).toBeTruthy();
    await sign(user);
    expect(await screen.findByText("The codes are written to the record.")).toBeTruthy();
    expect(record.signings()).toHaveLength(1);
    expect(record.signings()[0]!.agent.at(-1)!.who.display).toBe("Solveig Marchbanks");
    expect(await screen.findByText("Every code as proposed.")).toBeTruthy();
    await press(user, "Next record");
    expect(
      await screen.findByRole("heading", { level: 1, name: new RegExp(`^(${CRUSH}|${TUFT}) ?, right`) }),
    ).toBeTruthy();
  });
  it("keeps another code only from the table and with a reason; a line may be left out, and the proposal taken again", async () => {
    const user = await coding(CRUSH, ["S62.630B", "S62.662A"]);
    await press(user, "Change S62.662A");
    const code = screen.getByLabelText("Code to keep instead");
    expect(document.activeElement).toBe(code);
    await user.type(code, "s62");
    await press(user, "Apply");
    expect(screen.getByText(/^"s62" is not a billable code of ICD-10-CM/)).toBeTruthy();
    await user.type(code, "663a");
    expect(document.getElementById(code.getAttribute("aria-describedby")!)?.textContent).toMatch(
      /^Nondisplaced fracture of distal phalanx of left middle finger/,
    );
    await press(user, "Apply");
    expect(screen.getByText("Give a reason.")).toBeTruthy();
    await user.type(screen.getByLabelText("Why is it not the proposed one?"), "Side as in the operation note");
    await press(user, "Apply");
    expect(screen.getByText("Kept instead: S62.663A")).toBeTruthy();
    expect(document.activeElement?.textContent).not.toBe("Apply");
    await press(user, "Take the proposal again");
    expect(screen.queryByText(/^Kept instead/)).toBeNull();
    await press(user, "Change S62.662A");
    await press(user, "Cancel");
    await press(user, "Change S62.662A");
    await user.type(screen.getByLabelText("Why is it not the proposed one?"), "Old fracture, coded before");
    await press(user, "Leave out");
    expect(screen.getByText("Left out")).toBeTruthy();
    await sign(user);
    expect(await screen.findByText("S62.662A left out. Reason: Old fracture, coded before")).toBeTruthy();
    expect(record.codesOf("coder-crush")).toContain("S62.630B");
  });
  it("takes a further code of the table with a reason, refuses one that is excluded, and keeps the coder's order", async () => {
    const user = await coding(CRUSH, ["S62.630B", "S62.662A"]);
    const search = screen.getByLabelText("Code, or words of its description");
    const add = screen.getByRole("button", { name: "Add a code" });
    await user.click(add);
    expect(screen.getByText("Choose a code of the table.")).toBeTruthy();
    await user.type(search, "S61.310A");
    await user.type(screen.getByLabelText("Why is it added?"), "Nail sutured, see the operation note");
    await user.click(add);
    expect(screen.getByText(/^S61.310A does not stand beside S62.630B. Excludes1 at S61: open fracture/)).toBeTruthy();
    await user.clear(search);
    await user.type(search, "S61.312A");
    await choose(user, "Digit", "right middle finger");
    await user.click(add);
    await codes("S62.630B", "S62.662A", "S61.312A");
    await press(user, "Move up S62.662A");
    await codes("S62.662A", "S62.630B", "S61.312A");
    expect(document.querySelector(".coder-codes > li")!.textContent).toContain("First-listed diagnosis");
    await sign(user);
    expect(await screen.findByText("S61.312A added. Reason: Nail sutured, see the operation note")).toBeTruthy();
    expect(record.codesOf("coder-crush")).toEqual(["S61.312A", "S62.630B", "S62.662A"]);
    const saved: Blob[] = [];
    vi.spyOn(URL, "createObjectURL").mockImplementation((blob) => {
      saved.push(blob as Blob);
      return "blob:made-here";
    });
    await press(user, "Export");
    await choose(user, "Format", "FHIR R4 Bundle");
    await press(user, "Export these days");
    await screen.findByText("Ready: 1 records, 3 codes.");
    const bundle = JSON.parse(await saved[0]!.text()) as {
      entry: { resource: { diagnosis?: { rank: number }[]; code?: { coding: { code: string }[] } } }[];
    };
    const resources = bundle.entry.map((e) => e.resource);
    expect(resources[0]!.diagnosis?.map((d) => d.rank)).toEqual([1, 2, 3]);
    expect(resources.flatMap((r) => r.code?.coding[0]?.code ?? [])).toEqual(["S62.662A", "S62.630B", "S61.312A"]);
  });
  it("an added code can be taken out again before it is signed; a cause stands last and never first", async () => {
    const user = await coding(MALLET, ["S62.635A"]);
    const search = screen.getByLabelText("Code, or words of its description");
    const take = async (code: string) => {
      await user.clear(search);
      await user.type(search, code);
      await user.type(screen.getByLabelText("Why is it added?"), "As the intake form says");
      await press(user, "Add a code");
    };
    await take("W23.0XXA");
    await codes("S62.635A", "W23.0XXA");
    expect(screen.queryByRole("button", { name: "Move up W23.0XXA" })).toBeNull();
    await take("Z23");
    await codes("S62.635A", "Z23", "W23.0XXA");
    await press(user, "Take out again: Z23");
    await codes("S62.635A", "W23.0XXA");
  });
  it("opened again, what was changed with a reason still stands beside the proposal", async () => {
    const user = await coding(MALLET, ["S62.635A"]);
    await press(user, "Change S62.635A");
    await user.type(screen.getByLabelText("Code to keep instead"), "S62.665A");
    await user.type(screen.getByLabelText("Why is it not the proposed one?"), "Film report says not displaced");
    await press(user, "Apply");
    await sign(user);
    await screen.findByText("The codes are written to the record.");
    expect(record.codesOf("coder-mallet")).toEqual(["S62.665A"]);
    cleanup();
    const again = await desk();
    await listed();
    await choose(again, "Show", "Coded");
    await again.click(await screen.findByRole("button", { name: new RegExp(`^${MALLET}`) }));
    await codes("S62.635A");
    expect(screen.getByText("Kept instead: S62.665A")).toBeTruthy();
    expect(screen.getByText("As it was coded before.")).toBeTruthy();
  });
  it("follows what the coder says the encounter was for; unsaid, nothing can be signed", async () => {
    const user = await healing();
    const signing = () => screen.getByRole<HTMLButtonElement>("button", { name: "Sign these codes" });
    expect(signing().disabled).toBe(false);
    await choose(user, "What was this encounter for?", "Choose");
    await waitFor(() => expect(signing().disabled).toBe(true));
  });
  // Titles of WHO ICD-10 (2019): multiple fractures of fingers is one code of the encounter, not one for each finger.
  it.each([
    [CRUSH, ["S62.7"]],
    [MALLET, ["S62.6"]],
  ] as const)(
    "coded by WHO ICD-10 instead of ICD-10-CM, %s is shown its codes and edition, and none can be signed",
    async (name, wanted) => {
      const values = { "coding.icd10cm": "off", "coding.icd10": "on" };
      await opened(name, undefined, { ...SITE, values });
      await codes(...wanted);
      expect(screen.getByText(/^WHO ICD-10, edition of 2019/)).toBeTruthy();
      expect(screen.getByText(/^This site's policy has ICD-10-CM switched off/)).toBeTruthy();
      expect(screen.getByRole<HTMLButtonElement>("button", { name: "Sign these codes" }).disabled).toBe(true);
      expect(screen.queryByRole("button", { name: "Add a code" })).toBeNull();
    },
  );
  it("under a policy without both classifications says so, and shows no code", async () => {
    await opened(MALLET, undefined, { ...SITE, values: { "coding.icd10cm": "off" } });
    expect(await screen.findByText(/^This site's policy has ICD-10-CM switched off/)).toBeTruthy();
    expect(shownCodes()).toEqual([]);
    expect(screen.queryByText(/^WHO ICD-10/)).toBeNull();
  });
  it("that is gone meanwhile is said, and no code is shown", async () => {
    await desk();
    await listed();
    const tuft = record.records().find((r) => r.subject?.reference === "Patient/coder-tuft")!;
    record.put({ ...tuft, status: "entered-in-error" } as unknown as FhirResource);
    fireEvent.click(screen.getByRole("button", { name: new RegExp(`^${TUFT}`) }));
    expect((await alerted()).textContent).toContain(
      "This record is not there to be coded any more. It was withdrawn or changed in the meantime.",
    );
    expect(shownCodes()).toEqual([]);
  });
  it.each([
    ["read QuestionnaireResponse", "offline"],
    ["search Condition", "server"],
  ] as const)("says so when the answer to %s is %s", async (what, kind) => {
    await desk();
    await listed();
    record.refuse = (now) => (now === what ? fhirProblem(kind) : undefined);
    fireEvent.click(screen.getByRole("button", { name: new RegExp(`^${TUFT}`) }));
    expect((await alerted()).textContent).toContain(fhirProblem(kind).title);
  });
  it("over a diagnosis that somebody changed meanwhile nothing is written, and the differences are named", async () => {
    const user = await healing();
    const theirs = record
      .of<FhirResource>("Condition")
      .find((c) => JSON.stringify(c).includes("coder-mallet") && JSON.stringify(c).includes("S62.635A"))!;
    record.put({ ...theirs, code: { ...(theirs.code as object), text: "Seen again by the hand surgeon" } });
    await sign(user);
    const told = await alerted();
    expect(told.textContent).toContain("This record was changed since you opened it. Nothing was written over it.");
    expect(told.textContent).toContain('is now "Seen again by the hand surgeon"');
    expect(record.codesOf("coder-mallet")).toEqual(["S62.635A"]);
  });
  it("a signing that is refused is not told as done, and the code stays", async () => {
    const user = await healing();
    record.refuse = (what) => (what === "transaction" ? fhirProblem("refused", { status: 403 }) : undefined);
    await sign(user);
    expect((await alerted()).textContent).toContain(fhirProblem("refused").title);
    expect(screen.queryByText("The codes are written to the record.")).toBeNull();
    expect(record.codesOf("coder-mallet")).toEqual(["S62.635A"]);
  });
  it.each([
    [{ can: () => false }, "Codes cannot be written here."],
    [{ lastsFor: () => Promise.resolve(false) }, "Your sign-in is about to end."],
    [
      { signer: () => Promise.resolve({ ok: false as const, reason: "The sign-in names nobody." }) },
      "It is not certain who is signed in. The sign-in names nobody.",
    ],
  ])("is not signed and says why (%#)", async (changes, said) => {
    const user = await coding(MALLET, ["S62.635A"], coderOn(record, changes as never));
    await sign(user);
    expect((await alerted()).textContent).toContain(said);
    expect(record.signings()).toEqual([]);
  });
});

describe("what is missing", () => {
  it("is asked in one press, can be taken back, and is asked again", async () => {
    const user = await asking();
    expect(record.tasks().map((t) => [t.status, t.owner?.display])).toEqual([["requested", "Dr Imke Harrowgate"]]);
    await press(user, "Take the question back");
    expect(await screen.findByRole("button", { name: POSITION })).toBeTruthy();
    expect(record.tasks()[0]?.status).toBe("cancelled");
  });
  it("refused by the server it is told, and the question stays to be asked", async () => {
    const user = await opened(CRUSH);
    record.refuse = (what) => (what === "write Task" ? fhirProblem("refused", { status: 403 }) : undefined);
    await user.click(await screen.findByRole("button", { name: POSITION }));
    expect((await alerted()).textContent).toContain(fhirProblem("refused").title);
    expect(screen.getByRole("button", { name: POSITION })).toBeTruthy();
  });
  it("is not offered to be asked without the right to send questions", async () => {
    await opened(CRUSH, coderOn(record, { can: (type) => type !== "Task", granted: ["user/Patient.rs"] }));
    await codes("S62.630B", "S62.662A");
    expect(screen.queryByRole("button", { name: POSITION })).toBeNull();
    expect(screen.getByText("Questions that were sent and their answers are not found.")).toBeTruthy();
  });
  it("answered by choice the code follows; answered in other words the coder is told to read it", async () => {
    await asking();
    const [task] = record.tasks();
    const answer = (words: string) =>
      record.put({
        ...task,
        status: "completed",
        lastModified: "2026-11-10T10:00:00+01:00",
        output: [{ type: { text: "answer" }, valueString: words }],
      } as unknown as FhirResource);
    answer("not displaced");
    cleanup();
    await coding(CRUSH, ["S62.660B", "S62.662A"]);
    expect(screen.getByText(/Answered: not displaced/)).toBeTruthy();
    const facts = within(screen.getByRole("region", { name: "What was confirmed" }));
    expect(facts.getByText("position of the fragments: not displaced")).toBeTruthy();
    answer("see the film");
    cleanup();
    await coding(CRUSH, ["S62.630B", "S62.662A"]);
    expect(screen.getByText(/Answered in words: read it, and change the code where it calls for it/)).toBeTruthy();
  });
});

describe("the export of a period", () => {
  async function exporting(session?: ClinicSession) {
    const user = await desk(session);
    await listed();
    await press(user, "Export");
    await screen.findByRole("button", { name: "Export these days" });
    return user;
  }
  let saved: Blob | undefined;
  beforeEach(() => {
    saved = undefined;
    vi.spyOn(URL, "createObjectURL").mockImplementation((blob) => {
      saved = blob as Blob;
      return "blob:made-here";
    });
    vi.spyOn(URL, "revokeObjectURL").mockImplementation(() => undefined);
  });
  it("holds nothing that nobody signed, unless it is asked for", async () => {
    const user = await exporting();
    await press(user, "Export these days");
    expect(await screen.findByText("Ready: 0 records, 0 codes.")).toBeTruthy();
    await user.click(screen.getByRole("checkbox", { name: "Also records whose codes nobody has signed" }));
    await press(user, "Export these days");
    expect(await screen.findByText(/^Ready: 3 records, /)).toBeTruthy();
    const text = await saved!.text();
    expect(text).toContain("S62.635A");
    expect(screen.getByRole("link", { name: "Save the file" }).getAttribute("download")).toBe(
      "codes-2026-10-11-to-2026-11-10.csv",
    );
  });
  it.each([
    ["bundle", "json", '"resourceType":"Bundle"'],
    ["ndjson", "ndjson", '"resourceType":"Condition"'],
    ["dg1", "hl7", "DG1|1||S62.635A^"],
  ])("is written as %s", async (format, ending, holds) => {
    const user = await exporting();
    fireEvent.change(screen.getByLabelText("Format"), { target: { value: format } });
    await user.click(screen.getByRole("checkbox"));
    await press(user, "Export these days");
    const link = await screen.findByRole("link", { name: "Save the file" });
    expect(link.getAttribute("download")).toMatch(new RegExp(`\\.${ending}$`));
    expect(await saved!.text()).toContain(holds);
  });
  it("of more records than one file may hold is refused before any is coded, and says what to do", async () => {
    const user = await exporting();
    record.counted = 100_001;
    await press(user, "Export these days");
    expect((await alerted()).textContent).toBe(
      "More than 100,000 records were signed in these days. Nothing was saved. Export a shorter period, or the whole from the command line.",
    );
    expect(saved).toBeUndefined();
  });
  it("of several pages is one file, each record once, and says on the way how far it is", async () => {
    more(118);
    const user = await exporting();
    await user.click(screen.getByRole("checkbox"));
    let second: (on: () => void) => void = () => undefined;
    const asked = new Promise<() => void>((on) => (second = on));
    record.beforeAnswer = (query) => (query.includes("_start=100") ? new Promise<void>((go) => second(go)) : undefined);
    await press(user, "Export these days");
    const go = await asked;
    expect(await screen.findByText("100 of 121 records read.")).toBeTruthy();
    go();
    expect(await screen.findByText(/^Ready: 121 records/)).toBeTruthy();
    const rows = (await saved!.text()).trim().split("\r\n").slice(1);
    expect(new Set(rows.map((row) => row.split(",")[0])).size).toBe(121);
  });
  it("stopped on the way makes no file, and says so", async () => {
    let go: () => void = () => undefined;
    const user = await exporting();
    record.beforeAnswer = () => new Promise((on) => (go = on));
    await press(user, "Export these days");
    expect(screen.getByText("0 records read.")).toBeTruthy();
    await press(user, "Stop");
    record.beforeAnswer = () => undefined;
    go();
    expect(await screen.findByText("Stopped. Nothing was saved.")).toBeTruthy();
    expect(saved).toBeUndefined();
  });
  it("that the server breaks off says what happened, and makes no file", async () => {
    const user = await exporting();
    record.refuse = (what) => (what === "search QuestionnaireResponse" ? fhirProblem("server") : undefined);
    await press(user, "Export these days");
    expect((await alerted()).textContent).toContain(fhirProblem("server").title);
    expect(saved).toBeUndefined();
  });
  it("names what could not be read beside it", async () => {
    const user = await exporting();
    record.refuse = (what) => (what === "search Provenance" ? fhirProblem("server") : undefined);
    await press(user, "Export these days");
    expect(await screen.findByText(/^Earlier codes could not be read: /)).toBeTruthy();
  });
});

describe("the page around it", () => {
  it("left alone it is warned of and then covered, and the sign-in is given up", async () => {
    const end = vi.fn();
    await desk(coderOn(record, { end, config: { issuers: [], frameAncestors: [], coverAfterMinutes: 10 } as never }));
    await listed();
    const look = async (minutes: number) => {
      vi.setSystemTime(Date.now() + minutes * 60_000);
      await act(async () => {
        document.dispatchEvent(new Event("visibilitychange"));
      });
    };
    await look(9);
    expect(document.querySelector("p.notice")?.textContent).toMatch(/covered/);
    await look(2);
    expect(end).toHaveBeenCalled();
    expect(screen.queryByText(new RegExp(MALLET))).toBeNull();
    expect(screen.getByText(/No record is shown any more/)).toBeTruthy();
  });
  it("says that the sign-in ended", async () => {
    const problem = { kind: "ended", title: "Your sign-in has ended.", what: "W.", next: "N." };
    await desk(coderOn(record, { state: () => ({ kind: "ended", problem }) as never }));
    expect((await alerted()).textContent).toContain("Your sign-in has ended. W. N.");
  });
  it("codes nothing under a site policy that cannot be used", async () => {
    await desk(coderOn(record), { nonsense: true });
    expect(await screen.findByText("The site policy cannot be used.")).toBeTruthy();
  });
});

describe("a coder's question at the chart", () => {
  async function asked() {
    await asking();
    cleanup();
  }
  const chart = (changes = {}) =>
    sessionFor({
      context: { base: record.base, patientId: "coder-crush", launchId: "l2" } as never,
      fhir: record,
      ...changes,
    });
  it("is shown with who asks, nothing is chosen in advance, and an empty answer is refused", async () => {
    await asked();
    render(<OpenQueries session={chart()} />);
    await screen.findByText("A coder asks about a signed record");
    expect(screen.getByText("Solveig Marchbanks")).toBeTruthy();
    expect(screen.getAllByRole<HTMLInputElement>("radio").filter((r) => r.checked)).toEqual([]);
    fireEvent.submit(document.querySelector("form")!);
    expect(await screen.findByText("Choose or write an answer.")).toBeTruthy();
    fireEvent.click(screen.getByLabelText("not displaced"));
    fireEvent.submit(document.querySelector("form")!);
    expect(await screen.findByText("Answered. The coder sees it.")).toBeTruthy();
    expect(record.tasks().map((t) => [t.status, t.output?.[0]?.valueString, t.owner?.display])).toEqual([
      ["completed", "not displaced", "Dr Tamsin Orrery"],
    ]);
  });
  it("may be answered in one's own words; a refused answer is told and the question stays", async () => {
    await asked();
    render(<OpenQueries session={chart()} />);
    await screen.findByText("A coder asks about a signed record");
    fireEvent.change(screen.getByLabelText("Answer in your own words"), { target: { value: "Hairline only" } });
    record.refuse = (what) => (what === "write Task" ? fhirProblem("conflict", { status: 412 }) : undefined);
    fireEvent.submit(document.querySelector("form")!);
    await screen.findByText(new RegExp(fhirProblem("conflict").title));
    record.refuse = () => undefined;
    fireEvent.submit(document.querySelector("form")!);
    await screen.findByText("Answered. The coder sees it.");
    expect(record.tasks()[0]?.output?.[0]?.valueString).toBe("Hairline only");
  });
  it.each([
    [{ lastsFor: () => Promise.resolve(false) }, "Your sign-in is about to end."],
    [{ signer: () => Promise.resolve({ ok: false, reason: "R." }) }, "It is not certain who is signed in."],
  ])("is answered by nobody who is not surely signed in (%#)", async (changes, said) => {
    await asked();
    render(<OpenQueries session={chart(changes)} />);
    await screen.findByText("A coder asks about a signed record");
    fireEvent.click(screen.getByLabelText("displaced"));
    fireEvent.submit(document.querySelector("form")!);
    await screen.findByText(new RegExp(said));
    expect(record.tasks()[0]?.status).toBe("requested");
  });
  it("another patient's question is not shown, and where questions cannot be read there is none", async () => {
    await asked();
    await act(async () => {
      render(
        <OpenQueries
          session={chart({ context: { base: record.base, patientId: "coder-tuft", launchId: "l3" } as never })}
        />,
      );
    });
    expect(document.querySelector("details")).toBeNull();
    record.refuse = () => fhirProblem("refused");
    await act(async () => {
      render(<OpenQueries session={chart()} />);
    });
    expect(document.querySelector("details")).toBeNull();
  });
});
