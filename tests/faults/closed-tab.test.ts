/** The tab is closed in the middle of the job, after each single event on the network, in a real browser; then the doctor launches again. */
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { press } from "../browser/journey.ts";
import { openScreenRoom, type ScreenRoom } from "./screen.ts";

let room: ScreenRoom;
beforeAll(async () => {
  room = await openScreenRoom();
});
afterAll(() => room?.close());
beforeEach(() => room.clean());
afterEach(() => {
  room.proxy.bend = () => undefined;
  room.proxy.onDone = () => undefined;
});

const EVENTS = 30;
const SIGN = /^Sign and write \d+ items? to the chart$/;

/** What the browser asks by itself before a request to another origin changes nothing. */
const isEvent = (method: string) => method !== "OPTIONS";

/** The job from the launch to the signature, in a tab that already has the answers. */
async function job(planId: string): Promise<void> {
  await room.begin({}, planId);
  await room.toSigning();
  await press(room.page, SIGN);
  await room.page.getByText("Signed and saved").first().waitFor();
}
/** Closes the tab once so many requests of the job have reached the record system: nothing of it runs on, no answer is heard. */
async function closedAfter(last: number, planId: string): Promise<void> {
  let n = 0;
  const reached = new Promise<void>((done) => {
    room.proxy.bend = ({ method }) => {
      if (!isEvent(method)) return undefined;
      n++;
      if (n > last) return { before: () => "cut" };
      if (n < last) return undefined;
      return {
        after: () => {
          done();
          return "hang";
        },
      };
    };
  });
  const { onHang } = room.proxy;
  room.proxy.onHang = () => {};
  let isClosing = false;
  const dying = job(planId).catch((fault: unknown) => {
    // A closed tab ends what the job waits for; anything before that is a fault of the job.
    if (!isClosing) throw fault;
  });
  await Promise.race([reached, dying]);
  expect(n, "the job asks as often as before").toBeGreaterThanOrEqual(last);
  isClosing = true;
  await room.reopened();
  await dying;
  room.proxy.onHang = onHang;
  room.proxy.bend = () => undefined;
}

describe("REL-29 GATE-03: the tab is closed after each event on the network between launch and signature, in the browser", () => {
  it(`INV-1 INV-2 ${EVENTS} of ${EVENTS} end in one signed plan after the next launch, or the answers are still there to sign`, async () => {
    // The answers are given by hand once, which is not among the events.
    await room.begin();
    const steps: string[] = [];
    room.proxy.bend = ({ step, method }) => {
      if (isEvent(method)) steps.push(step);
      return undefined;
    };
    await job(crypto.randomUUID());
    room.proxy.bend = () => undefined;
    expect(steps.length, "events of the whole job").toBeGreaterThanOrEqual(EVENTS);
    // Those around the one request that writes: half of them before it, it and the rest after.
    const write = steps.indexOf("POST transaction");
    const from = Math.min(write - EVENTS / 2, steps.length - EVENTS);
    let arrived = 0;
    for (let event = from; event < from + EVENTS; event++) {
      await room.clean();
      const planId = crypto.randomUUID() as string;
      await closedAfter(event + 1, planId);
      const where = `closed after event ${event + 1}, ${steps[event]}`;
      const stored = room.held(planId).size > 0;
      if (stored) arrived++;
      // Once it was called saved, the answers went with it.
      const answersLeft = await room.keepsAnswers();
      await room.relaunch();
      await room.toSigning();
      // What had arrived is told as such, and never signed a second time; what had not is there to be signed.
      if (stored) {
        const asks = room.page.getByRole("region", { name: "Is this the injury of an earlier plan?" });
        expect(await asks.count(), where).toBe(answersLeft ? 1 : 0);
        expect(await room.page.getByRole("button", { name: SIGN }).count(), where).toBe(0);
      } else {
        await press(room.page, SIGN);
        await room.page.getByText("Signed and saved").first().waitFor();
      }
      const held = [...room.held(planId).values()];
      expect(held.length, where).toBeGreaterThan(3);
      expect(
        held.every((copies) => copies.length === 1 && copies[0]?.signed),
        where,
      ).toBe(true);
    }
    console.log(`tab closed: ${EVENTS} of ${EVENTS} end in one plan, 0 doubled; ${arrived} had arrived before`);
    expect(arrived).toBeGreaterThan(0);
    expect(arrived).toBeLessThan(EVENTS);
  });
});
