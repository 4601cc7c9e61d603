/** What the record holds of a plan, and what may be written over it: looked at item by item. */
import { beforeEach, describe, expect, it } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { type BundleItem, bundleOf, itemsOf } from "../../src/fhir/drafts.ts";
import { seenIn } from "../../src/smart/read-chart.ts";
import {
  actOf,
  asItStands,
  isSigned,
  type Look,
  look,
  lookAll,
  referenceOf,
  standingOf,
  storedHere,
  twice,
  whatIsThere,
} from "../../src/smart/stored-look.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import type { Job, WriteContext } from "../../src/smart/write-report.ts";
import { listOf, no, RecordInMemory } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts, PLAN_ID } from "./stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const LATER = "2026-06-01T11:30:00+02:00";
const SIGNER = { reference: "Practitioner/dr-1", display: "Dr Example" };
const ITEM = "https://fingerpost.example/plan-item";
const ACT = "https://fingerpost.example/fhir/CodeSystem/act";
const LIFE = "https://fingerpost.example/fhir/CodeSystem/plan-life";

let record: RecordInMemory;
beforeEach(() => {
  record = new RecordInMemory();
});
const entriesOf = (act: Act = "sign", at = AT) => itemsOf(bundleOf(drafts(), act, { signer: SIGNER, at }));
const entryOf = (key: string, act: Act = "sign", at = AT): BundleItem =>
  entriesOf(act, at).find((entry) => entry.key === key || entry.key.startsWith(`${key}-`))!;
const asStored = (entry: BundleItem, id = "n1", version = "1") =>
  ({
    ...entry.resource,
    id,
    meta: { ...entry.resource.meta, versionId: version },
  }) as unknown as FhirResource;
const found = (resource: FhirResource, copies = [referenceOf(resource)]): Look => ({
  state: "found",
  resource,
  copies,
});
const writing = () => ({
  context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
  config: { issuers: [], frameAncestors: [] },
  can: () => true,
  signer: async () => ({ ok: true as const, reference: SIGNER.reference, name: SIGNER.display }),
  state: () => ({ kind: "open" as const }),
  lastsFor: async () => true,
  fhir: record,
});

describe("one look for an item", () => {
  it("I2 goes to the place that the record system named, and asks nothing else", async () => {
    record.put(asStored(entryOf("plan")), "n1");
    expect(await look(writing(), entryOf("plan"), "CarePlan/n1")).toMatchObject({
      state: "found",
      resource: { id: "n1" },
      copies: ["CarePlan/n1"],
    });
    expect(record.calls).toEqual([{ how: "read", at: "CarePlan/n1" }]);
  });

  it("I2 without a place asks by the plan's own name for it, within this patient", async () => {
    record.put(asStored(entryOf("plan")), "n1");
    expect(await look(writing(), entryOf("plan"), undefined)).toMatchObject({
      state: "found",
      copies: ["CarePlan/n1"],
    });
    expect(record.calls).toEqual([
      { how: "search", at: `CarePlan?identifier=${encodeURIComponent(`${ITEM}|${PLAN_ID}:plan`)}&patient=p1` },
    ]);
  });

  it("R4 asks for a record of who did what by its tag, not by patient: it is about the plan's items", async () => {
    expect(await look(writing(), entryOf("provenance"), undefined)).toEqual({ state: "absent" });
    expect(record.calls[0]?.at).toMatch(/^Provenance\?_tag=/);
    expect(record.calls[0]?.at).not.toContain("patient");
  });

  it("INV-3 INV-4 takes no record under our tag that has no target, or that leads to another patient, for the one that is looked for", async () => {
    const entry = entryOf("provenance");
    const { target } = asStored(entry) as unknown as { target: object[] };
    record.bendSearch = () => listOf([{ ...asStored(entry), target: [] }]);
    expect(await look(writing(), entry)).toEqual({ state: "absent" });
    record.bendSearch = () => listOf([{ ...asStored(entry), target: [...target, { reference: "Patient/p2" }] }]);
    expect(await look(writing(), entry)).toEqual({ state: "absent" });
    record.bendSearch = () => listOf([{ ...asStored(entry), target: [...target, { reference: "Patient/p1" }] }]);
    expect(await look(writing(), entry)).toMatchObject({ state: "found", copies: ["Provenance/n1"] });
  });

  it("I8 what goes over an entry of the chart is read at that entry, which need not carry our name yet", async () => {
    record.put({ resourceType: "Condition", code: { text: "Broken finger" } }, "c9");
    const over: BundleItem = { ...entryOf("condition"), method: "PUT", url: "Condition/c9" };
    expect(await look(writing(), over, undefined)).toMatchObject({ state: "found", copies: ["Condition/c9"] });
    expect(record.calls).toHaveLength(1);
  });

  it("REL-35 a place that cannot be read leads to the search", async () => {
    record.put(asStored(entryOf("plan")), "n2");
    expect(await look(writing(), entryOf("plan"), "CarePlan/gone")).toMatchObject({ copies: ["CarePlan/n2"] });
  });

  it("R3 takes nothing of a list that a record system sends without looking at what was asked", async () => {
    const foreign = { resourceType: "CarePlan", id: "x", identifier: [{ value: "another" }] };
    record.bendSearch = () => listOf([foreign]);
    expect(await look(writing(), entryOf("plan"), undefined)).toEqual({ state: "absent" });
  });

  it("REL-36 knows an item by its identifier where the record system dropped its tags, also where that is no list", async () => {
    const bare = { resourceType: "CarePlan", id: "x", identifier: [undefined, { value: `${PLAN_ID}:plan` }] };
    record.bendSearch = () => listOf([bare]);
    expect(await look(writing(), entryOf("plan"), undefined)).toMatchObject({ copies: ["CarePlan/x"] });
    record.bendSearch = () => listOf([{ ...bare, identifier: { value: `${PLAN_ID}:plan` } }]);
    expect(await look(writing(), entryOf("plan"), undefined)).toMatchObject({ copies: ["CarePlan/x"] });
  });

  it("by a name that is not there nothing is found, whatever stands in the list", async () => {
    const nameless: BundleItem = { ...entryOf("plan"), resource: { ...entryOf("plan").resource, meta: {} } };
    record.bendSearch = () => listOf([{ resourceType: "CarePlan", id: "x" }]);
    expect(await look(writing(), nameless, undefined)).toEqual({ state: "absent" });
  });

  it("INV-4 a search that fails, or whose list is cut off, shows nothing", async () => {
    record.bendSearch = () => no("server", { status: 500 });
    expect(await look(writing(), entryOf("plan"), undefined)).toMatchObject({
      state: "unclear",
      problem: { kind: "server" },
    });
    record.bendSearch = () => listOf([], { more: true });
    expect(await look(writing(), entryOf("plan"), undefined)).toMatchObject({
      state: "unclear",
      problem: { title: "The record system's list is not complete." },
    });
  });

  it("INV-2 tells of every copy, and each item of the plan by its own key", async () => {
    record.put(asStored(entryOf("plan")), "n1");
    record.put(asStored(entryOf("plan")), "n2");
    const looks = await lookAll(writing(), entriesOf(), new Map([["request", "ServiceRequest/n7"]]));
    expect([...looks.keys()]).toEqual(entriesOf().map(({ key }) => key));
    expect(looks.get("plan")).toMatchObject({ copies: ["CarePlan/n1", "CarePlan/n2"] });
    expect(looks.get("condition")).toEqual({ state: "absent" });
    expect(record.calls.filter(({ how }) => how === "read").map(({ at }) => at)).toEqual(["ServiceRequest/n7"]);
  });
});

describe("how a stored item stands", () => {
  const tagged = (...tag: object[]) => ({ resourceType: "CarePlan", id: "x", meta: { tag } }) as FhirResource;
  it.each<[string, FhirResource, Act | undefined]>([
    ["signed", tagged({ system: "x", code: "draft" }, { system: ACT, code: "signed" }), "sign"],
    ["draft", tagged({ system: ACT, code: "draft" }), "draft"],
    ["neither", tagged({ system: ACT, code: "other" }), undefined],
    ["not said", tagged({ system: "x", code: "signed" }), undefined],
    ["not said, an empty place in the list", tagged(null as never), undefined],
    ["without tags", { resourceType: "CarePlan", id: "x" }, undefined],
    ["tags that are no list", { resourceType: "CarePlan", id: "x", meta: { tag: "signed" } }, undefined],
  ])("D2 by whose act it is what it is: %s", (_name, resource, act) => {
    expect(actOf(resource)).toBe(act);
    expect(isSigned(resource)).toBe(act === "sign");
  });

  const create = entryOf("plan");
  const update: BundleItem = { ...create, method: "PUT", url: "CarePlan/n1", ifMatch: 'W/"1"' };
  const other = { ...asStored(create), note: [{ text: "another note" }] };
  it.each<[string, BundleItem, Look | undefined, string]>([
    ["not looked for", create, undefined, "unclear"],
    ["unclear", create, { state: "unclear", problem: no("server").problem }, "unclear"],
    ["new and absent", create, { state: "absent" }, "not-stored"],
    ["changed and absent", update, { state: "absent" }, "unclear"],
    ["new and there, in whatever form", create, found(other), "stored"],
    ["changed and equal, in its old version", update, found(asStored(create)), "stored"],
    ["changed and still in its old version", update, found(other), "not-stored"],
    ["changed and in a newer version", update, found({ ...other, meta: { versionId: "2" } }), "stored"],
    ["changed, where versions are not counted", update, found({ ...other, meta: {} }), "stored"],
  ])("INV-4 %s", (_name, entry, seen, standing) => expect(standingOf(entry, seen)).toBe(standing));
});

describe("what may be written over", () => {
  const job = (act: Act = "sign", context: Partial<WriteContext> = {}): Job => ({
    session: writing(),
    items: drafts(),
    act,
    context: { at: AT, ...context },
  });
  const looksOf = (entries: readonly BundleItem[], of: (entry: BundleItem) => Look = () => ({ state: "absent" })) =>
    new Map(entries.map((entry) => [entry.key, of(entry)]));
  const withThe = (key: string, seen: Look, entries = entriesOf()) =>
    looksOf(entries, (entry) => (entry.key === key ? seen : { state: "absent" }));

  it("of an empty record: everything is new", () => {
    const NOTHING = { allSaved: false, existing: {}, done: new Map() };
    expect(whatIsThere(job(), entriesOf(), looksOf(entriesOf()))).toEqual(NOTHING);
    expect(whatIsThere(job(), entriesOf(), new Map()), "not looked for").toEqual(NOTHING);
  });

  it("of a plan that is there as it is meant: nothing is left to write", () => {
    const entries = entriesOf();
    const there = whatIsThere(
      job(),
      entries,
      looksOf(entries, (entry) => found(asStored(entry, entry.key.slice(0, 9)))),
    );
    expect(there).toMatchObject({ allSaved: true });
    if ("problem" in there) throw new Error("stopped");
    expect(Object.keys(there.existing)).toEqual(["condition", "request", "plan"]);
    expect(there.existing.plan).toMatchObject({ reference: "CarePlan/plan", version: "1" });
  });

  it("of all but the record of who did what: the plan counts as saved", () => {
    const entries = entriesOf();
    const looks = looksOf(entries, (entry) =>
      entry.key.startsWith("provenance") ? { state: "absent" } : found(asStored(entry)),
    );
    expect(whatIsThere(job(), entries, looks)).toMatchObject({ allSaved: true });
    looks.set(entries.at(-1)!.key, { state: "unclear", problem: no("server").problem });
    expect(whatIsThere(job(), entries, looks)).toMatchObject({ allSaved: true });
  });

  it("INV-4 nothing is sent while it cannot be seen whether an item is there", () => {
    const looks = withThe("request", { state: "unclear", problem: no("busy", { status: 429 }).problem });
    expect(whatIsThere(job(), entriesOf(), looks)).toMatchObject({
      problem: { kind: "busy", what: expect.stringContaining("so nothing was sent") },
    });
  });

  it("INV-2 an item that stands twice stops it, and both are named", () => {
    const looks = withThe("plan", found(asStored(entryOf("plan")), ["CarePlan/n1", "CarePlan/n2"]));
    expect(whatIsThere(job(), entriesOf(), looks)).toEqual({ problem: twice(["CarePlan/n1", "CarePlan/n2"]) });
    expect(twice(["CarePlan/n1", "CarePlan/n2"]).what).toMatch(/^CarePlan\/n1 and CarePlan\/n2\./);
  });

  it("D3 a signed plan is neither signed over with other content nor turned back into a draft", () => {
    const other = { ...asStored(entryOf("plan")), note: [{ text: "another note" }] };
    const problemOf = (act: Act) =>
      whatIsThere(job(act), entriesOf(act), withThe("plan", found(other), entriesOf(act)));
    expect(problemOf("sign")).toMatchObject({
      problem: { title: "This plan is signed already.", what: expect.stringContaining("is not signed over;") },
    });
    expect(problemOf("draft")).toMatchObject({
      problem: { what: expect.stringContaining("is not turned back into a draft;") },
    });
  });

  it("P4 REL-29 signed already with the same content at another time: it is done, and stays as it stands", () => {
    const earlier = asStored(entryOf("plan"));
    const entries = entriesOf("sign", LATER);
    const there = whatIsThere(job(), entries, withThe("plan", found(earlier), entries));
    if ("problem" in there) throw new Error(there.problem.title);
    expect(there.allSaved).toBe(false);
    const request = entries.find(({ key }) => key === "request")!;
    const requested = { ...asStored(entryOf("request")), authoredOn: AT };
    const ordered = { ...request, resource: { ...request.resource, authoredOn: LATER } } as BundleItem;
    const both = whatIsThere(job(), [ordered], withThe("request", found(requested), [ordered]));
    if ("problem" in both) throw new Error(both.problem.title);
    expect([...both.done.keys()]).toEqual(["request"]);
    expect(both.allSaved).toBe(true);
    expect(asItStands([ordered, entryOf("plan")], both)).toEqual([
      { ...ordered, method: "PUT", url: "ServiceRequest/n1", resource: requested },
      entryOf("plan"),
    ]);
    expect(whatIsThere(job("draft"), [ordered], withThe("request", found(requested), [ordered]))).toMatchObject({
      problem: { title: "This plan is signed already." },
    });
  });

  it("P4 the time of the assessment among the findings may differ, any other answer may not", () => {
    const findings = (at: string, site = "tuft"): BundleItem => ({
      ...entryOf("request"),
      key: "findings",
      resource: {
        resourceType: "QuestionnaireResponse",
        status: "completed",
        authored: at,
        meta: {
          tag: [
            { system: ITEM, code: "x:findings" },
            { system: ACT, code: "signed" },
          ],
        },
        item: [
          { linkId: "assessedAt", answer: [{ valueDateTime: at }] },
          { linkId: "site", answer: [{ valueString: site }] },
        ],
      },
    });
    const looks = new Map([["findings", found(asStored(findings(AT)))]]);
    expect(whatIsThere(job(), [findings(LATER)], looks)).toMatchObject({ allSaved: true });
    expect(whatIsThere(job(), [findings(LATER, "shaft")], looks)).toMatchObject({
      problem: { title: "This plan is signed already." },
    });
  });

  describe("I4 a stored draft", () => {
    const draft = asStored(entryOf("plan", "draft"), "n1", "3");
    const looks = withThe("plan", found(draft));
    const CHANGED = { problem: { title: "The stored plan changed since you read it." } };
    const MAY = { allSaved: false, existing: { plan: { reference: "CarePlan/n1", version: "3" } } };
    const asSeen = (version: string | undefined, whose: "items" | "own") => {
      const one = job();
      if (whose === "own") seenIn(one.session.context).own.set(`${PLAN_ID}:plan`, version);
      else
        seenIn(one.session.context).items.set(`${PLAN_ID}:plan`, {
          reference: "CarePlan/n1",
          ...(version ? { version } : {}),
        });
      return one;
    };
    it("that nobody has read here is not written over", () =>
      expect(whatIsThere(job(), entriesOf(), looks)).toMatchObject(CHANGED));
    it("may be, in the version that was read with the chart", () =>
      expect(whatIsThere(asSeen("3", "items"), entriesOf(), looks)).toMatchObject(MAY));
    it("may not, in another version than was read", () =>
      expect(whatIsThere(asSeen("2", "items"), entriesOf(), looks)).toMatchObject(CHANGED));
    it("may be, in the version that this page itself stored", () => {
      const one = job();
      storedHere(one.session.context, entryOf("plan"), draft);
      expect(seenIn(one.session.context).own).toEqual(new Map([[`${PLAN_ID}:plan`, "3"]]));
      expect(whatIsThere(one, entriesOf(), looks)).toMatchObject(MAY);
    });
    it("may not, once somebody wrote over what this page had stored", () =>
      expect(whatIsThere(asSeen("2", "own"), entriesOf(), looks)).toMatchObject(CHANGED));
    it("may be, in the version that the screen shows, and in no other", () => {
      const known = (version: string) => job("sign", { known: { plan: { reference: "CarePlan/n1", version } } });
      expect(whatIsThere(known("3"), entriesOf(), looks)).toMatchObject(MAY);
      expect(whatIsThere(known("2"), entriesOf(), looks)).toMatchObject(CHANGED);
    });
    it("that this program had taken out of the draft itself may come back unread", () => {
      const tag = (...more: object[]) => ({ ...draft, meta: { versionId: "3", tag: more } });
      const itself = { system: LIFE, code: "drop" };
      const named = { system: ITEM, code: `${PLAN_ID}:plan` };
      const with_ = (resource: object) => withThe("plan", found(resource as FhirResource));
      expect(whatIsThere(job(), entriesOf(), with_(tag(named, itself)))).toMatchObject(MAY);
      const gap = null as never;
      expect(whatIsThere(job(), entriesOf(), with_(tag(gap, named, itself))), "an empty place").toMatchObject(MAY);
      expect(whatIsThere(job(), entriesOf(), with_(tag(named, { system: LIFE, code: "void" })))).toMatchObject(CHANGED);
      expect(whatIsThere(job(), entriesOf(), with_(tag(named, { system: "x", code: "drop" })))).toMatchObject(CHANGED);
      expect(whatIsThere(job(), entriesOf(), with_({ ...draft, meta: { versionId: "3" } }))).toMatchObject(CHANGED);
    });
  });

  describe("I5 an entry of the chart that is gone over", () => {
    const over: BundleItem = { ...entryOf("condition"), method: "PUT", url: "Condition/c9", ifMatch: 'W/"4"' };
    const chart = (version: string) => ({
      resourceType: "Condition",
      id: "c9",
      meta: { versionId: version },
      code: { text: "Broken finger" },
    });
    const there = (resource: FhirResource, entry = over) =>
      whatIsThere(job(), [entry], new Map([["condition", found(resource)]]));
    it("in the version that was read may be written over", () =>
      expect(there(chart("4"))).toEqual({ allSaved: false, existing: {}, done: new Map() }));
    it("in another version may not", () =>
      expect(there(chart("5"))).toMatchObject({ problem: { title: "The stored plan changed since you read it." } }));
    it("where versions are not counted is written over as it is", () => {
      const { ifMatch: _, ...unversioned } = over;
      expect(there(chart("5"), unversioned)).toMatchObject({ allSaved: false });
    });
    it("that stands as it should already is left alone", () =>
      expect(there({ ...asStored(entryOf("condition")), id: "c9" })).toMatchObject({ allSaved: true, existing: {} }));
  });
});
