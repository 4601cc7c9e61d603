import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { bundleJson, bundleOf, itemsOf } from "../../src/fhir/drafts.ts";
import { FAULTS } from "./faults.ts";
import { NEW_PLANS } from "./flows.ts";
import { emptyTally, matrixOf, printed, type Tally } from "./matrix.ts";
import { openWard, type Ward, type WriteBack } from "./ward.ts";

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());

describe("REL-25 GATE-01: every fault at every step of writing a new plan", () => {
  let tally: Tally = emptyTally();
  beforeAll(async () => {
    tally = await matrixOf(ward, NEW_PLANS);
    console.log(printed("new plans", tally));
  }, 1_800_000);

  it("is struck by enough kinds of fault, and each of them really strikes", () => {
    expect(FAULTS.length).toBeGreaterThanOrEqual(60);
    expect(tally.runs).toBeGreaterThanOrEqual(590);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 loses nothing: whoever goes on as the screen says gets the whole plan", () =>
    expect(tally.lost).toEqual([]));
  it("INV-2 doubles nothing", () => expect(tally.duplicated).toEqual([]));
  it("INV-3 writes nothing of, or to, another patient", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record system does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
  it("ends in one of three outcomes, each of which occurs", () =>
    expect(Object.keys(tally.outcomes).sort()).toEqual(["not-saved", "saved", "unknown"]));
});

/** What is easily written instead: send, send again when there is no good answer, and believe the good one. */
const naiveWriter: WriteBack = async (session, items, act, { at, known = {} }) => {
  const bundle = bundleOf(items, act, { signer: { reference: "Practitioner/imke-harrowgate" }, at, existing: known });
  for (const { request } of bundle.entry ?? []) delete request?.ifNoneExist;
  let sent = await session.fhir.transaction(bundleJson(bundle));
  for (let again = 0; again < 2 && !sent.ok; again++) sent = await session.fhir.transaction(bundleJson(bundle));
  const outcome = sent.ok ? ("saved" as const) : ("not-saved" as const);
  const written = itemsOf(bundle).filter(({ resource }) => resource.resourceType !== "Provenance");
  return { act, outcome, items: written.map(({ key }) => ({ key, title: key, outcome, reason: "It was sent." })) };
};

describe("REL-25 GATE-20: the same faults against a writer that sends again and believes the answer", () => {
  it("INV-2 INV-4 are reported as duplicates and as false words, or the matrix would see nothing", async () => {
    const tally = await matrixOf(ward, NEW_PLANS.slice(0, 1), {
      writer: naiveWriter,
      only: (step) => step === "POST transaction",
    });
    console.log(printed("a naive writer", tally));
    expect(tally.duplicated.length).toBeGreaterThan(0);
    expect(tally.falseWords.join("\n")).toMatch(/is called saved and stands there \d times/);
    expect(tally.falseWords.join("\n")).toContain("is called not saved and was written");
    expect(tally.duplicated.join("\n")).toContain("the connection is cut, after it was stored");
  });
});
