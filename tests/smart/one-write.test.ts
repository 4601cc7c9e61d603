/** One entry on its way into the record: its fate, however the answer comes, and what a refusal of it teaches. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { bundleOf, itemsOf } from "../../src/fhir/drafts.ts";
import { capabilitiesOf } from "../../src/smart/capabilities.ts";
import { learnFrom, writeOne } from "../../src/smart/single-writes.ts";
import { type FhirResource, fhirProblem } from "../../src/smart/transport.ts";
import { no, RecordInMemory, yes } from "./record-in-memory.ts";
import { drafts } from "./stored-plan.ts";
import { AT, SIGNER, singleJobOver } from "./writing-job.ts";

let record: RecordInMemory;
let waits: number[];
let steps: string[];
beforeEach(() => {
  record = new RecordInMemory();
  waits = [];
  steps = [];
  vi.spyOn(Math, "random").mockReturnValue(0);
});
afterEach(() => vi.restoreAllMocks());

const job = () =>
  singleJobOver(record, {
    context: { wait: async (ms) => void waits.push(ms), onStep: (step) => steps.push(step) },
  });

describe("REL-25 one write whose fate is not clear", () => {
  const entry = (act: Act = "draft") => itemsOf(bundleOf(drafts(), act, { signer: SIGNER, at: AT }))[0]!;
  const cut = no("offline");
  const one = (bend: RecordInMemory["bend"], what = entry(), which = job()) => {
    record.bend = bend;
    return writeOne(which, what);
  };
  const writesOnly =
    (answers: (nth: number, go: () => ReturnType<RecordInMemory["bend"]>) => ReturnType<RecordInMemory["bend"]>) =>
    (call: { how: string }, go: () => ReturnType<RecordInMemory["bend"]>, nth: number) =>
      call.how === "write" ? answers(nth, go) : go();

  it("INV-1 goes out once more after two looks, two seconds apart, found nothing of it", async () => {
    expect(await one(writesOnly((nth, go) => (nth === 1 ? cut : go())))).toEqual({ place: "Condition/n1" });
    expect(record.writes).toHaveLength(2);
    expect(waits).toEqual([500, 1000, 2000]);
    expect(steps).toEqual(["sending", "looking", "sending"]);
  });

  it("INV-4 and stays unclear is not known: it goes out twice and never more", async () => {
    expect(await one(writesOnly(() => cut))).toEqual({ fate: "unknown", problem: cut.problem });
    expect(record.writes).toHaveLength(2);
    expect(waits).toEqual([500, 1000, 2000, 500, 1000, 2000]);
  });

  it("REL-26 is found where it was stored although the answer was lost", async () => {
    const lost = writesOnly((_nth, go) => {
      go();
      return cut;
    });
    expect(await one(lost)).toEqual({ place: "Condition/n1" });
    expect(record.writes).toHaveLength(1);
    expect(waits).toEqual([500]);
  });

  it("REL-37 is not sent again while the record system cannot be searched", async () => {
    record.bendSearch = () => no("server", { status: 500 });
    expect(await one(writesOnly(() => cut))).toMatchObject({ fate: "unknown" });
    expect(record.writes).toHaveLength(1);
    expect(waits).toEqual([500, 1000, 2000, 4000]);
  });

  it("REL-37 is not sent again when the empty looks were too close to each other", async () => {
    let looks = 0;
    record.bendSearch = (_call, go) => (++looks % 2 === 0 ? no("server") : go());
    expect(await one(writesOnly(() => cut))).toMatchObject({ fate: "unknown" });
    expect(record.writes).toHaveLength(1);
  });

  it("R4 is found by the id in the answer where no place is named, and looked for where that is of another type", async () => {
    const body = (value: FhirResource | undefined) =>
      writesOnly((_nth, go) => {
        go();
        return yes(value, 201);
      });
    expect(await one(body({ resourceType: "Condition", id: "n1" }))).toEqual({ place: "Condition/n1" });
    expect(waits).toEqual([]);
    record.held.clear();
    expect(await one(body({ resourceType: "OperationOutcome", id: "n9" }))).toEqual({ place: "Condition/n2" });
    expect(waits).toEqual([500]);
    record.held.clear();
    expect(await one(body({ resourceType: "Condition" }))).toEqual({ place: "Condition/n3" });
  });

  it("INV-4 and was taken, but is nowhere, is not known", async () => {
    const answer = await one(writesOnly(() => yes(undefined, 201)));
    expect(answer).toMatchObject({ fate: "unknown", problem: { title: "It is not known where this was stored." } });
  });

  it("REL-12 is repeated after the time that a busy record system names, three times at most", async () => {
    const busy = no("busy", { status: 429, retryAfterSeconds: 7 });
    expect(await one(writesOnly((nth, go) => (nth <= 2 ? busy : go())))).toEqual({ place: "Condition/n1" });
    expect(waits).toEqual([7000, 7000]);
    waits.length = 0;
    record.held.clear();
    record.calls.length = 0;
    expect(await one(writesOnly(() => busy))).toEqual({ fate: "refused", problem: busy.problem });
    expect(waits).toEqual([7000, 7000, 7000]);
    expect(record.writes).toHaveLength(4);
  });

  it("REL-12 is repeated slower and slower where it names none", async () => {
    const busy = no("busy", { status: 429 });
    expect(await one(writesOnly(() => busy))).toMatchObject({ fate: "refused" });
    expect(waits).toEqual([2000, 4000, 8000]);
  });

  it("REL-12 does not wait for longer than a minute", async () => {
    const asked = (seconds: number) => no("busy", { status: 429, retryAfterSeconds: seconds });
    expect(await one(writesOnly(() => asked(61)))).toMatchObject({ fate: "refused" });
    expect(waits).toEqual([]);
    expect(await one(writesOnly((nth, go) => (nth === 2 ? asked(60) : go())))).toMatchObject({ place: "Condition/n1" });
    expect(waits).toEqual([60_000]);
  });

  it("P1 goes out without its condition where the record system does not know the condition, and the next one too", async () => {
    const lacks = no("conflict", {
      status: 412,
      outcome: [{ severity: "error", code: "not-supported", text: "", at: [] }],
    });
    const which = job();
    const answer = await one(
      ({ how, headers }, go) => (how === "write" && headers?.["if-none-exist"] ? lacks : go()),
      entry(),
      which,
    );
    expect(answer).toEqual({ place: "Condition/n1" });
    expect(record.calls.filter(({ how }) => how === "write").map(({ headers }) => headers)).toEqual([
      { "if-none-exist": expect.stringContaining(":condition") },
      {},
    ]);
    expect((await capabilitiesOf(which.session)).refusals).toEqual([{ what: "conditional-create" }]);
  });

  it("I5 with a conflict: our own earlier sending is recognised, anything else is left as it is", async () => {
    const conflict = no("conflict", { status: 412 });
    const stored = writesOnly((_nth, go) => {
      go();
      return conflict;
    });
    expect(await one(stored)).toEqual({ place: "Condition/n1" });
    record.held.clear();
    expect(await one(writesOnly(() => conflict))).toEqual({ fate: "conflict", problem: conflict.problem });
    record.put({ ...(entry().resource as unknown as FhirResource), code: { text: "Another finger" } }, "n1");
    expect(await one(writesOnly(() => conflict))).toEqual({ fate: "conflict", problem: conflict.problem });
    expect(waits).toEqual([]);
  });

  it("I5 over a stored version: found changed as it was sent, it is stored; in its old version, it goes out once more", async () => {
    const draft = record.put(entry().resource as unknown as FhirResource);
    const existing = { condition: { reference: "Condition/n1", version: "1", resource: draft as never } };
    const update = itemsOf(bundleOf(drafts(), "sign", { signer: SIGNER, at: AT, existing }))[0]!;
    expect(update).toMatchObject({ method: "PUT", url: "Condition/n1", ifMatch: 'W/"1"' });
    const answer = await one(
      writesOnly((nth, go) => (nth === 1 ? cut : go())),
      update,
    );
    expect(answer).toEqual({ place: "Condition/n1" });
    expect(record.writes).toEqual(["PUT Condition/n1", "PUT Condition/n1"]);
    const conflict = await one(
      writesOnly(() => no("conflict", { status: 412 })),
      update,
    );
    expect(conflict, "it stands as it was sent by now").toEqual({ place: "Condition/n1" });
  });

  it("REL-34 is not sent again by a sign-in that has ended", async () => {
    const ended = no("ended");
    expect(await one(writesOnly(() => ended))).toEqual({ fate: "refused", problem: ended.problem });
    expect(record.writes).toHaveLength(1);
  });
});

describe("P7 what a refusal of one thing teaches", () => {
  const entries = itemsOf(bundleOf(drafts(), "sign", { signer: SIGNER, at: AT }));
  const [condition] = entries;
  const provenance = entries.at(-1)!;
  it.each([
    ["a kind that may not be created", condition!, "refused", [{ what: "create", type: "Condition" }]],
    ["a kind that is not known", condition!, "unsupported", [{ what: "create", type: "Condition" }]],
    [
      "a kind that may not be changed",
      { ...condition!, method: "PUT" as const },
      "refused",
      [{ what: "update", type: "Condition" }],
    ],
    ["a record of who did what that is not accepted", provenance, "invalid", [{ what: "create", type: "Provenance" }]],
    ["an earlier plan's item", { ...condition!, key: "old:x" }, "refused", []],
    ["a conflict", condition!, "conflict", []],
    ["a fault", condition!, "server", []],
  ] as const)("%s", async (_what, entry, kind, refusals) => {
    const one = job();
    expect(learnFrom(one, entry, fhirProblem(kind))).toBe(refusals.length > 0);
    const known = (await capabilitiesOf(one.session)).refusals.map((r) => ({ ...r, said: undefined }));
    expect(known).toEqual(refusals.map((r) => ({ ...r, said: undefined })));
  });
});
