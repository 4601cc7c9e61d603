import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import type { Practice } from "../../launch/start.ts";
import { call, type Json, openPractice, signIn } from "./practice.ts";

/** A FHIR server that gives further pages out at its base, as stock servers do, and keeps no patient apart from another. */
let other: Server;
let base: string;
let asked: { url: string; body: Json }[] = [];
let practice: Practice;
let token: string;

const condition = (id: string, patient: string) => ({
  resource: { resourceType: "Condition", id, subject: { reference: `Patient/${patient}` } },
  search: { mode: "match" },
});
const searchset = (entry: object[], next?: string) => ({
  resourceType: "Bundle",
  type: "searchset",
  ...(next ? { link: [{ relation: "next", url: next }] } : {}),
  entry,
});
const ANSWERS: readonly [RegExp, () => object][] = [
  [
    /^\/fhir\/Practitioner\?_id=/,
    () => searchset([{ resource: { resourceType: "Practitioner", id: "imke-harrowgate" } }]),
  ],
  [/^\/fhir\/Practitioner\?/, () => searchset([{ resource: { resourceType: "Practitioner", id: "house-doctor" } }])],
  [/^\/fhir\/Patient\/p1$/, () => ({ resourceType: "Patient", id: "p1" })],
  [/^\/fhir\/Condition\?/, () => searchset([condition("c1", "p1")], `${base}?_getpages=abc&_getpagesoffset=1`)],
  [/^\/fhir\?_getpages=abc/, () => searchset([condition("c2", "p1"), condition("c3", "p2")])],
];

beforeAll(async () => {
  other = createServer(async (message, response) => {
    const parts: Buffer[] = [];
    for await (const part of message) parts.push(part as Buffer);
    const url = message.url ?? "";
    asked.push({ url, body: parts.length > 0 ? JSON.parse(Buffer.concat(parts).toString()) : undefined });
    const answer = ANSWERS.find(([address]) => address.test(url))?.[1]() ?? searchset([]);
    response.writeHead(200, { "content-type": "application/fhir+json" }).end(JSON.stringify(answer));
  });
  await new Promise<void>((done) => void other.listen(0, "127.0.0.1", done));
  base = `http://127.0.0.1:${(other.address() as AddressInfo).port}/fhir`;
  practice = await openPractice({ fhir: base });
  ({ token } = await signIn(practice, { patient: "p1" }));
});
beforeEach(() => {
  asked = [];
});
afterAll(async () => {
  await practice?.close();
  other?.closeAllConnections();
  other?.close();
});

describe("in front of a server that pages at its base and searches no compartments", () => {
  it("a search names the patient in context, whatever the app asked", async () => {
    await call(practice, token, "Condition?clinical-status=active");
    expect(asked.map(({ url }) => url)).toEqual(["/fhir/Condition?clinical-status=active&patient=p1"]);
  });
  it("the next page is followed where the server put it, and another patient's entries are taken out", async () => {
    const first = await call(practice, token, "Condition?patient=p1");
    const next = first.body.link.find(({ relation }: Json) => relation === "next").url;
    expect(next).toBe(`${practice.fhirBase}?_getpages=abc&_getpagesoffset=1`);
    const page = await call(practice, token, next.slice(practice.fhirBase.length));
    expect(page.status).toBe(200);
    expect(page.body.entry.map(({ resource }: Json) => resource.id)).toEqual(["c2"]);
  });
  it("a page that was never given out is refused, and not asked for", async () => {
    const { status } = await call(practice, token, "?_getpages=guessed");
    expect(status).toBe(403);
    expect(asked).toEqual([]);
  });
  it("a search inside a transaction names the patient too; one that cannot be narrowed is refused", async () => {
    const transaction = (url: string) => ({
      method: "POST",
      body: { resourceType: "Bundle", type: "transaction", entry: [{ request: { method: "GET", url } }] },
    });
    await call(practice, token, "", transaction("Condition?code=x"));
    expect(asked[0]?.body.entry[0].request.url).toBe("Condition?code=x&patient=p1");
    asked = [];
    expect((await call(practice, token, "", transaction("Provenance?target=CarePlan/1"))).status).toBe(403);
    expect(asked).toEqual([]);
  });
  it("who of the practice works there signs under the own name, the others under a practitioner of that server", async () => {
    const whoIs = async (as: string) => {
      const { response } = await signIn(practice, { patient: "p1", as });
      return JSON.parse(Buffer.from(response.id_token.split(".")[1], "base64url").toString()).fhirUser as string;
    };
    expect(await whoIs("emergency")).toMatch(/Practitioner\/imke-harrowgate$/);
    expect(await whoIs("surgeon")).toMatch(/Practitioner\/house-doctor$/);
  });
});
