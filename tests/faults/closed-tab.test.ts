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

/** The job from the launch to the signature, in a tab that already has the answers. */
async function job(planId: string): Promise<void> {
  await room.begin({}, planId);
  await room.toSigning();
  await press(room.page, SIGN);
  await room.page.getByText("Signed and saved").first().waitFor();
}
/** Leaves the page once so many requests of the job have reached the record system: nothing of it runs on, no answer is heard. */
async function leftAfter(last: number, planId: string): Promise<void> {
  let n = 0;
  const reached = new Promise<void>((done) => {
    room.proxy.bend = () => {
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
  const dying = job(planId).catch(() => undefined);
  await reached;
  // To another page: what closing the tab does to a page that waits, while the tab's storage is still there to be looked at.
  await room.page.goto(`${room.stage.practice.pluginUrl}/config.json`);
  await dying;
  room.proxy.onHang = onHang;
  room.proxy.bend = () => undefined;
}

describe("REL-29 GATE-03: the tab is left after each event on the network between launch and signature, in the browser", () => {
  it(`INV-1 INV-2 ${EVENTS} of ${EVENTS} end in one signed plan after the next launch, or the answers are still there to sign`, async () => {
    const steps: string[] = [];
    room.proxy.bend = ({ step }) => {
      steps.push(step);
      return undefined;
    };
    await job(crypto.randomUUID());
    room.proxy.bend = () => undefined;
    expect(steps.length, "events of the whole job").toBeGreaterThanOrEqual(EVENTS);
    // The thirty last ones: all of those of the signature are among them.
    const from = steps.length - EVENTS;
    let arrived = 0;
    for (let event = from; event < steps.length; event++) {
      await room.clean();
      const planId = crypto.randomUUID() as string;
      await leftAfter(event + 1, planId);
      const where = `left after event ${event + 1}, ${steps[event]}`;
      const stored = room.held(planId).size > 0;
      if (stored) arrived++;
      await room.relaunch();
      await room.toSigning();
      // What had arrived is told as such, and never signed a second time; what had not is there to be signed.
      const isAsked = await room.page.getByRole("region", { name: "Is this the injury of an earlier plan?" }).count();
      if (stored) expect(isAsked, where).toBe(1);
      else {
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
    console.log(`tab left: ${EVENTS} of ${EVENTS} end in one plan, 0 doubled; ${arrived} had arrived before`);
    expect(arrived).toBeGreaterThan(0);
    expect(arrived).toBeLessThan(EVENTS);
  });
});
