/** The kinds of fault, each as what it does to one exchange. A new kind is a new row. */
import type { Answer, Bend, Exchange, Outcome } from "./proxy.ts";

/** Where a fault makes sense: at any request, at searches, at the reading of the patient, at a write, or at a transaction. */
export type Place = "any" | "search" | "patient" | "write" | "transaction";
export interface Fault {
  readonly name: string;
  readonly at: Place;
  readonly bend: Bend;
  /** What happens to the renewal of the token from the moment the fault has struck. */
  readonly renewal?: Bend;
}

type Json = Record<string, unknown>;
const FHIR = { "content-type": "application/fhir+json; charset=utf-8" };
const fhir = (status: number, body: object, headers: Record<string, string> = {}): Answer => ({
  status,
  headers: { ...FHIR, ...headers },
  body: JSON.stringify(body),
});
const remark = (text: string, code = "processing") => ({
  resourceType: "OperationOutcome",
  issue: [{ severity: "error", code, diagnostics: text, expression: ["CarePlan.status"] }],
});
const says = (status: number, headers: Record<string, string> = {}): Answer =>
  fhir(status, remark(`Answered ${status}.`), headers);
const page = (status: number): Answer => ({
  status,
  headers: { "content-type": "text/html" },
  body: "<!doctype html><title>Network</title><h1>Please sign in</h1>",
});
const UNAUTHORIZED = says(401, { "www-authenticate": 'Bearer error="invalid_token"' });

const before = (name: string, outcome: Outcome, at: Place = "any"): Fault => ({
  name,
  at,
  bend: { before: () => outcome },
});
const after = (name: string, outcome: Outcome): Fault => ({
  name: `${name}, after it was stored`,
  at: "write",
  bend: { after: () => outcome },
});
/** Changes what a good answer says; an answer that is no JSON goes through as it is. */
const told = (name: string, at: Place, change: (json: Json, exchange: Exchange) => Json): Fault => ({
  name,
  at,
  bend: {
    after: (answer, exchange) => {
      const json = answer.status < 300 ? parsed(answer.body) : undefined;
      return json ? { ...answer, body: JSON.stringify(change(json, exchange)) } : answer;
    },
  },
});
const raw = (name: string, change: (body: Buffer) => Buffer | string, headers: Record<string, string> = {}): Fault => ({
  name,
  at: "any",
  bend: {
    after: (answer) => ({
      ...answer,
      headers: { ...answer.headers, ...headers },
      body: change(Buffer.from(answer.body)),
    }),
  },
});
function parsed(body: string | Buffer): Json | undefined {
  try {
    return JSON.parse(body.toString()) as Json;
  } catch {
    return undefined;
  }
}

type Entry = { resource?: Json; response?: Json; [name: string]: unknown };
const entries = (bundle: Json): Entry[] => (bundle.entry as Entry[] | undefined) ?? [];
const ofAnother = (json: Json): Json => {
  const text = JSON.stringify(json).replaceAll(/"Patient\/[^"/]+"/g, '"Patient/odalys-fennimore"');
  return JSON.parse(text) as Json;
};

const soon = () => new Date(Date.now() + 3000).toUTCString();

export const FAULTS: readonly Fault[] = [
  // No answer, or none from the record system.
  before("no answer comes", "hang"),
  before("the connection is cut", "cut"),
  before("a captive portal answers", page(200)),
  {
    name: "a redirect to a sign-in page",
    at: "any",
    bend: { before: () => ({ status: 302, headers: { location: "/login" }, body: "" }) },
  },
  before("an empty answer and nothing done", { status: 200, headers: {}, body: "" }, "search"),

  // Refusals.
  before("400 without a reason", { status: 400, headers: {}, body: "" }, "write"),
  before("403", says(403)),
  before("404", says(404)),
  before("410", says(410)),
  before("409", says(409), "write"),
  before("412", says(412), "write"),
  before("422 with the reason", fhir(422, remark("CarePlan.status is not allowed here.")), "write"),
  before("501", says(501), "write"),
  before("413", says(413), "write"),

  // The token.
  before("401, and the token is renewed", UNAUTHORIZED),
  {
    ...before("401, and the renewal is refused", UNAUTHORIZED),
    renewal: { before: () => fhir(400, { error: "invalid_grant" }) },
  },
  { ...before("401, and the renewal is cut", UNAUTHORIZED), renewal: { before: () => "cut" } },
  {
    ...before("401, and the renewal names another patient", UNAUTHORIZED),
    renewal: {
      after: (answer) => ({ ...answer, body: JSON.stringify({ ...parsed(answer.body), patient: "odalys-fennimore" }) }),
    },
  },
  {
    ...before("401, and the renewal grants less", UNAUTHORIZED),
    renewal: {
      after: (answer) => {
        const token = parsed(answer.body);
        const scope = String(token?.scope).replace(/patient\/CarePlan\.\w+/, "");
        return { ...answer, body: JSON.stringify({ ...token, scope }) };
      },
    },
  },

  // Too busy, broken.
  before("429 with seconds to wait", says(429, { "retry-after": "2" })),
  { name: "429 with a time to wait for", at: "any", bend: { before: () => says(429, { "retry-after": soon() }) } },
  before("429 for a whole day", says(429, { "retry-after": "86400" })),
  before("500", says(500)),
  before("502 from a gateway", page(502)),
  before("503 with seconds to wait", says(503, { "retry-after": "1" })),
  before("504 from a gateway", page(504)),

  // The same after the work was done.
  after("no answer comes", "hang"),
  after("the connection is cut", "cut"),
  after("a captive portal answers", page(200)),
  after("401", UNAUTHORIZED),
  after("409", says(409)),
  after("412", says(412)),
  after("500", says(500)),
  after("502 from a gateway", page(502)),
  after("503", says(503, { "retry-after": "1" })),
  after("504 from a gateway", page(504)),
  after("an empty answer", { status: 200, headers: {}, body: "" }),
  after("an empty JSON object", fhir(200, {})),
  after("only an OperationOutcome", fhir(200, remark("All is well.", "informational"))),

  // Bodies that are not what they should be; for a write the work was done.
  raw("half of the body", (body) => body.subarray(0, body.length >> 1)),
  raw("no JSON", () => "{]"),
  raw("JSON called something else", (body) => body, { "content-type": "text/plain" }),
  raw("broken letters", (body) => Buffer.concat([Buffer.from('{"resourceType":"'), Buffer.from([0xff, 0xfe]), body])),
  told("another kind of resource", "any", () => ({ resourceType: "Basic", id: "b1" })),

  // Transactions that are not what they should be.
  {
    name: "only part is stored, and the answer is 200",
    at: "transaction",
    bend: { request: withoutPlan, after: withFailedPlan },
  },
  told("entries in another order", "transaction", (json) => ({ ...json, entry: entries(json).reverse() })),
  told("fewer entries than were sent", "transaction", (json) => ({ ...json, entry: entries(json).slice(1) })),
  told("no entries", "transaction", ({ entry: _, ...json }) => json),
  told("an entry that is said to have failed and did not", "transaction", (json) => ({
    ...json,
    entry: entries(json).map((one, at) => (at === 1 ? { response: { status: "500", outcome: remark("?") } } : one)),
  })),
  told("bare status numbers", "transaction", (json) => ({
    ...json,
    entry: entries(json).map((one) => ({ ...one, response: { ...one.response, status: "201" } })),
  })),
  told("places on another server", "transaction", (json) => ({
    ...json,
    entry: entries(json).map((one) => ({
      ...one,
      response: { ...one.response, location: `https://elsewhere.example/fhir/${one.response?.location ?? ""}` },
    })),
  })),
  told("no places", "transaction", (json) => ({
    ...json,
    entry: entries(json).map(({ response: { status } = {} }) => ({ response: { status } })),
  })),

  // Searches that mislead.
  told("pages that lead round in a circle", "search", (json, { path }) => ({
    ...json,
    link: [{ relation: "next", url: `http://localhost${path}`.replace("http://localhost", "") }],
  })),
  told("a next page on another server", "search", (json) => ({
    ...json,
    link: [{ relation: "next", url: "https://elsewhere.example/fhir/page2" }],
  })),
  told("nothing found, although it is there", "search", (json) => ({ ...json, total: 0, entry: [] })),
  told("a list without entries, of some total", "search", ({ entry: _, ...json }) => ({ ...json, total: 7 })),
  told("the same entry twice", "search", (json) => ({ ...json, entry: [...entries(json), ...entries(json)] })),
  told("a remark among the entries", "search", (json) => ({
    ...json,
    entry: [...entries(json), { resource: remark("Not all is shown.", "incomplete"), search: { mode: "outcome" } }],
  })),
  told("an entry that cannot be read", "search", (json) => ({
    ...json,
    entry: [...entries(json), null, { resource: 7 }],
  })),
  told("entries of another patient", "search", (json, exchange) => ({
    ...json,
    entry: [...entries(json), { resource: ofAnother(intruder(exchange)), search: { mode: "match" } }],
  })),
  told("everything under another patient", "search", ofAnother),
  told("entries that were marked as entered in error", "search", (json) => ({
    ...json,
    entry: entries(json).map((one) => ({ ...one, resource: one.resource && inError(one.resource) })),
  })),

  // The patient.
  told("the patient has died", "patient", (json) => ({ ...json, deceasedDateTime: "2026-11-25T14:00:00Z" })),
  told("the record was merged", "patient", (json) => ({
    ...json,
    link: [{ type: "replaced-by", other: { reference: "Patient/odalys-fennimore" } }],
  })),
  told("the record is not in use", "patient", (json) => ({ ...json, active: false })),
  told("another patient answers", "patient", (json) => ({ ...json, id: "odalys-fennimore" })),
  told("the name is another one", "patient", (json) => ({ ...json, name: [{ text: "Somebody Else" }] })),

  // Time.
  raw("a clock that is a day ahead", (body) => body, { date: new Date(Date.now() + 86_400_000).toUTCString() }),
  raw("a clock that is a day behind", (body) => body, { date: new Date(Date.now() - 86_400_000).toUTCString() }),
];

/** Whether a fault of this place can strike a request of this kind. */
export function strikes(place: Place, step: string): boolean {
  const isWrite = /^(POST transaction|POST [A-Z]\w+$|PUT |PATCH )/.test(step);
  if (place === "any") return true;
  if (place === "transaction") return step === "POST transaction";
  if (place === "write") return isWrite;
  if (place === "patient") return step === "GET Patient/id";
  return step.includes("?");
}

/** What a mixed-up index gives back: somebody else's resource under the identifier that was asked for. */
function intruder({ path }: Exchange): Json {
  const { pathname, searchParams } = new URL(path, "http://localhost");
  const [system = "", value = ""] = (searchParams.get("identifier") ?? searchParams.get("_tag") ?? "").split("|");
  const resourceType = pathname.split("/").at(-1) ?? "";
  return {
    resourceType,
    id: "of-somebody-else",
    status: "active",
    meta: { versionId: "1", tag: [{ system, code: value }] },
    identifier: [{ system, value }],
    subject: { reference: "Patient/x" },
    patient: { reference: "Patient/x" },
  };
}
function inError(resource: Json): Json {
  const meta = { ...(resource.meta as Json | undefined), versionId: "99" };
  if (resource.resourceType === "Condition" || resource.resourceType === "AllergyIntolerance") {
    const system = `http://terminology.hl7.org/CodeSystem/${resource.resourceType === "Condition" ? "condition-ver-status" : "allergyintolerance-verification"}`;
    return { ...resource, meta, verificationStatus: { coding: [{ system, code: "entered-in-error" }] } };
  }
  return "status" in resource ? { ...resource, meta, status: "entered-in-error" } : resource;
}

/** A server that takes a transaction for a batch: the plan fails, and with it what points at it; the rest is stored. */
function withoutPlan(body: string): string {
  const bundle = parsed(body);
  return bundle ? JSON.stringify({ ...bundle, entry: entries(bundle).filter((one) => !fails(one)) }) : body;
}
function withFailedPlan(answer: Answer, { body }: Exchange): Answer {
  const [sent, got] = [parsed(body), parsed(answer.body)];
  if (!sent || !got || answer.status !== 200) return answer;
  const stored = entries(got);
  let at = 0;
  const entry = entries(sent).map((one) =>
    fails(one) ? { response: { status: "422 Unprocessable Entity", outcome: remark("not taken") } } : stored[at++],
  );
  return { ...answer, body: JSON.stringify({ ...got, entry }) };
}
const fails = ({ resource }: Entry) => resource?.resourceType === "CarePlan" || resource?.resourceType === "Provenance";
