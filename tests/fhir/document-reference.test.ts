import type { Appointment, DocumentReference, ServiceRequest } from "fhir/r4";
import { describe, expect, it } from "vitest";
import {
  asNote,
  asPage,
  bundleOf,
  collectionOf,
  draftPlan,
  editDraft,
  planDocument,
  readableOf,
  removeDraft,
} from "../../src/fhir/drafts.ts";
import { reasonInWords, visitAsOrder } from "../../src/fhir/stand-ins.ts";
import { AT, inputFor, MALLET, PLAN_ID, SIGNER, TWO_DIGITS } from "./cases.ts";

const ACTING = { act: "sign", signer: SIGNER, at: AT } as const;
const items = draftPlan(inputFor(MALLET));
const text = (document: DocumentReference, at: number) =>
  Buffer.from(document.content[at]!.attachment.data!, "base64").toString("utf8");
const documentOf = (of = items, replaces: string[] = []) =>
  planDocument(of, ACTING, { where: new Map([["plan", "Stands in this document only."]]), related: [], replaces });

describe("the plan as a document", () => {
  it("P7 says first who signed it and when, and for whom it is", () => {
    const page = text(documentOf().resource as DocumentReference, 0);
    expect(page.indexOf("Signed by Dr Ada Okafor, Wed 25 November 2026, 15:10.")).toBeGreaterThan(0);
    expect(page.indexOf("Signed by")).toBeLessThan(page.indexOf("<h2>"));
    expect(page).toContain("Patient: Mira Halloway");
    expect(page).toContain("Stands in this document only.");
  });
  it("P6 holds the coded diagnosis, the orders, the visits and the plan in words, and all of it as resources", () => {
    const document = documentOf(draftPlan(inputFor(TWO_DIGITS))).resource as DocumentReference;
    const page = text(document, 0);
    for (const word of ["S62.630B", "S62.662A", "Referral: hand surgeon on call", "Visit: "])
      expect(page).toContain(word);
    const bundle = JSON.parse(text(document, 1)) as ReturnType<typeof collectionOf>;
    expect(bundle).toEqual(JSON.parse(JSON.stringify(collectionOf(draftPlan(inputFor(TWO_DIGITS)), ACTING))));
    const urls = new Set(bundle.entry!.map(({ fullUrl }) => fullUrl));
    const pointed = JSON.stringify(bundle).match(/"urn:uuid:[^"]+"/g)!;
    for (const urn of pointed) expect(urls).toContain(urn.slice(1, -1));
  });
  it("SEC-14 SEC-15 holds no script, no style, nothing loaded from elsewhere, and no markup of a clinician's text", () => {
    const plan = items.find(({ key }) => key === "plan")!;
    const edited = editDraft(plan, "own-note", '<img src=x onerror="alert(1)">\u202e & more');
    if (!edited.ok) throw new Error(edited.problem);
    const page = text(documentOf(items.map((i) => (i === plan ? edited.item : i))).resource as DocumentReference, 0);
    expect(page).toContain("&lt;img src=x onerror=&quot;alert(1)&quot;&gt;");
    expect(page).not.toMatch(/<(script|style|img|link|iframe|object|svg)\b|javascript:| on\w+="|\ssrc="/i);
    expect(new Set([...page.matchAll(/<\/?([a-z0-9!]+)/gi)].map(([, tag]) => tag!.toLowerCase()))).toEqual(
      new Set(["!doctype", "html", "head", "meta", "title", "body", "h1", "h2", "p", "b", "ul", "li"]),
    );
  });
  it("is found by the plan's identifier and by the injury's, and names what it replaces", () => {
    const document = documentOf(items, ["DocumentReference/7"]).resource as DocumentReference;
    expect(document.identifier?.[0]?.value).toBe(`${PLAN_ID}:document-sign-202611251510000100`);
    expect(document.identifier?.[1]?.system).toBe("https://fingerpost.example/episode");
    expect(document.relatesTo).toEqual([{ code: "replaces", target: { reference: "DocumentReference/7" } }]);
  });
  it("letters outside ASCII arrive as they are", () => {
    const named = draftPlan(inputFor(MALLET, { patientName: "Zoë Ünal 李" }));
    expect(text(documentOf(named).resource as DocumentReference, 0)).toContain("Zoë Ünal 李");
  });
  it("P7 the text for a note and the page say the same", () => {
    const readable = readableOf(items, ACTING);
    const lines = asNote(readable)
      .split("\n")
      .filter((line) => line.startsWith("- "));
    expect(lines.length).toBeGreaterThan(30);
    expect(asPage(readable).match(/<li>/g)).toHaveLength(lines.length);
    expect(asNote(readable)).toContain("Signed by Dr Ada Okafor, Wed 25 November 2026, 15:10.");
  });
});

describe("the plan in words for a reader", () => {
  it("has the plan's own title, and a plain one where the plan itself was left out", () => {
    expect(readableOf(items, ACTING).title).toBe("Finger tip injury plan: left ring finger");
    const without = items.map((i) => (i.kind === "plan" ? removeDraft(i, "not taken here") : i));
    expect(readableOf(without, ACTING).title).toBe("Finger tip injury plan");
  });
  it("D11 says of each order who ordered it by this act, though the draft does not say so yet", () => {
    const order = items.find(({ kind }) => kind === "request")!;
    const said = (act: "sign" | "draft") =>
      readableOf(items, { ...ACTING, act })
        .parts.find(({ key }) => key === order.key)!
        .words.join(" ");
    expect(said("sign")).toContain("Dr Ada Okafor");
    expect(said("draft")).not.toContain("Dr Ada Okafor");
  });
  it("is written without the findings behind each line where nobody hands them over", () => {
    const { reasons: _none, ...bare } = inputFor(MALLET);
    const plan = (of: ReturnType<typeof draftPlan>) => JSON.stringify(of.find(({ kind }) => kind === "plan")!.resource);
    expect(plan(draftPlan(bare))).not.toContain('"url":"used"');
    expect(plan(items)).toContain('"url":"used"');
  });
});

describe("a visit as an order", () => {
  const visit = items.find(({ kind }) => kind === "visit")!;
  const order = visitAsOrder(visit, items);
  it("P6 keeps its window, its purpose, its order, its diagnosis and what is to be checked", () => {
    const appointment = visit.resource as Appointment;
    const request = order.resource as ServiceRequest;
    expect(request).toMatchObject({
      intent: "instance-order",
      basedOn: appointment.basedOn,
      occurrencePeriod: appointment.requestedPeriod![0],
      code: { text: appointment.description },
      reasonReference: appointment.reasonReference,
      identifier: appointment.identifier,
    });
    expect(request.performerType?.text).toBeTruthy();
    expect(order.words.join(" ")).toContain("Asked of: ");
    for (const line of visit.words.slice(1, -1)) expect(request.note?.map((n) => n.text)).toContain(line);
  });
  it("P6 without a day of injury it keeps its days, and invents no date", () => {
    const { injuredAt: _, ...record } = MALLET;
    const undated = draftPlan(inputFor(record));
    const first = visitAsOrder(undated.find(({ kind }) => kind === "visit")!, undated).resource as ServiceRequest;
    expect(first.occurrencePeriod).toBeUndefined();
    expect(first.note?.[0]?.text).toMatch(/^The day of injury is not known: book for day/);
  });
  it("D4 D5 becomes active under the signer's name like any other order", () => {
    const bundle = bundleOf(
      items.map((i) => (i === visit ? order : i)),
      "sign",
      { signer: SIGNER, at: AT },
    );
    const signed = bundle
      .entry!.map((e) => e.resource as ServiceRequest)
      .find((r) => r?.resourceType === "ServiceRequest" && r.intent === "instance-order");
    expect(signed).toMatchObject({ status: "active", requester: SIGNER, authoredOn: AT });
  });
  it("P6 an order whose diagnosis is not filed names it in code and words", () => {
    const condition = items.find(({ kind }) => kind === "condition")!;
    for (const item of items.filter(({ kind }) => kind === "request" || kind === "visit")) {
      const { reasonCode } = reasonInWords(item, [condition]).resource as ServiceRequest;
      expect(reasonCode?.[0]?.coding?.[0]?.code).toBe("S62.635A");
      expect((reasonInWords(item, []).resource as ServiceRequest).reasonCode).toBeUndefined();
    }
  });
});
