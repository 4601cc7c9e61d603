/** What exactly goes into a bundle, and what counts as stored as sent: single entries, small enough to be read whole. */
import type { Bundle, FhirResource } from "fhir/r4";
import { describe, expect, it } from "vitest";
import {
  checkChoice,
  checkDay,
  checkText,
  type DraftItem,
  escapeXml,
  fingerprint,
  narrative,
} from "../../src/fhir/draft-item.ts";
import {
  bundleOf,
  collectionOf,
  documentKey,
  itemsOf,
  removeDraft,
  signedDifferences,
  storedItem,
  withReferences,
} from "../../src/fhir/drafts.ts";
import { drafts, PLAN_ID } from "../smart/stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const SIGNER = { reference: "Practitioner/dr-1", display: "Dr Example" };
const ACTING = { signer: SIGNER, at: AT };
const ITEM = "https://fingerpost.example/plan-item";
const CODES = "https://fingerpost.example/fhir/CodeSystem";
const entry = (bundle: Bundle, at: number) => bundle.entry![at]!;

describe("a stored resource that is written over", () => {
  const plan = drafts()[2]!;
  const over = (resource: object, item: DraftItem = plan) =>
    entry(
      bundleOf([item], "sign", {
        ...ACTING,
        existing: { [item.key]: { reference: "CarePlan/12", version: "3", resource: resource as never } },
      }),
      0,
    );
  it("I8 keeps what others added, and gets back nothing that this program left out on purpose", () => {
    const { resource, request } = over({
      resourceType: "CarePlan",
      id: "12",
      period: { start: "2020-01-01" },
      description: "an older one",
      careTeam: [{ reference: "CareTeam/1" }],
      status: "draft",
      extension: [
        { url: "https://other.example/x", valueString: "theirs" },
        { url: "https://fingerpost.example/fhir/old" },
      ],
    });
    expect(request).toEqual({ method: "PUT", url: "CarePlan/12", ifMatch: 'W/"3"' });
    expect(resource).toMatchObject({ id: "12", status: "active", careTeam: [{ reference: "CareTeam/1" }] });
    expect(resource).toHaveProperty("extension", [{ url: "https://other.example/x", valueString: "theirs" }]);
    expect(resource).not.toHaveProperty("period");
    expect(resource).not.toHaveProperty("description");
  });
  it("I8 keeps its own extensions before those of others", () => {
    const own = { ...plan, resource: { ...plan.resource, extension: [{ url: "https://own.example/a" }] } } as DraftItem;
    const { resource } = over({ resourceType: "CarePlan", extension: [{ url: "https://other.example/x" }] }, own);
    expect(resource).toHaveProperty("extension", [
      { url: "https://own.example/a" },
      { url: "https://other.example/x" },
    ]);
  });
  it("without a counted version is written over unconditionally", () => {
    const made = bundleOf([plan], "sign", { ...ACTING, existing: { plan: { reference: "CarePlan/12" } } });
    expect(entry(made, 0).request).toEqual({ method: "PUT", url: "CarePlan/12" });
    expect(entry(made, 0)).not.toHaveProperty("fullUrl");
  });
});

describe("a bundle of one act", () => {
  it("D11 says first who signed it and when, or that nobody did", () => {
    const div = (act: "draft" | "sign", signer: { reference: string; display?: string } = SIGNER) =>
      JSON.stringify(entry(bundleOf(drafts(), act, { signer, at: AT }), 2).resource);
    expect(div("sign")).toContain("<b>Signed by Dr Example, Mon 1 June 2026, 10:00.</b>");
    expect(div("sign", { reference: "Practitioner/dr-1" })).toContain("<b>Signed by Practitioner/dr-1, Mon");
    expect(div("draft")).toContain("<b>Draft, not signed.</b>");
  });
  it("I1 names each entry by plan and key, and the act in the tags", () => {
    const [condition] = bundleOf(drafts(), "draft", ACTING).entry!;
    expect(condition?.request).toEqual({
      method: "POST",
      url: "Condition",
      ifNoneExist: `identifier=${ITEM}|${PLAN_ID}:condition`,
    });
    expect(condition?.resource?.meta?.tag?.at(-1)).toEqual({ system: `${CODES}/act`, code: "draft" });
    expect(itemsOf(bundleOf(drafts(), "sign", ACTING))[0]).toMatchObject({
      key: "condition",
      urn: drafts()[0]!.urn,
      search: `Condition?identifier=${encodeURIComponent(`${ITEM}|${PLAN_ID}:condition`)}`,
      resource: { meta: { tag: expect.arrayContaining([{ system: `${CODES}/act`, code: "signed" }]) } },
    });
    expect(itemsOf({ resourceType: "Bundle", type: "transaction" })).toEqual([]);
  });
  it("D2 an item that carries no tags yet gets that of the act all the same", () => {
    const [{ resource, ...item }] = drafts() as [DraftItem];
    const { meta: _none, ...bare } = resource;
    const made = bundleOf([{ ...item, resource: bare as DraftItem["resource"] }], "draft", ACTING);
    expect(entry(made, 0).resource?.meta?.tag).toEqual([{ system: `${CODES}/act`, code: "draft" }]);
  });
  it("D1 what is left out takes with it whatever held nothing but a pointer to it", () => {
    const [condition, ...rest] = drafts();
    const made = bundleOf([removeDraft(condition!, "no"), ...rest], "sign", ACTING);
    expect(made.entry?.map(({ resource }) => resource?.resourceType)).toEqual([
      "ServiceRequest",
      "CarePlan",
      "Provenance",
    ]);
    expect(entry(made, 0).resource).not.toHaveProperty("reasonReference");
    expect(entry(made, 1).resource).not.toHaveProperty("addresses");
    expect(entry(made, 1).resource).toHaveProperty("activity", [{ reference: { reference: drafts()[1]!.urn } }]);
  });
  it("D3 a draft leaves the entry of the chart that it is to refine alone, and points to it", () => {
    const [condition, ...rest] = drafts();
    const items = [{ ...condition!, refines: { reference: "Condition/c9", version: "4" } }, ...rest];
    const draft = bundleOf(items, "draft", ACTING);
    expect(draft.entry?.map(({ resource }) => resource?.resourceType)).toEqual([
      "ServiceRequest",
      "CarePlan",
      "Provenance",
    ]);
    expect(entry(draft, 0).resource).toMatchObject({ reasonReference: [{ reference: "Condition/c9" }] });
    const seen = { reference: "Condition/c9", version: "5" };
    const other = { reference: "Condition/other", version: "5" };
    const versionIn = (existing: object) =>
      entry(bundleOf(items, "sign", { ...ACTING, existing: { condition: existing as never } }), 0).request?.ifMatch;
    expect(versionIn(seen), "the newer version of the same entry").toBe('W/"5"');
    expect(versionIn(other)).toBe('W/"4"');
  });
  it("D8 each later act has a record of its own, with every reason once and the entries that it changed", () => {
    const change = (id: string, act: string, words: string[]) => ({
      ...{ key: `old:${id}`, title: id, words, reference: `CarePlan/${id}` },
      resource: {
        resourceType: "CarePlan",
        meta: {
          tag: [
            { system: ITEM, code: `old:${id}` },
            { system: `${CODES}/plan-life`, code: act },
          ],
        },
      } as unknown as FhirResource,
    });
    const changes = [
      change("a", "withdraw", ["Said."]),
      change("b", "withdraw", ["Said."]),
      change("c", "drop", ["Other."]),
    ];
    const made = bundleOf([drafts()[3]!], "sign", { ...ACTING, changes });
    const records = made.entry!.filter(({ resource }) => resource?.resourceType === "Provenance");
    expect(
      records.map(({ resource }) => [
        (resource as never as { target: unknown }).target,
        (resource as never as { reason: unknown }).reason,
      ]),
    ).toEqual([
      [[{ reference: "CarePlan/a" }, { reference: "CarePlan/b" }], [{ text: "Said." }]],
      [[{ reference: "CarePlan/c" }], [{ text: "Other." }]],
    ]);
    expect(new Set(records.map(({ fullUrl }) => fullUrl)).size).toBe(2);
    // RFC 9562 section 4: 32 hexadecimal digits in five groups.
    for (const { fullUrl } of records)
      expect(fullUrl).toMatch(/^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/);
    expect(records[0]?.request?.ifNoneExist).toBe(`_tag=${ITEM}|${PLAN_ID}:provenance-withdraw-202606011000000200`);
    expect(entry(made, 0).request).toEqual({ method: "PUT", url: "CarePlan/a" });
    expect(
      itemsOf(made)
        .map(({ key }) => key)
        .slice(0, 3),
    ).toEqual(["old:old:a", "old:old:b", "old:old:c"]);
    expect(bundleOf([...drafts().slice(0, 3)], "sign", { ...ACTING, changes }).entry).toHaveLength(6);
  });
  it("nothing to write is refused", () => {
    expect(() => bundleOf([drafts()[3]!], "sign", ACTING)).toThrow("nothing to write: every item was left out");
  });
  it("a copy for elsewhere is whole, dated, and points to itself only", () => {
    const stands = drafts().map((item) =>
      item.key === "request" ? { ...item, stands: { reference: "ServiceRequest/9" } } : item,
    );
    const copy = collectionOf(stands, { act: "sign", ...ACTING });
    expect(copy).toMatchObject({ resourceType: "Bundle", type: "collection", timestamp: AT });
    expect(copy.entry).toHaveLength(4);
    expect(JSON.stringify(copy)).not.toContain("ServiceRequest/9");
    expect(documentKey("draft", AT)).toBe("document-draft-202606011000000200");
  });
});

describe("D9 real places in place of names", () => {
  it("everywhere in the resource, and nowhere else", () => {
    const resource = {
      a: [{ reference: "urn:1" }],
      b: { reference: "urn:2", display: "urn:1" },
      c: 0,
      d: false,
      e: null,
    };
    expect(withReferences(resource, { "urn:1": "Condition/1" })).toEqual({
      ...resource,
      a: [{ reference: "Condition/1" }],
    });
  });
  it("text is cleaned of what no record system stores, and what holds nothing else is left out", () => {
    expect(withReferences({ a: "x\u0000y", b: "\u0007", c: ["\u0007", "z"], d: [], e: {}, f: { g: "" } }, {})).toEqual({
      a: "xy",
      c: ["z"],
    });
  });
});

describe("I3 stored as it was sent", () => {
  const differ = (sent: unknown, stored: unknown) => signedDifferences(sent, stored);
  it.each<[string, unknown, unknown, string[]]>([
    ["the same", { a: 1, b: [{ c: "x" }] }, { b: [{ c: "x" }], a: 1 }, []],
    ["something added", { a: 1 }, { a: 1, z: 2 }, []],
    ["a part dropped", { a: 1, b: 2 }, { a: 1 }, ["b"]],
    [
      "a part changed, deep inside",
      { a: { b: [{ c: 1 }, { c: 2 }] } },
      { a: { b: [{ c: 1 }, { c: 3 }] } },
      ["a.b[1].c"],
    ],
    ["a list in another order", { a: [{ c: 1 }, { c: 2 }] }, { a: [{ c: 2 }, { c: 1 }] }, []],
    ["words in another order", { a: ["x", "y"] }, { a: ["y", "x"] }, []],
    ["a word missing", { a: ["x", "y"] }, { a: ["y"] }, ["a[0]"]],
    ["a list that is none any more", { a: ["x"] }, { a: "x" }, ["a"]],
    ["an object that is none any more", { a: { b: 1 } }, { a: null }, ["a"]],
    ["an object that became a word", { a: { b: 1 } }, { a: "b" }, ["a"]],
    ["nothing stored", { a: 1 }, null, ["resource"]],
    ["another word", "x", "y", ["value"]],
    ["null kept", { a: null }, { a: null }, []],
    ["null lost", { a: null }, { a: 1 }, ["a"]],
    ["an id, version or narrative of its own", { id: "1", meta: {}, text: "a" }, { id: "2", text: "b" }, []],
    [
      "an id inside",
      { a: { id: "1", meta: "m", text: "t" } },
      { a: { id: "2", meta: "n", text: "u" } },
      ["a.id", "a.meta", "a.text"],
    ],
    ["a name that became a place", { a: { reference: "urn:uuid:1" } }, { a: { reference: "Condition/9" } }, []],
    [
      "a place in full",
      { a: { reference: "Patient/1" } },
      { a: { reference: "https://x.example/fhir/Patient/1" } },
      [],
    ],
    [
      "a place that only ends alike",
      { a: { reference: "Patient/1" } },
      { a: { reference: "XPatient/1" } },
      ["a.reference"],
    ],
    ["another place", { a: { reference: "Patient/1" } }, { a: { reference: "Patient/2" } }, ["a.reference"]],
    ["no place", { a: { reference: "Patient/1" } }, { a: {} }, ["a.reference"]],
    ["a word that ends alike", { a: "b" }, { a: "x/b" }, ["a"]],
    ["the same instant", { a: "2026-06-01T10:00:00+02:00" }, { a: "2026-06-01T08:00:00Z" }, []],
    ["another instant", { a: "2026-06-01T10:00:00+02:00" }, { a: "2026-06-01T10:00:00Z" }, ["a"]],
    ["a day is no instant", { a: "2026-06-01" }, { a: "2026-06-01T00:00:00Z" }, ["a"]],
    ["an instant cut to a day", { a: "2026-06-01T00:00:00Z" }, { a: "2026-06-01" }, ["a"]],
    ["an instant inside other words", { a: "x2026-06-01T10:00:00Z" }, { a: "2026-06-01T10:00:00Z" }, ["a"]],
    ["a number that became a word", { a: 1 }, { a: "1" }, ["a"]],
    [
      "a tag lost",
      { meta: { tag: [{ system: "s", code: "c" }] } },
      { meta: { tag: [{ system: "s", code: "d" }] } },
      ["meta.tag"],
    ],
    [
      "a tag kept among others",
      { meta: { tag: [{ system: "s", code: "c" }] } },
      { meta: { tag: [{ code: "x" }, { system: "s", code: "c" }] } },
      [],
    ],
    [
      "a tag kept beside an empty place",
      { meta: { tag: [{ system: "s", code: "c" }] } },
      { meta: { tag: [null, { system: "s", code: "c" }] } },
      [],
    ],
    [
      "tags that are no list any more",
      { meta: { tag: [{ system: "s", code: "c" }] } },
      { meta: { tag: "c" } },
      ["meta.tag"],
    ],
  ])("%s", (_name, sent, stored, paths) => expect(differ(sent, stored)).toEqual(paths));
});

describe("a stored draft as an item again", () => {
  it("loses the tag of the earlier act, and keeps all else", () => {
    const tag = [
      { system: ITEM, code: "x:plan" },
      { system: `${CODES}/act`, code: "draft" },
    ];
    const item = storedItem("plan", "Plan", {
      resourceType: "CarePlan",
      id: "12",
      meta: { versionId: "3", tag },
    } as never);
    expect(item).toMatchObject({
      key: "plan",
      kind: "plan",
      title: "Plan",
      urn: "CarePlan/12",
      edits: [],
      changes: [],
    });
    expect(item?.resource.meta).toEqual({ versionId: "3", tag: [{ system: ITEM, code: "x:plan" }] });
    expect(storedItem("x", "x", { resourceType: "Provenance", id: "1" })).toBeUndefined();
    expect(storedItem("x", "x", { resourceType: "Group", id: "1" })).toBeUndefined();
    expect(storedItem("x", "x", { resourceType: "CarePlan", id: "1" })?.resource.meta).toEqual({ tag: [] });
  });
});

describe("text and values that a clinician gives", () => {
  it("SEC-14 cannot become markup, and holds nothing that XML forbids", () => {
    expect(escapeXml(`<a href="x">&'\u0000\uD800</a>`)).toBe("&lt;a href=&quot;x&quot;&gt;&amp;&#39;&lt;/a&gt;");
    expect(narrative("Signed <b>", ["one", "t&wo"])).toEqual({
      status: "generated",
      div: '<div xmlns="http://www.w3.org/1999/xhtml"><p><b>Signed &lt;b&gt;</b></p><ul><li>one</li><li>t&amp;wo</li></ul></div>',
    });
  });
  it.each<[string, boolean, string | undefined]>([
    ["x", true, undefined],
    ["  ", true, "Write something, or leave the whole item out."],
    ["  ", false, undefined],
    ["x".repeat(2000), true, undefined],
    ["x".repeat(2001), false, "At most 2000 characters; this has 2001."],
  ])("a text of a certain length (%#)", (value, required, says) => expect(checkText(value, required)).toBe(says));
  it.each([
    ["2026-05-04", true],
    ["2026-02-30", false],
    ["2026-13-01", false],
    ["2026-5-4", false],
    ["x2026-05-04", false],
    ["2026-05-04x", false],
    ["", false],
  ])("the day %s", (value, fits) =>
    expect(checkDay(value)).toBe(
      fits ? undefined : `"${value}" is not a date. Write year-month-day, for example 2026-05-04.`,
    ),
  );
  it("a choice is one of those offered", () => {
    const options = [
      { value: "a", label: "A" },
      { value: "b", label: "B" },
    ];
    expect(checkChoice("b", options)).toBeUndefined();
    expect(checkChoice("c", options)).toBe("Choose one of: A, B.");
  });
  it("names told apart by twelve hexadecimal digits, the same for the same text (FNV-1a)", () => {
    expect(fingerprint("plan")).toMatch(/^[0-9a-f]{12}$/);
    expect(new Set(["", "a", "b", "ab", "ba", "plan", "Plan"].map(fingerprint)).size).toBe(7);
    expect(fingerprint("plan")).toBe(fingerprint("plan"));
  });
});
