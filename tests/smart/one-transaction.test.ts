/** The plan in one step, each answer of the record system looked at by itself, and what is told of it. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { type BundleItem, bundleOf, type DraftItem, itemsOf } from "../../src/fhir/drafts.ts";
import { type Capabilities, type TypeOffer, UNKNOWN } from "../../src/smart/capabilities.ts";
import { filingOf } from "../../src/smart/filing.ts";
import {
  foundAs,
  lacksCondition,
  placeIn,
  reportOf,
  send,
  titleOf,
  titlesOf,
  unconditioned,
  unsure,
  verdictOf,
} from "../../src/smart/one-transaction.ts";
import { seenIn } from "../../src/smart/read-chart.ts";
import type { Look, Looks } from "../../src/smart/stored-look.ts";
import { type FhirAnswer, type FhirResource, fhirProblem } from "../../src/smart/transport.ts";
import type { ItemOutcome, Job, WriteContext } from "../../src/smart/write-report.ts";
import { no, RecordInMemory, yes } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts, PLAN_ID } from "./stored-plan.ts";
import { AT, jobOver, SIGNER } from "./writing-job.ts";

const KEPT = "Your draft is kept on this page.";

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

const job = (act: Act = "sign", more: Partial<WriteContext> = {}, items: readonly DraftItem[] = drafts()): Job =>
  jobOver(record, {
    items,
    act,
    context: { wait: async (ms) => void waits.push(ms), onStep: (step) => steps.push(step), ...more },
  });
const bundle = (act: Act = "sign") => bundleOf(drafts(), act, { signer: SIGNER, at: AT });
const entries = (act: Act = "sign") => itemsOf(bundle(act));
const stored = (entry: BundleItem, id = `${entry.key.slice(0, 10)}`, version = "1") =>
  ({ ...entry.resource, id, meta: { ...entry.resource.meta, versionId: version } }) as unknown as FhirResource;
const found = (resource: FhirResource, copies?: string[]): Look => ({
  state: "found",
  resource,
  copies: copies ?? [`${resource.resourceType}/${resource.id}`],
});
const looksOf = (of: (entry: BundleItem) => Look | undefined, act: Act = "sign"): Looks =>
  new Map(
    entries(act).flatMap((entry) => {
      const seen = of(entry);
      return seen ? [[entry.key, seen] as const] : [];
    }),
  );
const outcomes = (report: { items: readonly ItemOutcome[] }) => report.items.map(({ outcome }) => outcome);

describe("what an answer to a transaction means", () => {
  const inside = (...statuses: (string | undefined)[]): FhirAnswer<FhirResource> =>
    yes({
      resourceType: "Bundle",
      entry: statuses.map((status) => (status === undefined ? {} : { response: { status } })),
    });
  it.each<[string, FhirAnswer<FhirResource | undefined>, string]>([
    ["taken, with nothing to say", yes(undefined), "committed"],
    ["each part taken", inside("201 Created", "200 OK"), "committed"],
    ["parts of which nothing is said", inside(undefined, "200"), "committed"],
    ["a part that is nothing", yes({ resourceType: "Bundle", entry: [null] }), "committed"],
    ["one part not taken", inside("201 Created", "422 Unprocessable"), "unknown"],
    ["a part with a senseless status", inside("x200"), "unknown"],
    ["the sign-in has ended before it went out", no("ended"), "refused"],
    ["the page is locked", no("locked"), "refused"],
    ["cut off", no("offline"), "unknown"],
    ["no answer in time", no("timeout"), "unknown"],
    ["401: the token died on the way", no("ended", { status: 401 }), "unknown"],
    ["400", no("invalid", { status: 400 }), "refused"],
    ["499", no("invalid", { status: 499 }), "refused"],
    ["399", no("not-fhir", { status: 399 }), "unknown"],
    ["500", no("server", { status: 500 }), "unknown"],
    ["501: it cannot do this", no("unsupported", { status: 501 }), "refused"],
    ["409: another version stands in the way", no("conflict", { status: 409 }), "conflict"],
    ["too large an answer", no("too-large", { status: 413 }), "unknown"],
  ])("REL-25 %s", (_name, answer, verdict) => expect(verdictOf(answer)).toBe(verdict));

  it("P1 R4 412 with 'not-supported' says that it knows no conditional create, and nothing else does", () => {
    const issue = (code: string) => [{ severity: "error", code, text: "", at: [] }];
    const lacks = fhirProblem("conflict", { status: 412, outcome: issue("not-supported") });
    expect(lacksCondition(lacks)).toBe(true);
    expect(verdictOf({ ok: false, problem: lacks })).toBe("refused");
    expect(lacksCondition(fhirProblem("conflict", { status: 409, outcome: issue("not-supported") }))).toBe(false);
    expect(lacksCondition(fhirProblem("conflict", { status: 412, outcome: issue("conflict") }))).toBe(false);
    expect(lacksCondition(fhirProblem("conflict", { status: 412 }))).toBe(false);
    const both = [...issue("invalid"), ...issue("not-supported")];
    expect(lacksCondition(fhirProblem("conflict", { status: 412, outcome: both }))).toBe(true);
  });

  it.each([
    [`${BASE}/Condition/12/_history/3`, "Condition/12"],
    [`${BASE}/Condition/a-b.C`, "Condition/a-b.C"],
    ["Condition/12", "Condition/12"],
    [`${BASE}/CarePlan/12`, undefined],
    [`${BASE}/x/Condition/12`, undefined],
    [`${BASE}/Condition/`, undefined],
    ["https://evil.example/fhir/Condition/12", undefined],
    [undefined, undefined],
  ])("REL-35 SEC-10 the place %s", (location, place) => expect(placeIn(BASE, "Condition", location)).toBe(place));
});

describe("a transaction for a record system that knows no conditional create", () => {
  const ALL: TypeOffer = { create: true, update: true, search: true, conditionalCreate: true };
  const lacking = (...types: string[]): Capabilities => ({
    ...UNKNOWN,
    offers: (type) => ({ ...ALL, conditionalCreate: !types.includes(type) }),
  });
  const filing = (capabilities: Capabilities) => filingOf(drafts(), capabilities, () => true);
  const ABSENT = looksOf(() => ({ state: "absent" }));

  it("P1 goes out as it is where every kind knows it", () =>
    expect(unconditioned(bundle(), filing(UNKNOWN), ABSENT)).toEqual(bundle()));

  it("P1 leaves out the condition of those kinds that do not know it, and nothing else", () => {
    const sent = unconditioned(bundle(), filing(lacking("Condition", "CarePlan")), ABSENT);
    expect(sent.entry?.map(({ request }) => request?.ifNoneExist !== undefined)).toEqual([false, true, false, true]);
    expect(sent.entry?.map(({ resource }) => resource)).toEqual(bundle().entry?.map(({ resource }) => resource));
    expect(sent.entry?.map(({ request }) => request?.method)).toEqual(["POST", "POST", "POST", "POST"]);
  });

  it("I2 does not send again what is new each time and was found already", () => {
    const looks = looksOf((entry) =>
      entry.key.startsWith("provenance") ? found(stored(entry, "r1")) : { state: "absent" },
    );
    const of = (capabilities: Capabilities) =>
      unconditioned(bundle(), filing(capabilities), looks).entry?.map(({ resource }) => resource?.resourceType);
    expect(of(lacking("Provenance"))).toEqual(["Condition", "ServiceRequest", "CarePlan"]);
    expect(of(lacking("CarePlan"))).toHaveLength(4);
    const absent = unconditioned(bundle(), filing(lacking("Provenance")), ABSENT);
    expect(absent.entry).toHaveLength(4);
  });

  it("D9 what pointed at a document that stands already points to where it stands", () => {
    const document: DraftItem = {
      ...drafts()[0]!,
      key: "document",
      kind: "document",
      urn: "urn:uuid:6f1c2a10-0000-4000-8000-00000000d0c0",
      resource: {
        resourceType: "DocumentReference",
        status: "current",
        content: [{ attachment: {} }],
        meta: { tag: [{ system: "https://fingerpost.example/plan-item", code: `${PLAN_ID}:document` }] },
      },
    };
    const [condition, request, plan] = drafts();
    const pointing = {
      ...plan!,
      resource: { ...plan!.resource, supportingInfo: [{ reference: document.urn }] },
    } as DraftItem;
    const whole = bundleOf([condition!, request!, document, pointing], "sign", { signer: SIGNER, at: AT });
    const seen: FhirResource = { resourceType: "DocumentReference", id: "d7" };
    const sent = unconditioned(whole, filing(lacking("DocumentReference")), new Map([["document", found(seen)]]));
    expect(sent.entry?.map(({ resource }) => resource?.resourceType)).toEqual([
      "Condition",
      "ServiceRequest",
      "CarePlan",
    ]);
    expect(sent.entry?.at(-1)?.resource).toMatchObject({ supportingInfo: [{ reference: "DocumentReference/d7" }] });
  });
});

describe("one sending and its fate", () => {
  const inStore = (response = true): FhirAnswer<FhirResource> => {
    for (const entry of entries()) record.put(stored(entry), entry.key.slice(0, 10));
    const places = entries().map(({ key, resource }) => ({
      response: { status: "201 Created", location: `${BASE}/${resource.resourceType}/${key.slice(0, 10)}/_history/1` },
    }));
    return yes({ resourceType: "Bundle", ...(response ? { entry: places } : {}) });
  };
  const sendings = () => record.calls.filter(({ how }) => how === "transaction").length;
  const answering = (answer: (nth: number) => FhirAnswer<FhirResource | undefined>) => {
    record.bend = ({ how }, go, nth) => (how === "transaction" ? answer(nth) : go());
  };

  it("I7 is saved once it was read back at the places that were named", async () => {
    answering(() => inStore());
    expect(await send(job(), bundle())).toMatchObject({ outcome: "saved", provenance: { outcome: "saved" } });
    expect(record.calls.map(({ how, at }) => `${how} ${at}`)).toEqual([
      "transaction ",
      "read Condition/condition",
      "read ServiceRequest/request",
      "read CarePlan/plan",
      "read Provenance/provenance",
    ]);
    expect(waits).toEqual([]);
    expect(steps).toEqual(["sending", "confirming"]);
  });

  it("needs nobody who listens to its steps", async () => {
    answering((nth) => (nth === 1 ? no("offline") : inStore()));
    const { onStep: _nobody, ...context } = job().context;
    expect(await send({ ...job(), context }, bundle())).toMatchObject({ outcome: "saved" });
  });

  it.each([
    ["no places are named", (all: object[]) => all.slice(0, 0)],
    ["places are named for a part only", (all: object[]) => all.slice(1)],
  ])("REL-35 is found by the plan's own names when %s", async (_name, some) => {
    answering(() => {
      const answer = inStore();
      const said = answer.ok ? (answer.value as { entry?: object[] }).entry! : [];
      return yes({ resourceType: "Bundle", entry: some(said) });
    });
    expect(await send(job(), bundle())).toMatchObject({ outcome: "saved" });
    expect(record.calls.filter(({ how }) => how === "search")).toHaveLength(4);
  });

  it("REL-25 a refusal comes back as such, and nothing is looked for", async () => {
    const refused = no("invalid", { status: 422 });
    answering(() => refused);
    expect(await send(job(), bundle())).toEqual({ refused: refused.problem });
    expect(record.calls).toHaveLength(1);
  });

  it("INV-1 goes out once more after two looks two seconds apart found nothing, and is then searched for, not read", async () => {
    answering((nth) => (nth === 1 ? no("offline") : inStore()));
    expect(await send(job(), bundle())).toMatchObject({ outcome: "saved" });
    expect(sendings()).toBe(2);
    expect(waits).toEqual([500, 1000, 2000]);
    expect(record.calls.some(({ how }) => how === "read")).toBe(false);
    expect(steps).toEqual(["sending", "looking", "sending", "confirming"]);
  });

  it("INV-4 goes out twice and never more, and is not known then", async () => {
    answering(() => no("offline"));
    const report = await send(job(), bundle());
    expect(report).toMatchObject({ outcome: "unknown", problem: { title: fhirProblem("offline").title } });
    expect(sendings()).toBe(2);
    expect(waits).toEqual([500, 1000, 2000, 500, 1000, 2000]);
  });

  it("REL-37 is not sent again when one of the looks showed nothing, or only a part was absent", async () => {
    answering(() => no("offline"));
    let searches = 0;
    record.bendSearch = (_call, go) => (++searches > 4 && searches <= 8 ? no("server") : go());
    expect(await send(job(), bundle())).toMatchObject({ outcome: "unknown" });
    expect(sendings()).toBe(2);
    expect(waits.slice(0, 4), "the wait begins anew").toEqual([500, 1000, 2000, 4000]);
  });

  it("REL-37 one part that is there keeps the whole from being sent again", async () => {
    record.put(stored(entries()[0]!), "c1");
    answering(() => no("offline"));
    const report = await send(job(), bundle());
    expect(sendings()).toBe(1);
    expect(waits).toEqual([500, 1000, 2000, 4000]);
    expect(report).toMatchObject({ outcome: "unknown" });
    expect("items" in report && outcomes(report)).toEqual(["saved", "unknown", "unknown"]);
  });

  it("REL-37 what was taken is looked for four times more, slower and slower, and never sent again", async () => {
    answering(() => yes(undefined));
    expect(await send(job(), bundle())).toMatchObject({ outcome: "unknown" });
    expect(sendings()).toBe(1);
    expect(waits).toEqual([500, 1000, 2000, 4000]);
  });

  it("D9 the record of who did what holds the rest up for one more look, and no longer", async () => {
    answering(() => inStore(false));
    record.bendSearch = ({ at }, go) => (at.startsWith("Provenance") ? no("server") : go());
    const report = await send(job(), bundle());
    expect(report).toMatchObject({ outcome: "saved", provenance: { outcome: "unknown" } });
    expect(waits).toEqual([500]);
  });

  it("I5 a conflict is our own earlier sending only when every item equals what was sent", async () => {
    answering(() => no("conflict", { status: 412 }));
    for (const entry of entries().slice(0, 3)) record.put(stored(entry), entry.key);
    expect(await send(job(), bundle())).toMatchObject({ outcome: "saved" });
    record.held.delete("CarePlan/plan");
    const report = await send(job(), bundle());
    expect(report).toMatchObject({ outcome: "not-saved", problem: { kind: "conflict" } });
    expect("problem" in report && report.problem?.what).toBe(`Nothing was overwritten. ${KEPT}`);
    expect(sendings()).toBe(2);
  });
});

describe("what is told of each item", () => {
  const report = (looks: Looks, how: "sent" | "looked" = "looked", act: Act = "sign") =>
    reportOf(job(act), entries(act), looks, how);

  it("I7 saved with its place and version, and from then on known as this page's own", () => {
    const one = job();
    const told = reportOf(
      one,
      entries(),
      looksOf((entry) => found(stored(entry))),
      "looked",
    );
    expect(told).toMatchObject({ act: "sign", outcome: "saved" });
    expect(told.problem).toBeUndefined();
    expect(told.items[2]).toEqual({
      key: "plan",
      title: "plan",
      reference: "CarePlan/plan",
      version: "1",
      outcome: "saved",
    });
    expect(told.provenance).toMatchObject({ title: "Record of who did what", outcome: "saved" });
    expect(seenIn(one.session.context).own.get(`${PLAN_ID}:plan`)).toBe("1");
  });

  it("REL-29 a draft that was to be signed is a draft without effect, which a mere look tells", () => {
    const looks: Looks = new Map(entries("draft").map((entry) => [entry.key, found(stored(entry))]));
    const told = report(looks);
    expect(told.outcome).toBe("part");
    expect(outcomes(told)).toEqual(["as-draft", "as-draft", "as-draft"]);
    expect(told.items[0]).toMatchObject({
      reference: "Condition/condition",
      version: "1",
      reason: "It is stored as a draft and has no effect.",
    });
    expect(outcomes(report(looks, "looked", "draft"))).toEqual(["saved", "saved", "saved"]);
    expect(outcomes(report(looks, "sent"))).toEqual(["unknown", "unknown", "unknown"]);
  });

  it("INV-4 what is not found is not saved after a look, and not known after a sending", () => {
    const nothing = looksOf(() => ({ state: "absent" }));
    const looked = report(nothing);
    expect(looked.outcome).toBe("not-saved");
    expect(looked.items[0]?.reason).toBe("The record does not hold it.");
    expect(looked.problem).toMatchObject({
      title: "The record does not hold the plan.",
      what: `Nothing was written. ${KEPT}`,
    });
    const sent = report(nothing, "sent");
    expect(sent.outcome).toBe("unknown");
    expect(sent.items[0]?.reason).toBe("It was not found in the record. It may still be stored.");
    expect(sent.problem?.title).toBe("It is not known what was stored.");
  });

  it("INV-4 what could not be looked for is not known, in either case, with the reason", () => {
    const unclear = looksOf(() => ({ state: "unclear", problem: no("server").problem }));
    for (const how of ["looked", "sent"] as const)
      expect(report(unclear, how).items[0]).toMatchObject({
        outcome: "unknown",
        reason: `${fhirProblem("server").title} It may still be stored.`,
      });
  });

  it("I5 a change that left the old version standing is not saved", () => {
    const change: BundleItem = { ...entries()[2]!, method: "PUT", url: "CarePlan/plan", ifMatch: 'W/"1"' };
    const old = { ...stored(change), note: [{ text: "old" }] };
    const told = reportOf(job(), [change], new Map([["plan", found(old)]]), "looked");
    expect(told.items[0]).toMatchObject({ outcome: "not-saved" });
  });

  it("INV-2 stored twice is not known, and both places are named", () => {
    const twice = found(stored(entries()[0]!), ["Condition/a", "Condition/b"]);
    expect(foundAs(job().session, entries()[0]!, twice as never, { key: "k", title: "t" })).toEqual({
      key: "k",
      title: "t",
      reference: "Condition/condition",
      version: "1",
      outcome: "unknown",
      reason: "It is stored twice: Condition/a, Condition/b.",
    });
  });

  it("REL-36 stored otherwise than it was sent is not known: the changed parts are named, and it is no own writing", () => {
    const one = job();
    const changed = found({ ...stored(entries()[2]!), note: [{ text: "cut" }], status: "draft" }) as never;
    expect(foundAs(one.session, entries()[2]!, changed, { key: "plan", title: "Plan" })).toMatchObject({
      outcome: "unknown",
      differences: ["status", "note[0].text"],
    });
    expect(seenIn(one.session.context).own.size).toBe(0);
  });

  it("REL-36 the one next step depends on whether something was changed", () => {
    const item = (outcome: ItemOutcome["outcome"], differences?: string[]): ItemOutcome => ({
      ...{ key: "k", title: "t", outcome },
      ...(differences ? { differences } : {}),
    });
    expect(unsure([item("saved"), item("unknown")], undefined)).toEqual({
      kind: "write",
      title: "It is not known what was stored.",
      what: `1 of 2 items are confirmed as sent. ${KEPT}`,
      next: "Check again in a moment.",
    });
    expect(unsure([item("saved"), item("unknown", ["status"])], undefined)).toMatchObject({
      title: "The record system changed the plan.",
      next: "Compare the stored plan with what you meant before anyone acts on it.",
    });
    expect(unsure([], { ...fhirProblem("server"), serverSaid: "disk full" })).toMatchObject({
      title: fhirProblem("server").title,
      serverSaid: "disk full",
    });
    expect(unsure([], fhirProblem("server"))).not.toHaveProperty("serverSaid");
  });

  it("each is called by its title; what has none of its own by what it is", () => {
    const changes = [{ key: "old:x", title: "Order: film", words: [], reference: "", resource: {} as never }];
    const titles = titlesOf(drafts(), { at: AT, changes });
    expect(titleOf({ ...entries()[0]!, key: "old:x" }, titles)).toBe("Order: film");
    expect(titleOf(entries()[0]!, titles)).toBe("condition");
    expect(titleOf({ ...entries()[0]!, key: "new" }, titles)).toBe("The plan as a document");
    expect([...titlesOf(drafts(), { at: AT }).keys()]).toEqual(["condition", "request", "plan", "provenance"]);
  });
});
