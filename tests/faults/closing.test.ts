/** The window is closed in the middle of it, after each single request; and long days with now and then a fault. */

import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { seeded } from "../bench/seeded.ts";
import { AtTheScreen, newPlanId } from "./clinician.ts";
import { FAULTS, strikes } from "./faults.ts";
import { openWard, type Ward, type Window } from "./ward.ts";

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());
beforeEach(() => ward.control({ reseed: true, clearLogs: true }));

const EVENTS = 30;

describe("REL-29 GATE-03: the window is closed after each request of a launch, a reading and a signature", () => {
  it("INV-1 INV-2 and opened again: every plan is finished, none is doubled, and what had arrived is recognised", async () => {
    const steps = await stepsOfAJourney();
    expect(steps.length, "requests of the whole journey").toBeGreaterThanOrEqual(EVENTS);
    // The last ones are those of the signature; all of them are among the thirty.
    const from = steps.length - EVENTS;
    let storedBefore = 0;
    for (let closed = from; closed < steps.length; closed++) {
      const planId = newPlanId();
      const reached = closeAfter(closed);
      const dying = journey(planId);
      await reached;
      // Nobody waits for the dead page any more.
      void dying.catch(() => undefined);
      ward.proxy.bend = () => undefined;

      const at = new AtTheScreen(ward, await ward.launch(), { planId });
      await at.reload();
      const stored = ward.held(planId).size > 0;
      if (stored) storedBefore++;
      expect(await at.finish("sign"), `closed after request ${closed}, ${steps[closed]}`).toBe(true);
      if (stored) expect(at.presses, "what had arrived is recognised, not sent again").toHaveLength(1);
      const copies = [...ward.held(planId)].map(([key, { length }]) => [key, length]);
      expect(
        copies.filter(([, n]) => n !== 1),
        `closed after request ${closed}, ${steps[closed]}`,
      ).toEqual([]);
      expect(copies.length).toBe(at.items.filter((item) => !item.removed).length);
    }
    console.log(`window closed: ${EVENTS} of ${EVENTS} plans finished, 0 doubled; ${storedBefore} had arrived before`);
    expect(storedBefore).toBeGreaterThan(0);
    expect(storedBefore).toBeLessThan(EVENTS);
  });
});

async function journey(planId: string): Promise<void> {
  const at = new AtTheScreen(ward, await ward.launch(), { planId });
  await at.reload();
  await at.press("sign");
}
async function stepsOfAJourney(): Promise<string[]> {
  const steps: string[] = [];
  ward.proxy.bend = ({ step }) => {
    steps.push(step);
    return undefined;
  };
  await journey(newPlanId());
  ward.proxy.bend = () => undefined;
  return steps;
}
/** That request still arrives and is worked on; nobody hears the answer, and nothing comes after it. */
function closeAfter(last: number): Promise<void> {
  const { onHang } = ward.proxy;
  let n = -1;
  return new Promise((done) => {
    // The page is gone: no time-out of its own wakes it up again.
    ward.proxy.onHang = () => {};
    ward.proxy.bend = () => {
      n++;
      if (n > last) return { before: () => "hang" };
      if (n < last) return undefined;
      return {
        after: () => {
          setImmediate(() => {
            ward.proxy.onHang = onHang;
            done();
          });
          return "hang";
        },
      };
    };
  });
}

const DAYS = { journeys: 500, chance: 0.1 };

describe("REL-25 GATE-13: a long day of reading, drafting and signing in which every tenth request goes wrong", () => {
  it("INV-1 INV-2 INV-3 ends with every plan in the chart once", async () => {
    const roll = seeded(20261125);
    let window: Window = await ward.launch();
    let faults = 0;
    let presses = 0;
    const lost: string[] = [];
    const doubled: string[] = [];
    for (let n = 0; n < DAYS.journeys; n++) {
      if (n % 50 === 0) await ward.control({ reseed: true, clearLogs: true });
      if (n % 25 === 0 || window.session.state().kind !== "open" || !window.session.can("CarePlan", "c"))
        window = await ward.launch();
      const at = new AtTheScreen(ward, window);
      let renewal: (typeof FAULTS)[number]["renewal"];
      ward.proxy.bend = ({ step }) => {
        if (step.startsWith("POST token")) return renewal;
        if (!step.includes("transaction") && !step.startsWith("GET ")) return undefined;
        if (step.startsWith("GET .well-known") || roll() >= DAYS.chance) return undefined;
        const kinds = FAULTS.filter((fault) => strikes(fault.at, step));
        const fault = kinds[Math.floor(roll() * kinds.length)];
        faults++;
        renewal = fault?.renewal;
        return fault?.bend;
      };
      await at.reload();
      if (roll() < 0.5) await at.press("draft");
      await at.press("sign");
      ward.proxy.bend = () => undefined;
      if (!(await at.finish("sign"))) lost.push(`${n}: ${at.last?.report.problem?.title}`);
      for (const [key, { length }] of ward.held(at.planId)) if (length > 1) doubled.push(`${n}: ${key} × ${length}`);
      presses += at.presses.length;
      window = at.window;
    }
    console.log(
      `a long day: ${DAYS.journeys} journeys, ${faults} faults, ${presses} presses; ${lost.length} lost, ${doubled.length} doubled`,
    );
    expect(faults).toBeGreaterThan(DAYS.journeys);
    expect(lost).toEqual([]);
    expect(doubled).toEqual([]);
  });
});

/** Bytes that this process, and the practice EHR in it, still holds when nothing is left to clear away. */
function heldBytes(): number {
  setFlagsFromString("--expose-gc");
  (runInNewContext("gc") as () => void)();
  return process.memoryUsage().heapUsed;
}

describe("REL-25 GATE-13: a record system that serves for days", () => {
  const ROUNDS = { rounds: 6, plans: 50 };
  /** Of the release gate for what stays open (GATE-12): what is held at the end over what is held once everything was run. */
  const GROWTH = 1.1;

  it("holds no more after each round of signed plans, once its charts are put back", async () => {
    const held: number[] = [];
    for (let round = 0; round < ROUNDS.rounds; round++) {
      const window = await ward.launch();
      for (let n = 0; n < ROUNDS.plans; n++) {
        const at = new AtTheScreen(ward, window);
        await at.press("sign");
        expect(at.last?.report.outcome).toBe("saved");
      }
      await ward.control({ reseed: true, clearLogs: true });
      held.push(heldBytes());
    }
    console.log(`practice EHR: held ${held.map((bytes) => (bytes / 1e6).toFixed(1)).join(", ")} MB`);
    expect(held.at(-1)! / held[1]!).toBeLessThanOrEqual(GROWTH);
  });
});
