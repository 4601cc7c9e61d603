// @vitest-environment happy-dom
import { act, cleanup, configure, fireEvent, render, screen, waitFor, within } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { Desk } from "../../src/app/desk.tsx";
import type { WriteReport } from "../../src/smart/write-back.ts";
import {
  allergyTo,
  conditionOf,
  conditionsOf,
  EMPTY_PARTS,
  EMPTY_RECORD,
  earlierPlan,
  PATIENT,
  recordOf,
  sessionFor,
  slowReading,
} from "./chart-parts.ts";
import { practiceBone } from "./fake-module.ts";

const write = vi.hoisted(() => ({
  writeBack: vi.fn(),
  checkAgain: vi.fn(),
  storedTypes: () => new Map(),
}));
vi.mock("../../src/smart/write-back.ts", () => write);

beforeEach(() => {
  vi.useFakeTimers({ now: new Date(2026, 2, 10, 14, 30), toFake: ["Date"] });
  window.sessionStorage.clear();
  window.location.hash = "";
  window.scrollTo = () => undefined;
  vi.clearAllMocks();
});
afterEach(() => {
  cleanup();
  vi.useRealTimers();
});

interface Opened {
  readonly reading?: ReturnType<typeof slowReading>;
  readonly session?: ReturnType<typeof sessionFor>;
}
// Rooms are loaded when they are first needed, on whatever machine.
configure({ asyncUtilTimeout: 20_000 });
async function open({ reading = slowReading(EMPTY_PARTS), session: given = sessionFor() }: Opened = {}) {
  const session = { ...given, fhir: given.fhir === EMPTY_RECORD ? recordOf(reading) : given.fhir };
  const user = userEvent.setup();
  await act(async () => {
    render(<Desk session={session} reading={reading} policy={Promise.resolve(undefined)} module={practiceBone} />);
  });
  // Readers of the chart and rules follow the questions.
  await waitFor(() => {
    expect(screen.queryByText(/^The assessment is being prepared/)).toBeNull();
    expect(screen.queryByText(/site policy being read/)).toBeNull();
    expect(
      document.querySelector("form.questions") === null || screen.getByRole("button", { name: "See the plan" }),
    ).toBeTruthy();
    expect(screen.queryByText("Reading the patient from the chart") === null || !reading.parts().patient).toBe(true);
  });
  return { user, reading };
}
const group = (name: string) => within(screen.getByRole("group", { name }));
const goTo = async (step: string) => {
  await act(async () => {
    window.location.hash = step;
    window.dispatchEvent(new Event("hashchange"));
  });
};
const RING = conditionOf("S62.634A", "Broken ring finger");
/** Answers all that the practice bone asks, so that a plan is decided. */
async function answerAll(user: ReturnType<typeof userEvent.setup>, bend = "10") {
  await user.click(screen.getByRole("radio", { name: /^ring/ }));
  await user.click(screen.getByRole("radio", { name: /^Right/ }));
  await user.click(screen.getByRole("button", { name: "Today" }));
  await user.click(screen.getByRole("button", { name: "All quiet" }));
  await user.type(screen.getByLabelText("Bend of the bone"), bend);
}

describe("the questions of the fingertip, in two parts", () => {
  it("stand complete once the rest has arrived, and an answer given before that is kept", async () => {
    render(<Desk session={sessionFor()} reading={slowReading(EMPTY_PARTS)} policy={Promise.resolve(undefined)} />);
    const headings = () => screen.getAllByRole("heading", { level: 2 }).map((h) => h.firstChild?.textContent);
    expect(headings()).toEqual(["Injured digit", "Emergencies first", "Assessment so far"]);
    fireEvent.click(screen.getByRole("radio", { name: /^Ring/ }));
    await waitFor(() => expect(headings()).toEqual(expect.arrayContaining(["Skin and nail", "Film", "Patient"])));
    expect((screen.getByRole("radio", { name: /^Ring/ }) as HTMLInputElement).checked).toBe(true);
  });
});

describe("a value from the chart", () => {
  it("is proposed with its source and date, and its radio stays empty", async () => {
    await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    const ring = group("Which digit?").getByRole<HTMLInputElement>("radio", { name: /ring.*from chart ?, not chosen/ });
    expect(ring.checked).toBe(false);
    expect(screen.getAllByText(/Broken ring finger, 10 Mar 2026/).length).toBeGreaterThan(0);
  });
  it("SAF-01 counts for nothing until it is chosen: the assessment stays without urgency and signing is refused", async () => {
    await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    expect(screen.getByText("not set yet")).toBeTruthy();
    await goTo("sign");
    expect(await screen.findByText("The finger and its side are not both recorded.")).toBeTruthy();
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
  });
  it("is confirmed by choosing it, and marked as agreeing with the chart", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    await user.click(group("Which digit?").getByRole("radio", { name: /ring/ }));
    expect(group("Which digit?").getByRole<HTMLInputElement>("radio", { name: "ring" }).checked).toBe(true);
    expect(screen.getByText(/^Agrees with the chart:/)).toBeTruthy();
  });
  it("is changed by choosing another, and what the chart says stays beside it", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    await user.click(group("Which digit?").getByRole("radio", { name: "middle" }));
    expect(screen.getByText(/^Chart says ring/)).toBeTruthy();
  });
  it("finger, side and day are confirmed together by one press, and nothing else is", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    await user.click(screen.getByRole("button", { name: "These are right" }));
    const chosen = screen.getAllByRole<HTMLInputElement>("radio").filter((r) => r.checked);
    expect(chosen.map((r) => r.value).sort()).toEqual(["right", "ring"]);
    expect(screen.queryByRole("button", { name: "These are right" })).toBeNull();
  });
  it("SAF-01 the press says as well that it is the injury of the chart's entry, and so that entry is refined", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    const card = screen.getByRole("button", { name: "These are right" }).closest("section")!;
    expect(card.textContent).toContain('the injury of its entry "Broken ring finger"');
    await user.click(screen.getByRole("button", { name: "These are right" }));
    await user.click(screen.getByRole("button", { name: "All quiet" }));
    await user.type(screen.getByLabelText("Bend of the bone"), "10");
    await goTo("sign");
    const refine = await screen.findByRole<HTMLInputElement>("radio", { name: /^Refine the chart's entry/ });
    expect(refine.checked).toBe(true);
    expect(screen.getByText("You confirmed this entry together with finger and side.")).toBeTruthy();
    expect(await screen.findByRole("button", { name: /^Sign and write/ })).toBeTruthy();
  });
  it("SAF-01 answered by hand, nobody has said that it is the chart's entry: that is asked before the signature", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING }) });
    await answerAll(user);
    await goTo("sign");
    const refine = await screen.findByRole<HTMLInputElement>("radio", { name: /^Refine the chart's entry/ });
    const apart = screen.getByRole<HTMLInputElement>("radio", { name: "File a new diagnosis beside it" });
    expect([refine.checked, apart.checked]).toEqual([false, false]);
    expect(screen.getByText(/say whether it refines the chart's entry or is a new one\.$/)).toBeTruthy();
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
    await user.click(refine);
    expect(await screen.findByRole("button", { name: /^Sign and write/ })).toBeTruthy();
  });
});

describe("a chart with two entries for different fingers", () => {
  const RING_AND_LITTLE = conditionsOf(
    ["S62.634A", "Broken ring finger"],
    ["S62.636A", "Broken little finger", "2026-03-09"],
  );
  const openTwo = () => open({ reading: slowReading({ ...EMPTY_PARTS, conditions: RING_AND_LITTLE }) });
  const chosen = () =>
    screen
      .getAllByRole<HTMLInputElement>("radio")
      .filter((r) => r.checked)
      .map((r) => r.value)
      .sort();
  it("asks which are injured, names both with where and when they were said, and chooses neither", async () => {
    await openTwo();
    const asked = screen.getByRole("region", { name: "The chart names two digits:" });
    expect(
      within(asked)
        .getAllByRole("listitem")
        .map((li) => li.textContent),
    ).toEqual([
      "right ring finger Condition: Broken ring finger, 10 Mar 2026",
      "right little finger Condition: Broken little finger, 9 Mar 2026",
    ]);
    expect(
      within(asked)
        .getAllByRole("button")
        .map((b) => b.textContent),
    ).toEqual(["Both are injured", "Only the right ring finger", "Only the right little finger"]);
    expect(chosen()).toEqual([]);
    expect(group("Which digit?").queryByText("from chart")).toBeNull();
  });
  it("both become an injury by one press, each with its own entry as origin", async () => {
    const { user } = await openTwo();
    await user.click(screen.getByRole("button", { name: "Both are injured" }));
    const fingers = within(screen.getByRole("region", { name: "Injured fingers" }));
    expect(fingers.getByRole("button", { name: "right ring finger" }).getAttribute("aria-pressed")).toBe("true");
    expect(chosen()).toEqual(["right", "ring"]);
    const origins = () => screen.getAllByText(/^Agrees with the chart:/).map((p) => p.textContent);
    expect(origins()).toEqual(Array(2).fill("Agrees with the chart: Condition: Broken ring finger, 10 Mar 2026"));
    const panel = () => screen.getByRole("heading", { name: /^Assessment so far/ }).textContent;
    expect(panel()).toBe("Assessment so far: right ring finger");
    await user.click(fingers.getByRole("button", { name: "right little finger" }));
    expect(panel()).toBe("Assessment so far: right little finger");
    expect(chosen()).toEqual(["little", "right"]);
    expect(origins()).toEqual(Array(2).fill("Agrees with the chart: Condition: Broken little finger, 9 Mar 2026"));
    expect(screen.queryByText(/names two digits|also names/)).toBeNull();
  });
  it("one of them alone is taken by one press, and the other stays on offer as a second finger", async () => {
    const { user } = await openTwo();
    await user.click(screen.getByRole("button", { name: "Only the right little finger" }));
    expect(chosen()).toEqual(["little", "right"]);
    expect(screen.getByRole("region", { name: "The chart also names:" }).textContent).toContain(
      "right ring finger Condition: Broken ring finger, 10 Mar 2026",
    );
    await user.click(screen.getByRole("button", { name: "Add the right ring finger" }));
    expect(chosen()).toEqual(["right", "ring"]);
    expect(screen.queryByText(/also names/)).toBeNull();
  });
  it("a finger added by hand gets the one that is left proposed, not chosen", async () => {
    const { user } = await openTwo();
    await user.click(screen.getByRole("button", { name: "Only the right ring finger" }));
    await user.click(screen.getByRole("button", { name: "Add another finger" }));
    expect(chosen()).toEqual([]);
    expect(group("Which digit?").getByRole("radio", { name: /little.*from chart/ })).toBeTruthy();
    expect(group("Which digit?").queryByRole("radio", { name: /ring.*from chart/ })).toBeNull();
  });
  it("when the clinician finds a third finger, what the chart says stays beside it", async () => {
    const { user } = await openTwo();
    await user.click(group("Which digit?").getByRole("radio", { name: "middle" }));
    expect(screen.getByText(/^Chart says ring: .*; Chart says little: /)).toBeTruthy();
  });
});

describe("an answer that comes back from the clinician's own saved draft", () => {
  interface Written {
    readonly author?: object;
    readonly session?: ReturnType<typeof sessionFor>;
  }
  async function continued(act: "draft" | "signed", parts = {}, { author, session }: Written = {}) {
    const earlier = earlierPlan(act, { digit: "ring", side: "right" }, author);
    const opened = await open({
      reading: slowReading({ ...EMPTY_PARTS, ...parts, earlier }),
      ...(session ? { session } : {}),
    });
    await goTo("record");
    await opened.user.click(await screen.findByRole("button", { name: /^(Continue|Revise) / }));
    await screen.findByRole("heading", { name: "What do you find?" });
    return opened;
  }
  it("is proposed as that, and once confirmed it says which draft it comes from, not that the chart agrees", async () => {
    const { user } = await continued("draft");
    expect(group("Which digit?").getByRole("radio", { name: /ring.*from your draft/ })).toBeTruthy();
    const toConfirm = screen.getByRole("region", { name: "Your saved draft says:" });
    expect([...toConfirm.querySelectorAll("p")].map((p) => p.textContent)).toEqual([
      "Your saved draft says: right ring finger.",
      expect.stringMatching(/^The chart says: born Friday,? 1 June 1990\.$/),
    ]);
    await user.click(screen.getByRole("button", { name: "These are right" }));
    expect(screen.getAllByText(/^As in your saved draft, 9 Mar 2026/)).toHaveLength(2);
    expect(screen.queryByText(/Agrees with the chart/)).toBeNull();
  });
  it("is told as from the saved plan where that was signed", async () => {
    const { user } = await continued("signed");
    await user.click(group("Which digit?").getByRole("radio", { name: /ring.*from the saved plan/ }));
    expect(screen.getByText(/^As in the saved plan, 9 Mar 2026/)).toBeTruthy();
  });
  it("changed, it says what the draft held, and does not say that the chart held it", async () => {
    const { user } = await continued("draft");
    await user.click(group("Which digit?").getByRole("radio", { name: "middle" }));
    expect(screen.getByText(/^Your saved draft, 9 Mar 2026.*: ring$/)).toBeTruthy();
    expect(screen.queryByText(/Chart says/)).toBeNull();
  });
  const COLLEAGUE = { author: { reference: "Practitioner/4", display: "Dr Ines Halvorsen" } };
  it("written by a colleague is told with name and day, before and after it is confirmed, and never called one's own", async () => {
    const { user } = await continued("draft", {}, COLLEAGUE);
    expect(group("Which digit?").getByRole("radio", { name: /ring.*from a saved draft/ })).toBeTruthy();
    expect(
      screen.getByRole("region", { name: /^Draft by Dr Ines Halvorsen, 9 Mar 2026.*, says:$/ }).textContent,
    ).toContain("right ring finger");
    await user.click(screen.getByRole("button", { name: "These are right" }));
    expect(screen.getAllByText(/^As in the draft by Dr Ines Halvorsen, 9 Mar 2026/)).toHaveLength(2);
    expect(screen.queryByText(/your (saved )?draft/i)).toBeNull();
  });
  it.each([
    ["nobody is known to be signed in", { session: sessionFor({ user: {} }) }, "Dr Tamsin Orrery"],
    ["the draft names no author", { author: {} }, "somebody not named"],
  ])("is not called one's own when %s", async (_, written, name) => {
    await continued("draft", {}, written);
    expect(screen.getByRole("region", { name: new RegExp(`^Draft by ${name}, 9 Mar 2026.*, says:$`) })).toBeTruthy();
    expect(screen.queryByText(/your (saved )?draft/i)).toBeNull();
  });
  it("where chart and draft both say so, both are named", async () => {
    const { user } = await continued("draft", { conditions: RING });
    await user.click(group("Which digit?").getByRole("radio", { name: /ring.*from chart/ }));
    expect(screen.getByText("Agrees with the chart: Condition: Broken ring finger, 10 Mar 2026")).toBeTruthy();
    expect(screen.getByText(/^As in your saved draft, 9 Mar 2026/)).toBeTruthy();
  });
  it("where chart and draft differ, neither is suggested and each is named", async () => {
    await continued("draft", { conditions: conditionOf("S62.632A", "Broken middle finger") });
    expect(
      screen.getByText(
        /^There is more than one answer, none is suggested: middle: Condition: Broken middle finger.*; ring: Your saved draft, 9 Mar 2026/,
      ),
    ).toBeTruthy();
    expect(group("Which digit?").queryByText(/^from /)).toBeNull();
  });
});

describe("before the rules are there", () => {
  it("the first questions can be answered, no urgency is shown, and the answers count once the rules have come", async () => {
    let give: (policy: undefined) => void = () => undefined;
    const policy = new Promise<undefined>((resolve) => (give = resolve));
    const user = userEvent.setup();
    render(<Desk session={sessionFor()} reading={slowReading({})} policy={policy} module={practiceBone} />);
    await user.click(screen.getByRole("radio", { name: "middle" }));
    await user.click(screen.getByRole("button", { name: /^Show 3 questions ?, Alarms/ }));
    await user.click(screen.getByRole("radio", { name: "Glows" }));
    const panel = screen.getByRole("complementary", { name: "Assessment so far" });
    expect(panel.textContent).toContain("The assessment is being prepared");
    expect(panel.textContent).toContain("not set yet");
    await act(async () => give(undefined));
    expect(await screen.findByRole("region", { name: "Go now" })).toBeTruthy();
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(true);
    expect(screen.queryByText(/^The assessment is being prepared/)).toBeNull();
  });
  it("SAF-09 there is no plan to see and nothing to sign", async () => {
    window.location.hash = "sign";
    render(
      <Desk
        session={sessionFor()}
        reading={slowReading(EMPTY_PARTS)}
        policy={new Promise(() => undefined)}
        module={practiceBone}
      />,
    );
    expect(screen.getByText("The assessment is being prepared.")).toBeTruthy();
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
  });
});

describe("a chart that arrives late", () => {
  it("lets the clinician begin at once, and says how far the reading is", async () => {
    const { user } = await open({ reading: slowReading({}) });
    expect(screen.getByText("Reading the chart: 0 of 10")).toBeTruthy();
    await user.click(screen.getByRole("radio", { name: "middle" }));
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(true);
  });
  it("never overwrites an answer that is already given", async () => {
    const { user, reading } = await open({ reading: slowReading({}) });
    await user.click(screen.getByRole("radio", { name: "middle" }));
    await act(async () => reading.arrive({ ...EMPTY_PARTS, conditions: RING }));
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(true);
    expect(screen.getByText(/^Chart says ring/)).toBeTruthy();
  });
  it("names the parts that could not be read, and goes on without them", async () => {
    await open({
      reading: slowReading({
        ...EMPTY_PARTS,
        imaging: { state: "refused", resources: [], more: false },
        weight: { state: "failed", resources: [], more: false },
      }),
    });
    expect(screen.getByText("Chart read, without: imaging studies, weight.")).toBeTruthy();
    expect(screen.getByRole("button", { name: "See the plan" })).toBeTruthy();
  });
});

describe("the patient banner", () => {
  it("says that allergies are not known when they were refused, never that there are none", async () => {
    await open({
      reading: slowReading({ ...EMPTY_PARTS, allergies: { state: "refused", resources: [], more: false } }),
    });
    const banner = screen.getByRole("region", { name: "Patient" });
    expect(banner.textContent).toContain("Ysolde Quillfeather");
    expect(banner.textContent).toContain("PX-1");
    expect(banner.textContent).toMatch(/Allergies: not known: the record system did not allow reading them/);
  });
  it("stops everything for a patient who has died", async () => {
    await open({
      reading: slowReading({
        ...EMPTY_PARTS,
        patient: { state: "found", more: false, resources: [{ ...PATIENT, deceasedBoolean: true }] },
      }),
    });
    expect(screen.getByRole("heading", { name: "Stop" })).toBeTruthy();
    expect(screen.queryByRole("radio")).toBeNull();
  });
  it("SEC-21 REL-19 shows hidden and direction-turning characters of a name as nothing", async () => {
    await open({
      reading: slowReading({
        ...EMPTY_PARTS,
        patient: {
          state: "found",
          more: false,
          resources: [{ ...PATIENT, name: [{ family: "Quill\u202efeather", given: ["Ysolde"] }] }],
        },
      }),
    });
    expect(screen.getByRole("region", { name: "Patient" }).textContent).not.toMatch(/\u202e/);
  });
});

describe("findings of a second injury, on screens that know nothing of it", () => {
  it("are asked in the module's words, with its way of saying that it cannot be told", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("button", { name: /^Show 3 questions ?, Alarms/ }));
    expect(group("Does it glow?").getByRole("radio", { name: "Too bright to tell" })).toBeTruthy();
  });
  it("unknown stays unknown: with a red flag open no urgency is shown, and the next questions are named", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("button", { name: /^Show 3 questions ?, Alarms/ }));
    await user.click(group("Does it hum?").getByRole("radio", { name: "Is silent" }));
    expect(screen.getByText("not set yet")).toBeTruthy();
    expect(
      within(screen.getByRole("complementary", { name: "Assessment so far" })).getByRole("button", {
        name: "Does it glow?",
      }),
    ).toBeTruthy();
  });
  it("decide urgency and class as soon as they are answered, before the last question", async () => {
    const { user } = await open();
    await answerAll(user, "50");
    await waitFor(() => expect(screen.getByRole("complementary").textContent).toContain("Next working day"));
    expect(screen.getByRole("complementary").textContent).toContain("Bent practice bone");
  });
  it("SAF-17 a number outside its bounds is no answer: it is named at the field and on top, and the focus goes there", async () => {
    const { user } = await open();
    await user.type(screen.getByLabelText("Bend of the bone"), "200");
    await user.click(screen.getByRole("button", { name: "See the plan" }));
    const summary = screen.getByRole("alert");
    expect(summary.textContent).toContain("Enter a number from 0 to 90 degrees.");
    expect(document.activeElement).toBe(summary);
    expect(window.location.hash).toBe("");
    await user.click(within(summary).getByRole("button"));
    expect(document.activeElement).toBe(screen.getByLabelText("Bend of the bone"));
  });
  it("an injury later than now is refused in words", async () => {
    const { user } = await open();
    fireEvent.change(screen.getByLabelText("Day of the injury"), { target: { value: "2999-01-01" } });
    await user.click(screen.getByRole("button", { name: "See the plan" }));
    expect(screen.getByRole("alert").textContent).toContain("cannot be later than now");
  });
  it("a listed allergy is not waved through by a quick answer", async () => {
    const { user } = await open({ reading: slowReading({ ...EMPTY_PARTS, allergies: allergyTo("Penicillin V") }) });
    await user.click(screen.getByRole("button", { name: /^All quiet/ }));
    const allergy = group("Penicillin allergy");
    expect(allergy.getAllByRole<HTMLInputElement>("radio").some((r) => r.checked)).toBe(false);
    expect(allergy.getByText(/Chart lists: Penicillin V/)).toBeTruthy();
  });
  it("several fingers are told apart, each with its own answers", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("radio", { name: "ring" }));
    await user.click(screen.getByRole("button", { name: "Add another finger" }));
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "ring" }).checked).toBe(false);
    await user.click(screen.getByRole("button", { name: "ring finger" }));
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "ring" }).checked).toBe(true);
  });
});

describe("the plan", () => {
  it("SAF-11 shows one red panel at most, however many ways out must happen now", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("button", { name: /^Show 3 questions ?, Alarms/ }));
    await user.click(screen.getByRole("radio", { name: "Glows" }));
    await user.click(screen.getByRole("radio", { name: "Hums" }));
    await goTo("plan");
    expect(await screen.findByRole("heading", { name: "Go now: Glowing bone" })).toBeTruthy();
    expect(screen.getAllByRole("heading", { name: /^Go now/ })).toHaveLength(1);
    expect(screen.getByText("Humming bone.")).toBeTruthy();
  });
  it("SAF-06 opens each line to its reason, the findings in the words of their questions, and the rule", async () => {
    const { user } = await open();
    await answerAll(user, "50");
    await goTo("plan");
    const line = (await screen.findByText("Operation.")).closest("details")!;
    await user.click(within(line).getByText("Why"));
    fireEvent(line, new Event("toggle"));
    expect(line.textContent).toContain("It is bent.");
    expect(line.textContent).toContain("Bend of the bone: 50 degrees");
    expect(line.textContent).toContain("common practice, no source");
    expect(line.textContent).toContain("Rule CL-1");
  });
  it("says what is still needed when it cannot decide", async () => {
    await open();
    await goTo("plan");
    expect(await screen.findByRole("heading", { name: "Urgency: Cannot decide yet" })).toBeTruthy();
    expect(screen.getByText(/does it glow/)).toBeTruthy();
  });
  it("SAF-10 keeps the clinician's own decision with its reason, and asks for the reason", async () => {
    const { user } = await open();
    await answerAll(user, "50");
    await goTo("plan");
    await user.click(await screen.findByRole("button", { name: /^I decide differently ?, Operation/ }));
    await user.selectOptions(screen.getByLabelText("What you decide"), "Treat without operation");
    await user.click(screen.getByRole("button", { name: "Keep my decision" }));
    expect(screen.getByRole("alert").textContent).toBe("Choose a decision and a reason.");
    await user.selectOptions(screen.getByLabelText("Reason"), "Patient's wish");
    await user.click(screen.getByRole("button", { name: "Keep my decision" }));
    expect(screen.getByText("Your decision:").parentElement?.textContent).toBe(
      "Your decision: Treat without operation. Reason: Patient's wish",
    );
  });
});

describe("a decision of the clinician's own", () => {
  it("about urgency reaches the plain text, the sentence that is signed and the draft", async () => {
    const { user } = await open();
    await answerAll(user);
    await goTo("plan");
    await user.click(await screen.findByRole("button", { name: /^I decide differently ?, Urgency/ }));
    await user.selectOptions(screen.getByLabelText("What you decide"), "Same day");
    await user.selectOptions(screen.getByLabelText("Reason"), "Patient's wish");
    await user.click(screen.getByRole("button", { name: "Keep my decision" }));
    const decision = "Clinician's decision: Same day instead of Within one to two weeks: Patient's wish.";
    const text = () => screen.getByRole<HTMLTextAreaElement>("textbox", { name: /plan as text/, hidden: true }).value;
    expect(text()).toContain(`Urgency: Same day\n${decision}`);
    await goTo("sign");
    const confirm = await screen.findByRole("region", { name: "Sign this plan?" });
    expect(confirm.textContent).toContain(`Urgency: same day. ${decision}`);
    const referral = screen.getByRole("heading", { name: "Referral: hand surgery" }).closest("li")!;
    expect(referral.textContent).toContain("as soon as possible (asap)");
    expect(referral.textContent).toContain("On Tue 10 March 2026.");
  });
});

describe("signing", () => {
  const saved = (act: "draft" | "sign", keys: readonly string[]): WriteReport => ({
    outcome: "saved",
    act,
    items: keys.map((key) => ({ key, title: key, outcome: "saved", reference: `CarePlan/${key}`, version: "1" })),
  });
  async function openSign(options?: Opened) {
    const opened = await open(options);
    await answerAll(opened.user);
    await goTo("sign");
    await screen.findByRole("heading", { name: "What will be written" });
    return opened;
  }
  it("SAF-03 SAF-05 repeats patient, finger, side, diagnosis, urgency and first due day in one sentence, and names the deed", async () => {
    await openSign();
    const confirm = await screen.findByRole("region", { name: "Sign this plan?" });
    expect(confirm.textContent).toMatch(
      /Ysolde Quillfeather, born Friday,? 1 June 1990, female, Record PX-1: right ring finger, Straight practice bone/,
    );
    expect(confirm.textContent).toMatch(/Urgency: within one to two weeks\. First visit: clinic review, due \w+day/);
    expect(within(confirm).getByRole("button").textContent).toMatch(/^Sign and write \d+ items to the chart$/);
    expect(write.writeBack).not.toHaveBeenCalled();
  });
  it("D11 claims no signature before there is one: what can be copied is a draft, what will be signed says so", async () => {
    await openSign();
    const confirm = await screen.findByRole("region", { name: "Sign this plan?" });
    expect(confirm).toBeTruthy();
    const bundle = screen.getByRole<HTMLTextAreaElement>("textbox", { name: /FHIR Bundle, as a draft/, hidden: true });
    expect(bundle.value).toContain("Draft, not signed.");
    expect(bundle.value).not.toMatch(/Signed by|legally authenticated/);
    const shown = [...document.querySelectorAll(".drafts pre")];
    expect(shown.length).toBeGreaterThan(3);
    for (const pre of shown) {
      expect(pre.textContent).toContain("Signed by Dr Tamsin Orrery");
      expect(pre.previousElementSibling?.textContent).toBe("As it will be sent when you sign. Nothing is signed yet.");
    }
  });
  it("that is not possible shows nothing as signed", async () => {
    await open();
    await goTo("sign");
    await screen.findByRole("heading", { name: "Signing is not possible" });
    for (const pre of document.querySelectorAll(".drafts pre")) {
      expect(pre.textContent).not.toContain("Signed by");
      expect(pre.previousElementSibling?.textContent).toContain("Nothing is signed.");
    }
  });
  it("SAF-04 REL-27 INV-2 writes once, however often the button is pressed, and shows what was read back", async () => {
    const { user } = await openSign();
    let finish: (report: WriteReport) => void = () => undefined;
    write.writeBack.mockImplementation(() => new Promise<WriteReport>((resolve) => (finish = resolve)));
    const button = await screen.findByRole("button", { name: /^Sign and write/ });
    await user.dblClick(button);
    expect(write.writeBack).toHaveBeenCalledTimes(1);
    expect(write.writeBack.mock.calls[0]![2]).toBe("sign");
    await act(async () => finish(saved("sign", ["plan"])));
    expect(screen.getByRole("heading", { name: "Signed and saved" })).toBeTruthy();
    expect(screen.getByText(/CarePlan\/plan, version 1/)).toBeTruthy();
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
  });
  it("INV-4 INV-6 never says saved when it is not known: it offers to look again, and then only looks", async () => {
    const { user } = await openSign();
    write.writeBack.mockResolvedValue({
      outcome: "unknown",
      act: "sign",
      items: [{ key: "plan", title: "Plan", outcome: "unknown" }],
    });
    write.checkAgain.mockResolvedValue(saved("sign", ["plan"]));
    await user.click(await screen.findByRole("button", { name: /^Sign and write/ }));
    expect(await screen.findByRole("heading", { name: "Not certain what was saved" })).toBeTruthy();
    await user.click(screen.getByRole("button", { name: "Check again" }));
    expect(write.checkAgain).toHaveBeenCalledTimes(1);
    expect(write.writeBack).toHaveBeenCalledTimes(1);
    expect(await screen.findByRole("heading", { name: "Signed and saved" })).toBeTruthy();
  });
  it("D1 leaves an item out only with a reason, shows it as left out, and can put it back", async () => {
    const { user } = await openSign();
    const [leave] = screen.getAllByRole("button", { name: /^Leave out ?, Visit/ });
    await user.click(leave!);
    await user.click(screen.getByRole("button", { name: "Leave out" }));
    expect(screen.getByRole("alert").textContent).toBe("Give a reason.");
    await user.selectOptions(screen.getByLabelText("Why is it left out?"), "Already arranged");
    await user.click(screen.getByRole("button", { name: "Leave out" }));
    expect(screen.getByRole("heading", { name: /^Left out: / })).toBeTruthy();
    await user.click(screen.getByRole("button", { name: /^Put it back/ }));
    expect(screen.queryByRole("heading", { name: /^Left out: / })).toBeNull();
  });
  it("says why it is not possible for someone who is no clinician, and keeps the draft and the text", async () => {
    await openSign({
      session: sessionFor({
        signer: () => Promise.resolve({ ok: false, reason: "The sign-in names no practitioner." }),
      }),
    });
    expect(await screen.findByText("The sign-in names no practitioner.")).toBeTruthy();
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
    expect(
      screen.getByRole<HTMLTextAreaElement>("textbox", { name: "The plan as text", hidden: true }).value,
    ).toContain("Straight practice bone");
  });
});

describe("REL-24 a chart that changes while the plan is being made", () => {
  /** The chart as it was read, and the record as it is now. */
  async function changedBy(meanwhile: Parameters<ReturnType<typeof slowReading>["arrive"]>[0]) {
    const record = slowReading(EMPTY_PARTS);
    const { user, reading } = await open({ session: sessionFor({ fhir: recordOf(record) }) });
    await answerAll(user);
    record.arrive(meanwhile);
    await goTo("sign");
    const news = await screen.findByRole("region", { name: "New since you read the chart" });
    return { user, reading, record, news };
  }
  const signButton = () => screen.queryByRole("button", { name: /^Sign and write/ });
  const draftButton = () => screen.getByRole<HTMLButtonElement>("button", { name: "Save as draft" });

  it("shows the new allergy in words, and neither signs nor saves over it", async () => {
    const { news, reading } = await changedBy({ allergies: allergyTo("penicillin") });
    expect(news.textContent).toContain("New: Allergy to penicillin");
    expect(signButton()).toBeNull();
    expect(draftButton().disabled).toBe(true);
    expect(screen.getByText("The chart changed since you read it. See what is new first.")).toBeTruthy();
    expect(reading.parts().allergies?.state, "nothing is taken over by itself").toBe("empty");
  });

  it("read again, it comes into the banner, names the answer it puts in question, and marks the changed advice", async () => {
    const { user, news } = await changedBy({ allergies: allergyTo("penicillin") });
    await user.click(within(news).getByRole("button", { name: "Read the chart again" }));
    await act(async () => void window.dispatchEvent(new Event("hashchange")));
    const taken = await screen.findByRole("region", { name: "Taken over from the chart" });
    expect(screen.getByRole("region", { name: "Patient" }).textContent).toContain("penicillin");
    expect(taken.textContent).toContain("Penicillin allergy You answered: None.");
    await user.click(within(taken).getByRole("button", { name: /^Answer it again/ }));
    const question = () => group("Penicillin allergy");
    expect(question().getByRole<HTMLInputElement>("radio", { name: "None" }).checked).toBe(false);
    await user.click(question().getByRole("radio", { name: "Severe" }));
    await goTo("sign");
    const advice = await screen.findByRole("region", { name: "Advice that changed" });
    expect(advice.textContent).toContain("Now: Watch for: Avoid penicillin.");
    expect(signButton(), "what was seen no longer stands in the way").toBeTruthy();
  });

  it("seen and left as it is, the plan can be signed, and the advice is said to be the same", async () => {
    const { user, news } = await changedBy({ allergies: allergyTo("penicillin") });
    await user.click(within(news).getByRole("button", { name: "I have seen it" }));
    expect(screen.queryByRole("region", { name: "New since you read the chart" })).toBeNull();
    expect(signButton()).toBeTruthy();
    expect(draftButton().disabled).toBe(false);
    expect(screen.getByText("The advice is the same as before.")).toBeTruthy();
    write.writeBack.mockResolvedValue({ act: "sign", outcome: "saved", items: [] });
    await user.click(signButton()!);
    const items = write.writeBack.mock.calls[0]![1] as { kind: string; words: string[] }[];
    expect(
      items.find((i) => i.kind === "provenance")!.words,
      "that it was seen is kept with the signature",
    ).toContainEqual(
      expect.stringMatching(/^Seen before signing, after the chart was read: New: Allergy to penicillin/),
    );
    expect(screen.getByRole("region", { name: "Patient" }).textContent).toContain("penicillin");
  });

  it("a second change after the first was seen has to be seen as well: it is found right before the sending", async () => {
    const { user, news, record } = await changedBy({ allergies: allergyTo("penicillin") });
    await user.click(within(news).getByRole("button", { name: "I have seen it" }));
    record.arrive({ conditions: conditionOf("E11.9", "Type 2 diabetes") });
    write.writeBack.mockImplementation(async (_session, _items, act, { beforeSending }) => {
      const problem = await beforeSending();
      return { act, outcome: "not-saved", items: [], problem };
    });
    await user.click(signButton()!);
    const again = await screen.findByRole("region", { name: "New since you read the chart" });
    expect(again.textContent).toContain("Type 2 diabetes");
    expect(again.textContent).not.toContain("penicillin");
    expect(screen.getByRole("heading", { name: "Nothing was signed: the plan was not saved" })).toBeTruthy();
    expect(signButton()).toBeNull();
  });

  it("REL-30 a colleague's edit of a saved plan is not waved through: it has to be read", async () => {
    const { news } = await changedBy({ earlier: earlierPlan("draft", { digit: "ring" }) });
    expect(news.textContent).toContain("saved plan Plan for a finger");
    expect(within(news).queryByRole("button", { name: "I have seen it" })).toBeNull();
    expect(within(news).getByRole("button", { name: "Read the chart again" })).toBeTruthy();
  });

  it("without a change nothing is said", async () => {
    const { user } = await open();
    await answerAll(user);
    await goTo("sign");
    await screen.findByRole("button", { name: /^Sign and write/ });
    expect(screen.queryByRole("region", { name: "New since you read the chart" })).toBeNull();
  });
});

describe("SEC-03 a page whose place another window took", () => {
  it("can be read, and nothing in it can be pressed or written", async () => {
    const { user } = await open();
    await answerAll(user);
    await goTo("sign");
    await screen.findByRole("button", { name: /^Sign and write/ });
    const other = new BroadcastChannel("fingerpost.opened");
    other.postMessage({ launchId: "l2", chart: "another" });
    const goOn = await screen.findByRole("button", { name: "Go on with this chart here" });
    expect(screen.queryByRole("button", { name: /^Sign and write/ })).toBeNull();
    const main = screen.getByRole("main");
    expect(main.textContent, "the draft is intact and readable").toContain("Straight practice bone");
    for (const button of within(main).queryAllByRole("button"))
      expect(button.closest("fieldset[disabled]")).toBeTruthy();
    await user.click(goOn);
    expect(await screen.findByRole("button", { name: /^Sign and write/ })).toBeTruthy();
    other.close();
  });
});

describe("L8 the patient's name where the record system shows it itself", () => {
  it.each([true, false])("stands there all the same (need_patient_banner %s)", async (needPatientBanner) => {
    await open({ session: sessionFor({ needPatientBanner }) });
    const banner = screen.getByRole("region", { name: "Patient" });
    for (const part of ["Ysolde Quillfeather", "born 1 Jun 1990", "female", "PX-1"])
      expect(banner.textContent).toContain(part);
  });
});

describe("L10 a film that was open in the chart", () => {
  const film = (id: string, started: string, description: string) => ({
    resourceType: "ImagingStudy",
    id,
    status: "available",
    subject: { reference: "Patient/p1" },
    started,
    description,
  });
  const imaging = {
    state: "found" as const,
    more: false,
    resources: [film("i2", "2026-03-09", "Newer film"), film("i1", "2025-01-07", "Old film")],
  };
  it("is offered first in the reading step, whatever its age", async () => {
    await open({
      reading: slowReading({ ...EMPTY_PARTS, imaging }),
      session: sessionFor({ opened: ["ImagingStudy/i1"] }),
    });
    const opened = screen.getByRole("region", { name: "Open in the chart when you started" });
    expect(
      within(opened)
        .getAllByRole("listitem")
        .map((line) => line.textContent),
    ).toEqual(["Film: Old film, 7 Jan 2025"]);
    const lines = [...document.querySelectorAll("#chart bdi")].map((line) => line.textContent);
    expect(lines).toEqual(["Old film, 7 Jan 2025, open in the chart when you started", "Newer film, 9 Mar 2026"]);
  });
  it("is not spoken of when none was", async () => {
    await open({ reading: slowReading({ ...EMPTY_PARTS, imaging }) });
    expect(screen.queryByRole("region", { name: "Open in the chart when you started" })).toBeNull();
  });
});

describe("who may only read", () => {
  it("sees the saved plans first", async () => {
    await open({ session: sessionFor({ can: (_, letter) => letter !== "c" }) });
    expect(await screen.findByRole("heading", { name: "Saved plans in this chart" })).toBeTruthy();
    expect(screen.getByText("Your role may read plans here, not write them.")).toBeTruthy();
  });
});

describe("a draft after a reload", () => {
  it("SEC-25 comes back for the person who typed it, and not for a colleague", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("radio", { name: "middle" }));
    cleanup();
    await open({ session: sessionFor({ user: { reference: "Practitioner/7", name: "Dr Other" } }) });
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(false);
    expect(await screen.findByText(/Somebody else's unfinished answers/)).toBeTruthy();
    cleanup();
    await open();
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(true);
    expect(screen.getByText(/Your unfinished answers from .* are back/)).toBeTruthy();
  });
  it("REL-29 comes back for the same patient, and not for another", async () => {
    const { user } = await open();
    await user.click(screen.getByRole("radio", { name: "middle" }));
    cleanup();
    await open();
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(true);
    cleanup();
    await open({
      session: sessionFor({ context: { base: "https://ehr.example/fhir", patientId: "p2", launchId: "l2" } }),
    });
    expect(screen.getByRole<HTMLInputElement>("radio", { name: "middle" }).checked).toBe(false);
  });
});
