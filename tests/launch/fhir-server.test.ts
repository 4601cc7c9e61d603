import { beforeEach, describe, expect, it } from "vitest";
import { type LedgerEntry, type StoreBehaviour, WELL_BEHAVED } from "../../launch/ehr/fhir/behaviour.ts";
import { isStoredType } from "../../launch/ehr/fhir/definitions.ts";
import type { FhirResponse } from "../../launch/ehr/fhir/exchange.ts";
import { PracticeServer } from "../../launch/ehr/fhir/server.ts";
import { problemsOf } from "../../launch/ehr/fhir/validate.ts";
import { diagnostics, idsIn, type Json } from "./practice.ts";

const BASE = "http://localhost:1/fhir";
let server: PracticeServer;
let behaviour: StoreBehaviour;
let ledger: Omit<LedgerEntry, "n">[];
beforeEach(() => {
  behaviour = { ...WELL_BEHAVED };
  ledger = [];
  server = new PracticeServer({
    addresses: { base: BASE, authorize: `${BASE}/a`, token: `${BASE}/t` },
    behaviour,
    onWrite: (entry) => ledger.push(entry),
  });
});

/** "GET Condition?code=x" against the server, without HTTP. */
function ask(line: string, body?: unknown, headers: Record<string, string> = {}): FhirResponse & { body: Json } {
  const [method = "", address = ""] = line.split(" ");
  const [path = "", query = ""] = address.replace(`${BASE}/`, "").split("?");
  return server.handle({
    method,
    path: path === "/" ? "" : path,
    query: new URLSearchParams(query),
    headers,
    body,
  }) as FhirResponse & { body: Json };
}
const found = (query: string): string[] => idsIn(ask(`GET ${query}`).body);
const PATIENT = { reference: "Patient/p1" };
const coded = (system: string, code: string) => ({ coding: [{ system, code }] });
const clinical = (code: string) => coded("http://terminology.hl7.org/CodeSystem/condition-clinical", code);
const condition = (more: object = {}) => ({
  resourceType: "Condition",
  clinicalStatus: clinical("active"),
  code: { text: "Injury of right ring finger" },
  subject: PATIENT,
  ...more,
});
const order = (more: object = {}) => ({
  resourceType: "ServiceRequest",
  status: "draft",
  intent: "order",
  code: { text: "Splint" },
  subject: PATIENT,
  ...more,
});
const putPatient = (id = "p1", more: object = {}) =>
  ask(`PUT Patient/${id}`, {
    resourceType: "Patient",
    id,
    name: [{ family: "Fennimore", given: ["Odalys"] }],
    birthDate: "1991-03-14",
    ...more,
  });
const entry = (method: string, url: string, resource?: object, more: object = {}, fullUrl?: string) => ({
  ...(fullUrl ? { fullUrl } : {}),
  ...(resource ? { resource } : {}),
  request: { method, url, ...more },
});
const transaction = (...entries: object[]) =>
  ask("POST /", { resourceType: "Bundle", type: "transaction", entry: entries });
const statuses = (response: { body: Json }) => response.body.entry.map((each: Json) => each.response.status);

beforeEach(() => void putPatient());

describe("create (R4 http.html#create)", () => {
  it("answers 201 with Location, ETag and the stored resource; a given id is not used", () => {
    const { status, headers, body } = ask("POST Condition", condition({ id: "mine" }));
    expect(status).toBe(201);
    expect(body.id).not.toBe("mine");
    expect(body.meta).toMatchObject({ versionId: "1" });
    expect(headers).toMatchObject({ etag: 'W/"1"', location: `${BASE}/Condition/${body.id}/_history/1` });
    expect(Date.parse(headers["last-modified"] ?? "")).not.toBeNaN();
  });
  it.each([
    ["return=minimal", undefined],
    ["return=OperationOutcome", "OperationOutcome"],
    ["return=representation", "Condition"],
  ])("Prefer: %s", (prefer, type) =>
    expect(ask("POST Condition", condition(), { prefer }).body?.resourceType).toBe(type),
  );
  it("refuses what is not valid with 422 and says where", () => {
    const { status, body } = ask("POST Condition", condition({ subject: undefined, onsetDateTime: "2026-02-30" }));
    expect(status).toBe(422);
    expect(body.issue.length).toBeGreaterThan(1);
    expect(JSON.stringify(body)).toContain("Condition.onsetDateTime");
  });
  it("refuses a body of another type, and no body, with 400; an unknown type with 404", () => {
    expect(ask("POST Condition", order()).status).toBe(400);
    expect(ask("POST Condition").status).toBe(400);
    expect(ask("POST Conditon", condition()).status).toBe(404);
    expect(ask("GET Wizard/1").status).toBe(404);
  });
  it("refuses a reference that leads nowhere on this server, and takes one to elsewhere", () => {
    expect(ask("POST Condition", condition({ subject: { reference: "Patient/nobody" } })).status).toBe(422);
    expect(
      ask("POST Condition", condition({ asserter: { reference: "http://elsewhere.example/fhir/Practitioner/1" } }))
        .status,
    ).toBe(201);
  });
});

describe("conditional create (R4 http.html#ccreate)", () => {
  const identified = (value: string) => condition({ identifier: [{ system: "urn:example:plan", value }] });
  const once = { "if-none-exist": "identifier=urn:example:plan|1" };
  it("creates once; a repeat answers 200 with what is there", () => {
    const first = ask("POST Condition", identified("1"), once);
    const second = ask("POST Condition", identified("1"), once);
    expect([first.status, second.status]).toEqual([201, 200]);
    expect(second.headers.location).toBe(first.headers.location);
    expect(server.store.count("Condition")).toBe(1);
  });
  it("several matches are refused with 412", () => {
    ask("POST Condition", identified("1"));
    ask("POST Condition", identified("1"));
    expect(ask("POST Condition", identified("1"), once).status).toBe(412);
  });
  it("a condition that cannot be understood is refused, never ignored", () => {
    expect(ask("POST Condition", identified("1"), { "if-none-exist": "identifer=urn:example:plan|1" }).status).toBe(
      400,
    );
    expect(server.store.count("Condition")).toBe(0);
  });
  it("a server that ignores it, and one that forgets identifiers, can be had on demand", () => {
    behaviour.ignoreIfNoneExist = true;
    ask("POST Condition", identified("1"), once);
    ask("POST Condition", identified("1"), once);
    expect(server.store.count("Condition")).toBe(2);
    behaviour.dropIdentifier = true;
    expect(ask("POST Condition", identified("2")).body.identifier).toBeUndefined();
  });
});

describe("read, vread, conditional read (R4 http.html#read, #vread, #cread)", () => {
  it("gives the current version, and each earlier one by its number", () => {
    const { id } = ask("POST Condition", condition()).body;
    ask(`PUT Condition/${id}`, condition({ id, code: { text: "Second" } }));
    expect(ask(`GET Condition/${id}`).body.code.text).toBe("Second");
    expect(ask(`GET Condition/${id}/_history/1`).body.code.text).toBe("Injury of right ring finger");
    expect(ask(`GET Condition/${id}/_history/9`).status).toBe(404);
    expect(ask("GET Condition/nobody").status).toBe(404);
  });
  it("answers 304 for the version that the client has", () => {
    const { id } = ask("POST Condition", condition()).body;
    expect(ask(`GET Condition/${id}`, undefined, { "if-none-match": 'W/"1"' })).toMatchObject({
      status: 304,
      headers: { etag: 'W/"1"' },
    });
    expect(ask(`GET Condition/${id}`, undefined, { "if-none-match": 'W/"7"' }).status).toBe(200);
    const later = new Date(Date.now() + 60_000).toUTCString();
    expect(ask(`GET Condition/${id}`, undefined, { "if-modified-since": later }).status).toBe(304);
    expect(ask(`GET Condition/${id}`, undefined, { "if-modified-since": "Tue, 01 Jan 2008 00:00:00 GMT" }).status).toBe(
      200,
    );
  });
});

describe("update, patch and version conflicts (R4 http.html#update, #patch, #concurrency)", () => {
  it("an update makes the next version; one to a new id creates it", () => {
    expect(putPatient("p1", { gender: "female" })).toMatchObject({ status: 200, headers: { etag: 'W/"2"' } });
    expect(putPatient("brand-new").status).toBe(201);
  });
  it("the id in body and address must agree", () => {
    expect(ask("PUT Patient/p1", { resourceType: "Patient", id: "p2" }).status).toBe(400);
    expect(ask("PUT Patient/p1", { resourceType: "Patient" }).status).toBe(400);
  });
  it("If-Match: the version read passes, an older one is refused with 412 and stores nothing", () => {
    const good = ask("PUT Patient/p1", { resourceType: "Patient", id: "p1", gender: "male" }, { "if-match": 'W/"1"' });
    expect(good.status).toBe(200);
    const stale = ask(
      "PUT Patient/p1",
      { resourceType: "Patient", id: "p1", gender: "other" },
      { "if-match": 'W/"1"' },
    );
    expect([stale.status, stale.body.issue[0].code]).toEqual([412, "conflict"]);
    expect(ask("GET Patient/p1").body.gender).toBe("male");
    expect(ask("PUT Patient/never", { resourceType: "Patient", id: "never" }, { "if-match": 'W/"1"' }).status).toBe(
      412,
    );
  });
  it("JSON Patch (RFC 6902) applies, minds If-Match, and is checked", () => {
    expect(
      ask("PATCH Patient/p1", [{ op: "replace", path: "/birthDate", value: "1991-03-15" }], { "if-match": 'W/"1"' })
        .body.birthDate,
    ).toBe("1991-03-15");
    expect(ask("PATCH Patient/p1", [{ op: "remove", path: "/birthDate" }], { "if-match": 'W/"1"' }).status).toBe(412);
    expect(ask("PATCH Patient/p1", [{ op: "test", path: "/birthDate", value: "2000-01-01" }]).status).toBe(422);
    expect(ask("PATCH Patient/p1", [{ op: "replace", path: "/birthDate", value: "yesterday" }]).status).toBe(422);
    expect(ask("PATCH Patient/p1", [{ op: "replace", path: "/id", value: "p2" }]).status).toBe(422);
    expect(ask("PATCH Patient/p1", { op: "remove" }).status).toBe(400);
    expect(ask("GET Patient/p1").headers.etag).toBe('W/"2"');
  });
  it("conditional update: none creates, one updates, several are refused (R4 http.html#cond-update)", () => {
    const identified = (more: object = {}) => condition({ identifier: [{ system: "urn:x", value: "1" }], ...more });
    const url = "PUT Condition?identifier=urn:x|1";
    expect(ask(url, identified()).status).toBe(201);
    expect(ask(url, identified({ code: { text: "Changed" } })).status).toBe(200);
    expect(server.store.count("Condition")).toBe(1);
    ask("POST Condition", identified());
    expect(ask(url, identified()).status).toBe(412);
  });
});

describe("delete (R4 http.html#delete)", () => {
  it("204; then 410 on read, still in the history, not found by search, and comes back with an update", () => {
    const { id } = ask("POST Condition", condition()).body;
    expect(ask(`DELETE Condition/${id}`).status).toBe(204);
    expect(ask(`GET Condition/${id}`).status).toBe(410);
    expect(ask(`GET Condition/${id}/_history/2`).status).toBe(410);
    expect(ask(`GET Condition/${id}/_history/1`).status).toBe(200);
    expect(found("Condition?patient=p1")).toEqual([]);
    expect(ask(`DELETE Condition/${id}`).status).toBe(204);
    expect(ask(`PUT Condition/${id}`, condition({ id })).headers.etag).toBe('W/"3"');
    expect(ask("DELETE Condition/never-there").status).toBe(404);
  });
  it("minds If-Match", () => {
    putPatient("p1", { gender: "male" });
    expect(ask("DELETE Patient/p1", undefined, { "if-match": 'W/"1"' }).status).toBe(412);
  });
});

describe("history (R4 http.html#history)", () => {
  it("newest first, with how each version came to be, the same each time it is read", () => {
    const { id } = ask("POST Condition", condition()).body;
    ask(`PUT Condition/${id}`, condition({ id, code: { text: "Second" } }));
    ask(`DELETE Condition/${id}`);
    for (const _ of [1, 2]) {
      const { body } = ask(`GET Condition/${id}/_history`);
      expect(body).toMatchObject({ type: "history", total: 3 });
      expect(body.entry.map((each: Json) => each.request.method)).toEqual(["DELETE", "PUT", "POST"]);
      expect(body.entry.map((each: Json) => each.response.etag)).toEqual(['W/"3"', 'W/"2"', 'W/"1"']);
      expect(problemsOf(body)).toEqual([]);
    }
    expect(ask("GET Condition/_history").body.total).toBe(3);
    expect(ask("GET _history").body.total).toBe(4);
    expect(ask("GET Condition/never/_history").status).toBe(404);
  });
});

describe("search parameters (R4 search.html)", () => {
  beforeEach(() => {
    putPatient("p2", {
      name: [{ family: "Ångström", given: ["Zoë"] }],
      birthDate: "2014-07-01",
      identifier: [{ system: "urn:mrn", value: "20533" }],
      deceasedBoolean: true,
    });
    const put = (id: string, more: object) => ask(`PUT Condition/${id}`, condition({ id, ...more }));
    put("c1", {
      onsetDateTime: "2026-11-20",
      code: coded("http://hl7.org/fhir/sid/icd-10-cm", "S69.91XA"),
      identifier: [{ system: "urn:x", value: "a|b" }],
    });
    put("c2", { onsetDateTime: "2026-11", clinicalStatus: clinical("resolved"), abatementDateTime: "2026-12-01" });
    put("c3", { onsetDateTime: "2026-11-25T08:30:00Z", subject: { reference: "Patient/p2" }, code: { text: "Cough" } });
    ask("PUT Observation/w1", {
      resourceType: "Observation",
      id: "w1",
      status: "final",
      code: coded("http://loinc.org", "29463-7"),
      subject: PATIENT,
      valueQuantity: { value: 71.5, unit: "kg", system: "http://unitsofmeasure.org", code: "kg" },
    });
  });
  it.each([
    ["a bare id", "Condition?patient=p1", ["c1", "c2"]],
    ["type and id", "Condition?patient=Patient/p2", ["c3"]],
    ["an absolute reference", `Condition?subject=${BASE}/Patient/p2`, ["c3"]],
    ["a type modifier", "Condition?subject:Patient=p2", ["c3"]],
    ["a chain", "Condition?patient.identifier=urn:mrn|20533", ["c3"]],
    ["a typed chain", "Condition?subject:Patient.family=fenn", ["c1", "c2"]],
    ["a reverse chain", "Patient?_has:Observation:patient:code=29463-7", ["p1"]],
    [
      "system and code",
      "Condition?clinical-status=http://terminology.hl7.org/CodeSystem/condition-clinical|active",
      ["c1", "c3"],
    ],
    ["several codes", "Condition?clinical-status=active,resolved&patient=p1", ["c1", "c2"]],
    ["a code under another system", "Condition?clinical-status=urn:other|active", []],
    ["a system with any code", "Condition?code=http://hl7.org/fhir/sid/icd-10-cm|", ["c1"]],
    ["code without system only", "Condition?code=|S69.91XA", []],
    [":not", "Condition?clinical-status:not=active", ["c2"]],
    [":text", "Condition?code:text=RING", ["c2"]],
    [":missing=true", "Condition?abatement-date:missing=true", ["c1", "c3"]],
    [":missing=false", "Condition?abatement-date:missing=false", ["c2"]],
    ["an identifier with an escaped bar", "Condition?identifier=urn:x|a\\|b", ["c1"]],
    ["_id", "Condition?_id=c1,c3", ["c1", "c3"]],
    ["a day", "Condition?onset-date=2026-11-20", ["c1"]],
    ["a month holds its days", "Condition?onset-date=2026-11", ["c1", "c2", "c3"]],
    ["ge", "Condition?onset-date=ge2026-11-25", ["c2", "c3"]],
    ["lt", "Condition?onset-date=lt2026-11-20", ["c2"]],
    ["sa: starts after", "Condition?onset-date=sa2026-11-20", ["c3"]],
    ["a window", "Condition?onset-date=ge2026-11-20&onset-date=le2026-11-20&patient=p1", ["c1", "c2"]],
    ["a name without its accents", "Patient?name=angstrom", ["p2"]],
    ["a name from its start only", "Patient?family=more", []],
    [":contains", "Patient?family:contains=more", ["p1"]],
    ["a birth date", "Patient?birthdate=2014-07-01", ["p2"]],
    ["a computed flag", "Patient?deceased=true", ["p2"]],
    ["a quantity", "Observation?value-quantity=71.5||kg", ["w1"]],
    ["a quantity with prefix", "Observation?value-quantity=gt80", []],
    ["an empty parameter is as none", "Condition?code=", ["c1", "c2", "c3"]],
  ])("%s", (_, query, ids) => expect(found(query).sort()).toEqual(ids));

  it("_lastUpdated", () => {
    expect(found("Condition?_lastUpdated=ge2020-01-01")).toHaveLength(3);
    expect(found("Condition?_lastUpdated=lt2020-01-01")).toEqual([]);
  });
  it("an unknown parameter is ignored and said, and is not in the self link; strict handling refuses it", () => {
    const { body } = ask("GET Condition?patient=p1&colour=blue");
    expect(idsIn(body)).toHaveLength(2);
    const note = body.entry.find((each: Json) => each.search.mode === "outcome");
    expect(diagnostics(note.resource)).toContain("colour");
    expect(body.link[0].url).toBe(`${BASE}/Condition?patient=p1`);
    expect(ask("GET Condition?colour=blue", undefined, { prefer: "handling=strict" }).status).toBe(400);
  });
  it.each([
    "Condition?onset-date=yesterday",
    "Condition?_count=many",
    "Condition?abatement-date:missing=perhaps",
    "Observation?value-quantity=heavy",
  ])("%s is refused with 400", (query) => expect(ask(`GET ${query}`).status).toBe(400));
  it("POST _search finds the same", () => {
    const body = new URLSearchParams({ patient: "p1", "clinical-status": "active" });
    expect(
      idsIn(
        server.handle({ method: "POST", path: "Condition/_search", query: new URLSearchParams(), headers: {}, body })
          .body,
      ),
    ).toEqual(["c1"]);
  });
  it("within a patient's compartment", () => {
    expect(found("Patient/p2/Condition")).toEqual(["c3"]);
    expect(ask("GET Patient/nobody/Condition").status).toBe(404);
  });
  it("_sort by date, both ways, what has none last; _count and pages walk over all, once each", () => {
    ask("PUT Condition/c4", condition({ id: "c4" }));
    expect(found("Condition?_sort=onset-date&patient=p1")).toEqual(["c2", "c1", "c4"]);
    expect(found("Condition?_sort=-onset-date&patient=p1")).toEqual(["c2", "c1", "c4"]);
    const seen: string[] = [];
    let next: string | undefined = "Condition?_sort=-onset-date&_count=2";
    for (let pages = 0; next; pages++) {
      expect(pages).toBeLessThan(3);
      const { body } = ask(`GET ${next}`);
      expect(body.total).toBe(4);
      seen.push(...idsIn(body));
      next = body.link.find(({ relation }: Json) => relation === "next")?.url;
    }
    expect(seen.sort()).toEqual(["c1", "c2", "c3", "c4"]);
  });
  it("a page has the server's size when the client names none", () => {
    behaviour.pageSize = 2;
    const { body } = ask("GET Condition");
    expect([idsIn(body).length, body.total]).toEqual([2, 3]);
  });
  it("_include and _revinclude come marked and are not counted", () => {
    const { body } = ask("GET Condition?patient=p1&_include=Condition:patient&_count=1");
    expect(body.entry.map((each: Json) => each.search.mode)).toEqual(["match", "include"]);
    expect(body.total).toBe(2);
    const reverse = ask("GET Patient?_id=p1&_revinclude=Condition:patient&_revinclude=Observation:patient").body;
    expect(idsIn(reverse).sort()).toEqual(["c1", "c2", "p1", "w1"]);
  });
  it("_elements and _summary cut, keep what is mandatory, and tag the result as cut", () => {
    const [cut] = ask("GET Condition?_id=c1&_elements=code").body.entry.map(({ resource }: Json) => resource);
    expect(Object.keys(cut).sort()).toEqual(["code", "id", "meta", "resourceType", "subject"]);
    expect(cut.meta.tag).toContainEqual({
      system: "http://terminology.hl7.org/CodeSystem/v3-ObservationValue",
      code: "SUBSETTED",
    });
    expect(ask("GET Condition?_summary=count").body).toMatchObject({ total: 3 });
    expect(ask("GET Condition?_summary=count").body.entry).toBeUndefined();
    expect(ask("GET Condition?_id=c1&_summary=true").body.entry[0].resource.onsetDateTime).toBe("2026-11-20");
    expect(ask("GET Condition/c1").body.meta.tag, "the stored resource stays whole").toBeUndefined();
  });
  it("an index that comes late hides a new resource unless asked without cache", () => {
    behaviour.staleSearchMs = 60_000;
    ask("PUT Condition/late", condition({ id: "late" }));
    expect(found("Condition?_id=late")).toEqual([]);
    expect(idsIn(ask("GET Condition?_id=late", undefined, { "cache-control": "no-cache" }).body)).toEqual(["late"]);
  });
  it("every answer is itself valid R4", () => {
    expect(problemsOf(ask("GET Condition?patient=p1&colour=blue&_include=*").body)).toEqual([]);
  });
});

describe("transaction (R4 http.html#transaction)", () => {
  const plan = () => [
    entry(
      "POST",
      "Condition",
      condition({ identifier: [{ system: "urn:plan", value: "c" }] }),
      { ifNoneExist: "identifier=urn:plan|c" },
      "urn:uuid:61ebe359-bfdc-4613-8bf2-c5e300945f0a",
    ),
    entry(
      "POST",
      "ServiceRequest",
      order({
        identifier: [{ system: "urn:plan", value: "s" }],
        reasonReference: [{ reference: "urn:uuid:61ebe359-bfdc-4613-8bf2-c5e300945f0a" }],
      }),
      { ifNoneExist: "identifier=urn:plan|s" },
      "urn:uuid:88f151c0-a954-468a-88bd-5ae15c08e059",
    ),
    entry(
      "POST",
      "CarePlan",
      {
        resourceType: "CarePlan",
        status: "draft",
        intent: "plan",
        subject: PATIENT,
        identifier: [{ system: "urn:plan", value: "p" }],
        activity: [{ reference: { reference: "urn:uuid:88f151c0-a954-468a-88bd-5ae15c08e059" } }],
      },
      { ifNoneExist: "identifier=urn:plan|p" },
    ),
  ];
  it("stores all, in the order asked, and turns urn:uuid into real references", () => {
    const response = transaction(...plan());
    expect(response.status).toBe(200);
    expect(response.body.type).toBe("transaction-response");
    expect(statuses(response)).toEqual(["201 Created", "201 Created", "201 Created"]);
    const [conditionStored, orderStored, planStored] = response.body.entry.map((each: Json) => each.resource);
    expect(orderStored.reasonReference).toEqual([{ reference: `Condition/${conditionStored.id}` }]);
    expect(planStored.activity).toEqual([{ reference: { reference: `ServiceRequest/${orderStored.id}` } }]);
    expect(response.body.entry[0].response).toMatchObject({
      etag: 'W/"1"',
      location: `${BASE}/Condition/${conditionStored.id}/_history/1`,
    });
    expect(problemsOf(response.body)).toEqual([]);
  });
  it("sent again with ifNoneExist it creates nothing, and new entries point to what is there", () => {
    const first = transaction(...plan());
    const again = transaction(...plan());
    expect(statuses(again)).toEqual(["200 OK", "200 OK", "200 OK"]);
    expect(again.body.entry.map((each: Json) => each.resource.id)).toEqual(
      first.body.entry.map((each: Json) => each.resource.id),
    );
    expect(["Condition", "ServiceRequest", "CarePlan"].map((type) => server.store.count(type))).toEqual([1, 1, 1]);
  });
  it("takes more than eight conditional entries at once", () => {
    const many = Array.from({ length: 13 }, (_, i) =>
      entry("POST", "ServiceRequest", order({ identifier: [{ system: "urn:n", value: `${i}` }] }), {
        ifNoneExist: `identifier=urn:n|${i}`,
      }),
    );
    expect(statuses(transaction(...many))).toEqual(Array(13).fill("201 Created"));
  });
  it("one bad entry stores nothing, leaves indexes and ledger as they were, and is named", () => {
    const before = ledger.length;
    const { status, body } = transaction(
      ...plan(),
      entry("PUT", "Patient/p1", { resourceType: "Patient", id: "p1", birthDate: "soon" }),
    );
    expect(status).toBe(422);
    expect(diagnostics(body)).toContain("Bundle.entry[3]");
    expect(["Condition", "ServiceRequest", "CarePlan"].map((type) => server.store.count(type))).toEqual([0, 0, 0]);
    expect(found("Condition?identifier=urn:plan|c")).toEqual([]);
    expect(found("Condition?patient=p1")).toEqual([]);
    expect(ledger).toHaveLength(before);
  });
  it("a stale ifMatch refuses the whole", () => {
    const { status } = transaction(
      entry("POST", "Condition", condition()),
      entry("PUT", "Patient/p1", { resourceType: "Patient", id: "p1" }, { ifMatch: 'W/"9"' }),
    );
    expect(status).toBe(412);
    expect(server.store.count("Condition")).toBe(0);
  });
  it.each([
    [
      "a urn:uuid that no entry has",
      () => [
        entry(
          "POST",
          "Condition",
          condition({ encounter: { reference: "urn:uuid:00000000-0000-4000-8000-000000000000" } }),
        ),
      ],
      422,
    ],
    [
      "the same fullUrl twice",
      () => [
        entry("POST", "Condition", condition(), {}, "urn:uuid:1"),
        entry("POST", "Condition", condition(), {}, "urn:uuid:1"),
      ],
      400,
    ],
    [
      "the same resource changed twice",
      () => [entry("DELETE", "Patient/p1"), entry("PUT", "Patient/p1", { resourceType: "Patient", id: "p1" })],
      400,
    ],
    ["an entry without request", () => [{ resource: condition() }], 400],
    [
      "a reference to a resource that the same transaction deletes",
      () => [entry("DELETE", "Patient/p1"), entry("POST", "Condition", condition())],
      422,
    ],
  ])("%s is refused", (_, entries, status) => {
    expect(transaction(...entries()).status).toBe(status);
    expect(server.store.count("Condition")).toBe(0);
  });
  it("runs in the order delete, create, update, read, whatever the order sent (R4 http.html#trules)", () => {
    const { id } = ask("POST Condition", condition()).body;
    const response = transaction(
      entry("GET", "Condition?patient=p1"),
      entry("PUT", "Patient/p1", { resourceType: "Patient", id: "p1", gender: "other" }),
      entry("POST", "Condition", condition({ code: { text: "New" } })),
      entry("DELETE", `Condition/${id}`),
    );
    expect(statuses(response)).toEqual(["200 OK", "200 OK", "201 Created", "204 No Content"]);
    expect(response.body.entry[0].resource.entry.map(({ resource }: Json) => resource.code.text)).toEqual(["New"]);
  });
  it("resolves a conditional reference, and refuses one that matches nothing", () => {
    ask("PUT Practitioner/d1", {
      resourceType: "Practitioner",
      id: "d1",
      identifier: [{ system: "urn:staff", value: "7" }],
    });
    const with_ = (value: string) =>
      transaction(
        entry(
          "POST",
          "Condition",
          condition({ asserter: { reference: `Practitioner?identifier=urn:staff|${value}` } }),
        ),
      );
    expect(with_("7").body.entry[0].resource.asserter).toEqual({ reference: "Practitioner/d1" });
    expect(with_("8").status).toBe(412);
  });
  it("a JSON Patch travels as a Binary", () => {
    const data = Buffer.from(JSON.stringify([{ op: "add", path: "/gender", value: "female" }])).toString("base64");
    transaction(
      entry("PATCH", "Patient/p1", { resourceType: "Binary", contentType: "application/json-patch+json", data }),
    );
    expect(ask("GET Patient/p1").body.gender).toBe("female");
  });
  it("only transaction and batch bundles are taken", () => {
    expect(ask("POST /", { resourceType: "Bundle", type: "collection" }).status).toBe(400);
    expect(ask("POST /", condition()).status).toBe(400);
  });
});

describe("batch (R4 http.html#transaction)", () => {
  it("each entry has its own answer; a bad one does not stop the rest", () => {
    const response = ask("POST /", {
      resourceType: "Bundle",
      type: "batch",
      entry: [
        entry("GET", "Patient/p1"),
        entry("GET", "Patient/none"),
        entry("GET", "Condition?patient=p1"),
        entry("POST", "Condition", condition({ subject: undefined })),
      ],
    });
    expect(statuses(response)).toEqual(["200 OK", "404 Not Found", "200 OK", "422 Unprocessable Entity"]);
    expect(response.body.entry[1].response.outcome.resourceType).toBe("OperationOutcome");
    expect(problemsOf(response.body)).toEqual([]);
  });
});

describe("capabilities, $validate, $everything, other methods", () => {
  it("the CapabilityStatement is valid R4 and claims only what is stored and searched", () => {
    const { body } = ask("GET metadata");
    expect(problemsOf(body)).toEqual([]);
    const [rest] = body.rest;
    expect(rest.resource.every(({ type }: Json) => isStoredType(type))).toBe(true);
    expect(rest.interaction.map(({ code }: Json) => code)).toEqual(expect.arrayContaining(["transaction", "batch"]));
    const claimed = rest.resource.find(({ type }: Json) => type === "Condition");
    expect(claimed).toMatchObject({ conditionalCreate: true, versioning: "versioned-update" });
    for (const { name } of claimed.searchParam) {
      const value =
        {
          "onset-date": "2026",
          "recorded-date": "2026",
          "abatement-date": "2026",
          _lastUpdated: "2026",
          "onset-age": "3",
          "abatement-age": "3",
        }[name as string] ?? "x";
      expect(ask(`GET Condition?${name}=${value}`, undefined, { prefer: "handling=strict" }).status, name).toBe(200);
    }
  });
  it("$validate tells without storing, for the resource itself and within Parameters", () => {
    expect(ask("POST Condition/$validate", condition()).body.issue[0].severity).toBe("information");
    const bad = ask("POST Condition/$validate", {
      resourceType: "Parameters",
      parameter: [{ name: "resource", resource: condition({ subject: undefined }) }],
    });
    expect([bad.status, bad.body.issue[0].severity]).toEqual([200, "error"]);
    expect(server.store.count("Condition")).toBe(0);
  });
  it("$everything gathers a patient's record", () => {
    putPatient("p2");
    const { id } = ask("POST Condition", condition()).body;
    ask("POST Condition", condition({ subject: { reference: "Patient/p2" } }));
    expect(idsIn(ask("GET Patient/p1/$everything").body).sort()).toEqual([id, "p1"].sort());
  });
  it("a method that is not for this address is 405 with Allow", () => {
    expect(ask("DELETE Condition").status).toBe(405);
    expect(ask("POST Condition/1", condition()).headers.allow).toContain("PUT");
  });
  it("the ledger tells each accepted write with its identifiers", () => {
    ask("POST Condition", condition({ identifier: [{ system: "urn:x", value: "7" }] }));
    ask("POST Condition", condition({ subject: undefined }));
    expect(ledger.slice(1)).toMatchObject([
      { method: "POST", versionId: "1", identifiers: ["urn:x|7"], within: "single" },
    ]);
  });
});
