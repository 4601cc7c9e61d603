/** The faults of writing once more, in a real browser: what the clinician reads is compared with what the store holds. */
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { press } from "../browser/journey.ts";
import { FAULTS } from "./faults.ts";
import type { Bend } from "./proxy.ts";
import { goOn, openScreenRoom, type Said, type ScreenRoom, whatIsSaid } from "./screen.ts";

let room: ScreenRoom;
beforeAll(async () => {
  room = await openScreenRoom();
});
afterAll(() => room?.close());
beforeEach(() => room.clean());
afterEach(() => {
  room.proxy.bend = () => undefined;
});

const bendOf = (name: string): Bend => {
  const fault = FAULTS.find((one) => one.name === name);
  if (!fault) throw new Error(`no fault is called "${name}"`);
  return fault.bend;
};
/** Strikes the next request of this kind, or all of them. */
function strike(step: string, bend: Bend, times = 1): () => number {
  let struck = 0;
  room.proxy.bend = (exchange) => {
    if (exchange.step !== step || struck >= times) return undefined;
    struck++;
    return bend;
  };
  return () => struck;
}

const KINDS = [
  "no answer comes, after it was stored",
  "the connection is cut",
  "the connection is cut, after it was stored",
  "a captive portal answers, after it was stored",
  "401, and the token is renewed",
  "403",
  "412",
  "422 with the reason",
  "429 with seconds to wait",
  "503 with seconds to wait",
  "500, after it was stored",
  "half of the body",
] as const;

const SIGN = /^Sign and write \d+ items? to the chart$/;
const DRAFT = "Save as draft";

interface Journey {
  readonly name: string;
  /** From the chart to the moment of the act; gives the id of the plan. */
  readonly prepare: () => Promise<string>;
  readonly act: string | RegExp;
}
const JOURNEYS: readonly Journey[] = [
  { name: "save a draft", prepare: () => atSigning(), act: DRAFT },
  { name: "sign a new plan", prepare: () => atSigning(), act: SIGN },
  {
    name: "sign with an item left out",
    prepare: () => atSigning({ removed: { "visit-splint-review-1": "Already arranged" } }),
    act: SIGN,
  },
  {
    name: "sign over the draft that was just saved",
    prepare: async () => {
      const planId = await atSigning();
      await savedDraft();
      return planId;
    },
    act: SIGN,
  },
  {
    name: "save a changed draft again",
    prepare: async () => {
      const planId = await atSigning();
      await savedDraft();
      const edits = [{ item: "plan", field: "description", value: "Splint day and night, six weeks." }];
      return atSigning({ edits }, planId);
    },
    act: DRAFT,
  },
  {
    name: "sign a saved draft after a reload",
    prepare: async () => {
      const planId = await atSigning();
      await savedDraft();
      await room.relaunch();
      await room.toSigning();
      return planId;
    },
    act: SIGN,
  },
];

async function atSigning(changes = {}, plan?: string): Promise<string> {
  const planId = await room.begin(changes, plan);
  await room.toSigning();
  return planId;
}
async function savedDraft(): Promise<void> {
  await press(room.page, DRAFT);
  expect((await whatIsSaid(room.page)).title).toBe("Saved as draft");
}

/** INV-4 and INV-6 on the screen: true of the store, with reasons and exactly one way on. */
function checkWords(said: Said, planId: string, before: string, act: string | RegExp): void {
  const now = JSON.stringify([...room.held(planId)]);
  expect(said.title).not.toBe("");
  if (said.kind === "saved") {
    expect(said.items.every((item) => item === "saved")).toBe(true);
    const held = [...room.held(planId).values()];
    expect(held.length).toBeGreaterThan(3);
    expect(held.every((copies) => copies.length === 1)).toBe(true);
    const unsigned = held.flatMap(([copy]) => (copy?.signed ? [] : (copy?.reference ?? [])));
    expect(unsigned.sort(), "not signed, and called so").toEqual(act === SIGN ? [...said.drafts].sort() : unsigned);
    if (act === DRAFT) expect(unsigned).toHaveLength(held.length);
    return;
  }
  expect(said.waysOn, "one way on").toHaveLength(1);
  expect(said.problem.length, "what happened, and the next step").toBeGreaterThanOrEqual(2);
  expect(said.items.length).toBeGreaterThan(3);
  if (said.kind === "not-saved") expect(now, "what is called not saved was not touched").toBe(before);
}

describe.each(JOURNEYS)("REL-25 GATE-02: $name, in the browser", ({ prepare, act }) => {
  it.each(KINDS)("INV-1 INV-2 INV-4 INV-6 is true to the store and ends in one plan when %s", async (kind) => {
    const planId = await prepare();
    const before = JSON.stringify([...room.held(planId)]);
    const struck = strike("POST transaction", bendOf(kind));
    await press(room.page, act);
    let said = await whatIsSaid(room.page);
    expect(struck(), "the fault struck").toBe(1);
    checkWords(said, planId, before, act);
    for (let i = 0; i < 4 && said.kind !== "saved"; i++) said = await goOn(room.page, said, act);
    expect(said.kind).toBe("saved");
    checkWords(said, planId, before, act);
  });
});

describe("REL-10 GATE-02: read a chart, in the browser", () => {
  it.each(
    KINDS.filter((kind) => !kind.endsWith("after it was stored") && kind !== "412" && kind !== "422 with the reason"),
  )("INV-6 names what is missing and reads it at the next try when %s", async (kind) => {
    const struck = strike("GET ImagingStudy?modality&started&_sort&_elements", bendOf(kind), Number.POSITIVE_INFINITY);
    await room.begin();
    expect(struck()).toBeGreaterThan(0);
    if (kind !== "401, and the token is renewed")
      await room.page.getByText("Chart read, without: imaging studies in part.").waitFor();
    room.proxy.bend = () => undefined;
    await room.page.getByText("What the chart holds").click();
    await room.page.getByRole("button", { name: /^Read these again: imaging studies/ }).click();
    await room.page.getByText("Chart read.", { exact: true }).waitFor();
  });
});
