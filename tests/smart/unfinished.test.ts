/** A revision that is stopped where the record system takes one item at a time: against the practice EHR, over the network. */
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { endOf, revisionOf } from "../../src/fhir/revision.ts";
import { control as controlOf, launched, openPractice, PATIENT, type Practice, planFor } from "./on-practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(async () => {
  vi.unstubAllGlobals();
  await practice.close();
});

const control = (setting: object) => controlOf(practice, setting);
const SINGLY = { capabilities: { transaction: false } };
const SIGNER = { reference: "Practitioner/imke-harrowgate", display: "Dr Imke Harrowgate" };
const [AT, LATER, LAST] = ["2026-11-25T15:10:00+01:00", "2026-11-25T15:40:00+01:00", "2026-11-25T16:10:00+01:00"];
/** The modules of the page that is open: each launch loads them anew. */
const rooms = async () => ({
  ...(await import("../../src/smart/write-back.ts")),
  ...(await import("../../src/smart/unfinished.ts")),
  ...(await import("../../src/smart/read-chart.ts")),
  ...(await import("../../src/fhir/chart.ts")),
});
/** A new launch in a tab of its own, after the chart was read: no journal tells of what went before. */
async function launchedAnew() {
  const session = await launched(practice);
  const { readChart, chartFrom } = await rooms();
  const parts = await readChart(session, () => {});
  const { earlierPlans } = chartFrom(parts as Parameters<typeof chartFrom>[0], {
    patientId: PATIENT,
    today: "2026-11-25",
    base: session.context.base,
  });
  return { session, earlierPlans };
}
const inForce = () =>
  (practice.stored("CarePlan") as unknown as { status: string; subject: { reference: string } }[]).filter(
    ({ status, subject }) => status === "active" && subject.reference === `Patient/${PATIENT}`,
  ).length;
const wait = async () => {};

describe("a revision written one by one whose connection ends for good after k writes", () => {
  /** Signs a plan, then another in its place, of which only so many writes get through. True when it was not stopped at all. */
  async function revisedUntil(k: number, server: object = SINGLY): Promise<boolean> {
    await control({ reset: true, clearLogs: true, reseed: true, ...server });
    const first = await launchedAnew();
    const { writeBack } = await rooms();
    const old = crypto.randomUUID();
    const signed = await writeBack(first.session, planFor(first.session, old), "sign", { at: AT!, wait });
    expect(signed.outcome).toBe("saved");
    const next = await launchedAnew();
    const earlier = next.earlierPlans.find((plan) => plan.planId === old)!;
    const acting = { signer: SIGNER, at: LATER!, why: "seen again" };
    const { items, changes } = revisionOf(planFor(next.session, crypto.randomUUID()), earlier, acting);
    // The new plan and its findings are created; all else goes over what stands.
    const created = items.filter((i) => !i.stands && !i.refines && i.kind !== "provenance").length;
    await control({
      faults: [
        { method: "POST", path: "^/fhir/[A-Z]", skip: Math.min(k, created), times: 500, kind: "cut-before" },
        { method: "PUT", skip: Math.max(0, k - created), times: 500, kind: "cut-before" },
      ],
    });
    const plansSeen = practice.stored("CarePlan").map(({ id }) => `CarePlan/${id}`);
    const { writeBack: writeAgain } = await rooms();
    const report = await writeAgain(next.session, items, "sign", { at: LATER!, wait, changes, plansSeen });
    await control({ reset: true, ...server });
    return report.outcome === "saved";
  }

  it("REL-29 X2 INV-1: whenever both plans stand in force, the next launch finds it and ends the earlier one; never is none in force", async () => {
    let both = 0;
    let k = 0;
    for (; !(await revisedUntil(k)); k++) {
      const where = `after ${k} writes`;
      expect(inForce(), where).toBeGreaterThan(0);
      const { session, earlierPlans } = await launchedAnew();
      const { unfinishedPlans, endingRecord, writeBack } = await rooms();
      const found = await unfinishedPlans(session, earlierPlans);
      if (inForce() < 2) continue;
      both++;
      expect(
        found.map((one) => one.replaces?.status),
        where,
      ).toEqual(["active"]);
      const [{ replaces, rest, planId, stored }] = found as [(typeof found)[number]];
      const { changes } = endOf(replaces!, { signer: SIGNER, at: LAST!, why: "seen again" });
      const known = Object.fromEntries(
        stored.items.map(({ key, reference, version }) => [key, { reference, ...(version ? { version } : {}) }]),
      );
      const items = rest.length > 0 ? rest : [endingRecord(planId, "0.1.0")];
      const ended = await writeBack(session, items, "sign", { at: LAST!, wait, known, changes });
      expect([ended.outcome, ended.problem], where).toEqual(["saved", undefined]);
      expect(inForce(), where).toBe(1);
      const after = await launchedAnew();
      const left = await (await rooms()).unfinishedPlans(after.session, after.earlierPlans);
      expect(
        left.map((one) => [
          one.planId === planId ? "new" : "old",
          one.stored.items.map(({ key, act }) => `${key} ${act}`),
        ]),
        where,
      ).toEqual([]);
    }
    expect(k, "writes of a revision").toBeGreaterThan(3);
    expect(both, "it did come to two plans in force").toBeGreaterThan(0);
    expect(inForce(), "not stopped, one is in force").toBe(1);
    console.log(
      `revision stopped after each of ${k} writes: ${both} times two plans in force, each time found and ended`,
    );
  });

  it.each([
    ["one by one", SINGLY],
    ["in one step", {}],
  ])(
    "REL-29 X2 one that came through %s leaves nothing unfinished: what the new plan took over is not offered to be taken back with the old one",
    async (_, server) => {
      expect(await revisedUntil(500, server)).toBe(true);
      expect(inForce()).toBe(1);
      const { session, earlierPlans } = await launchedAnew();
      expect(earlierPlans).toHaveLength(2);
      expect(await (await rooms()).unfinishedPlans(session, earlierPlans)).toEqual([]);
    },
  );
});
