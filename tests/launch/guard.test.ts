import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { personById } from "../../launch/ehr/smart/people.ts";
import { grantScopes, permissionFor, readScope } from "../../launch/ehr/smart/scopes.ts";
import type { Practice } from "../../launch/start.ts";
import { call, control, diagnostics, idsIn, openPractice, postForm, signIn } from "./practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(() => practice.close());
afterEach(() => control(practice, { reset: true }));

const ODALYS = { reference: "Patient/odalys-fennimore" };
const PIM = { reference: "Patient/pim-okonjo-vale" };
const condition = (subject = ODALYS, more: object = {}) => ({
  resourceType: "Condition",
  clinicalStatus: { coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-clinical", code: "active" }] },
  code: { text: "Guard check" },
  subject,
  ...more,
});
const post = (body: unknown) => ({ method: "POST", body });
const entry = (method: string, url: string, resource?: object) => ({
  request: { method, url },
  ...(resource ? { resource } : {}),
});
const bundle = (type: "batch" | "transaction", ...entries: object[]) =>
  post({ resourceType: "Bundle", type, entry: entries });

describe("scopes as written (SMART App Launch 2.2, scopes for requesting FHIR resources)", () => {
  it.each([
    ["patient/Observation.rs", "rs"],
    ["user/*.cruds", "cruds"],
    ["patient/Condition.read", "rs"],
    ["patient/Condition.write", "cud"],
    ["patient/*.*", "cruds"],
  ])("%s is understood", (scope, letters) => expect(readScope(scope)?.letters).toBe(letters));
  it.each([
    "patient/Observation.sr",
    "patient/Observation.",
    "patient/observation.rs",
    "system/Patient.rs",
    "patient/Observation.read?x=y",
    "Observation.rs",
  ])("%s is not a scope of this server", (scope) => expect(readScope(scope)).toBeUndefined());
  it("an emergency doctor is granted what was asked; clinic and coder get reading, the clinic also its visits, the coder diagnoses", () => {
    const asked = ["launch", "patient/Condition.crus", "patient/Appointment.crus", "patient/CarePlan.write"];
    const granted = (id: string) => grantScopes(asked, personById(id) as never, [], true);
    expect(granted("emergency")).toEqual(asked);
    expect(granted("clinic")).toEqual(["launch", "patient/Condition.rs", "patient/Appointment.crus"]);
    expect(granted("coder")).toEqual(["launch", "patient/Condition.crus", "patient/Appointment.rs"]);
  });
  it("a wildcard becomes what the person may do, type by type", () => {
    expect(grantScopes(["patient/*.cruds"], personById("clinic") as never, [], true)).toEqual([
      "patient/*.rs",
      "patient/Appointment.cu",
      "patient/Communication.c",
      "patient/Provenance.c",
      "patient/Slot.u",
    ]);
    expect(grantScopes(["patient/*.read"], personById("coder") as never, [], true)).toEqual(["patient/*.read"]);
  });
  it("single letters or whole types can be withheld", () => {
    const doctor = personById("emergency") as never;
    expect(
      grantScopes(["patient/CarePlan.crus", "online_access"], doctor, ["patient/CarePlan.c", "online_access"], true),
    ).toEqual(["patient/CarePlan.rus"]);
    expect(grantScopes(["patient/CarePlan.crus"], doctor, ["CarePlan"], true)).toEqual([]);
  });
  it("a user/ scope reaches all patients, a patient/ scope the one in context", () => {
    expect(permissionFor(["patient/Condition.rs"], "Condition", "r")?.reach).toBe("patient");
    expect(permissionFor(["patient/Condition.rs", "user/*.rs"], "Condition", "r")?.reach).toBe("all");
    expect(permissionFor(["patient/Condition.rs"], "Condition", "c")).toBeUndefined();
  });
});

describe("access token at the FHIR server (RFC 6750 3)", () => {
  it("none: 401 with a challenge and an OperationOutcome", async () => {
    const { status, headers, body } = await call(practice, undefined, "Patient/odalys-fennimore");
    expect(status).toBe(401);
    expect(headers.get("www-authenticate")).toBe('Bearer realm="practice"');
    expect(body.resourceType).toBe("OperationOutcome");
  });
  it("a made-up one, and one whose letters were changed: 401 invalid_token", async () => {
    const { token } = await signIn(practice);
    for (const wrong of ["abc", `${token.slice(0, -6)}AAAAAA`, `${token.split(".")[0]}.e30.${token.split(".")[2]}`]) {
      const { status, headers } = await call(practice, wrong, "Patient/odalys-fennimore");
      expect(status).toBe(401);
      expect(headers.get("www-authenticate")).toContain('error="invalid_token"');
    }
  });
  it("an id_token is not an access token", async () => {
    const { response } = await signIn(practice);
    expect((await call(practice, response.id_token, "Patient/odalys-fennimore")).status).toBe(401);
  });
  it("a token that has run out: 401", async () => {
    await control(practice, { tokenSeconds: 1 });
    const { token } = await signIn(practice);
    await expect
      .poll(async () => (await call(practice, token, "Patient/odalys-fennimore")).status, { timeout: 5000 })
      .toBe(401);
  });
  it("the capability statement needs none", async () => {
    expect((await call(practice, undefined, "metadata")).status).toBe(200);
  });
});

describe("one letter per interaction (SMART 2.2)", () => {
  it.each([
    ["read", "r", "Condition/odalys-fennimore-injury", {}],
    ["vread", "r", "Condition/odalys-fennimore-injury/_history/1", {}],
    ["history", "r", "Condition/odalys-fennimore-injury/_history", {}],
    ["search", "s", "Condition?code:text=injury", {}],
    [
      "search by POST",
      "s",
      "Condition/_search",
      { method: "POST", body: "code:text=injury", headers: { "content-type": "application/x-www-form-urlencoded" } },
    ],
    ["create", "c", "Condition", post(condition())],
    [
      "update",
      "u",
      "Condition/odalys-fennimore-injury",
      { method: "PUT", body: condition(ODALYS, { id: "odalys-fennimore-injury" }) },
    ],
    [
      "patch",
      "u",
      "Condition/odalys-fennimore-injury",
      { method: "PATCH", body: [{ op: "add", path: "/note", value: [{ text: "x" }] }] },
    ],
    ["delete", "d", "Condition/odalys-fennimore-injury", { method: "DELETE" }],
  ])("%s needs %s", async (_, letter, path, how) => {
    const others = [..."cruds"].filter((each) => each !== letter).join("");
    const without = await signIn(practice, { scope: `launch patient/Condition.${others} patient/Patient.r` });
    expect((await call(practice, without.token, path, how)).status).toBe(403);
    const having = await signIn(practice, { scope: `launch patient/Condition.${letter}` });
    expect((await call(practice, having.token, path, how)).status).toBeLessThan(300);
    await control(practice, { reseed: true });
  });

  it("a search shows only what it included of types that may be read", async () => {
    const narrow = await signIn(practice, { scope: "launch patient/Condition.rs" });
    const path = "Condition?_id=odalys-fennimore-injury&_include=Condition:subject&_include=Condition:encounter";
    expect(idsIn((await call(practice, narrow.token, path)).body)).toEqual(["odalys-fennimore-injury"]);
    const wide = await signIn(practice, { scope: "launch patient/Condition.rs patient/Patient.r" });
    expect(idsIn((await call(practice, wide.token, path)).body).sort()).toEqual([
      "odalys-fennimore",
      "odalys-fennimore-injury",
    ]);
  });

  it("_has may not look into a type that may not be searched", async () => {
    const { token } = await signIn(practice, { scope: "launch patient/Patient.rs" });
    expect((await call(practice, token, "Patient?_has:Observation:patient:code=29463-7")).status).toBe(403);
  });

  it("a scope with a condition lets through only what meets it (SMART 2.2 finer-grained constraints)", async () => {
    const { token } = await signIn(practice, {
      scope: "launch patient/Condition.rs?category=problem-list-item",
      patient: "bertil-aschenbrook",
    });
    const found = await call(practice, token, "Condition");
    expect(idsIn(found.body).sort()).toEqual([
      "bertil-aschenbrook-diabetes",
      "bertil-aschenbrook-hypertension",
      "bertil-aschenbrook-refuted-raynaud",
    ]);
    expect((await call(practice, token, "Condition/bertil-aschenbrook-diabetes")).status).toBe(200);
    expect((await call(practice, token, "Condition/bertil-aschenbrook-injury")).status).toBe(403);
  });
});

describe("the patient in context (SMART 2.2: patient-level scopes)", () => {
  const scope = "launch patient/*.cruds";
  it("another patient's record cannot be read, searched, written or moved to", async () => {
    const { token } = await signIn(practice, { scope });
    expect((await call(practice, token, "Patient/pim-okonjo-vale")).status).toBe(403);
    expect((await call(practice, token, "Condition/pim-okonjo-vale-injury")).status).toBe(403);
    expect((await call(practice, token, "Condition/pim-okonjo-vale-injury/_history")).body.entry ?? []).toEqual([]);
    expect(idsIn((await call(practice, token, "Condition?patient=pim-okonjo-vale")).body)).toEqual([]);
    expect(idsIn((await call(practice, token, "Patient")).body)).toEqual(["odalys-fennimore"]);
    expect((await call(practice, token, "Patient/pim-okonjo-vale/Condition")).status).toBe(403);
    expect((await call(practice, token, "Patient/pim-okonjo-vale/$everything")).status).toBe(403);
    expect((await call(practice, token, "Condition", post(condition(PIM)))).status).toBe(403);
    const mine = await call(practice, token, "Condition", post(condition()));
    const id = mine.body.id;
    expect(
      (await call(practice, token, `Condition/${id}`, { method: "PUT", body: condition(PIM, { id }) })).status,
    ).toBe(403);
    expect(
      (
        await call(practice, token, `Condition/${id}`, {
          method: "PATCH",
          body: [{ op: "replace", path: "/subject", value: PIM }],
        })
      ).status,
    ).toBe(403);
    expect((await call(practice, token, "Condition/pim-okonjo-vale-injury", { method: "DELETE" })).status).toBe(403);
    const stolen = condition(ODALYS, { id: "pim-okonjo-vale-injury" });
    expect(
      (await call(practice, token, "Condition/pim-okonjo-vale-injury", { method: "PUT", body: stolen })).status,
    ).toBe(403);
    await control(practice, { reseed: true });
  });

  it("staff and places are nobody's record and can be read", async () => {
    const { token } = await signIn(practice, { scope });
    expect((await call(practice, token, "Practitioner/imke-harrowgate")).status).toBe(200);
  });

  it("a Provenance belongs to the patient of what it is about", async () => {
    const { token } = await signIn(practice, { scope });
    const provenance = (reference: string) => ({
      resourceType: "Provenance",
      target: [{ reference }],
      recorded: "2026-11-25T10:00:00Z",
      agent: [{ who: { reference: "Practitioner/imke-harrowgate" } }],
    });
    const own = await call(practice, token, "Provenance", post(provenance("Condition/odalys-fennimore-injury")));
    expect(own.status).toBe(201);
    expect(
      (await call(practice, token, "Provenance", post(provenance("Condition/pim-okonjo-vale-injury")))).status,
    ).toBe(403);
    expect(idsIn((await call(practice, token, "Provenance?target=Condition/odalys-fennimore-injury")).body)).toEqual([
      own.body.id,
    ]);
    const other = await signIn(practice, { scope, patient: "pim-okonjo-vale" });
    expect((await call(practice, other.token, `Provenance/${own.body.id}`)).status).toBe(403);
    expect(idsIn((await call(practice, other.token, "Provenance")).body)).toEqual([]);
  });

  it("user scopes reach every patient", async () => {
    const { token } = await signIn(practice, { scope: "launch user/Condition.rs" });
    expect((await call(practice, token, "Condition/pim-okonjo-vale-injury")).status).toBe(200);
  });
});

describe("S6 batches and transactions (SMART 2.2: each entry needs its own scope)", () => {
  it("a batch goes on past the entry that is not covered", async () => {
    const { token } = await signIn(practice, { scope: "launch patient/Condition.rs patient/Patient.r" });
    const { status, body } = await call(
      practice,
      token,
      "",
      bundle(
        "batch",
        entry("GET", "Patient/odalys-fennimore"),
        entry("GET", "ImagingStudy?patient=odalys-fennimore"),
        entry("GET", "Condition?patient=odalys-fennimore"),
        entry("POST", "Condition", condition()),
        entry("GET", "Patient/pim-okonjo-vale"),
      ),
    );
    expect(status).toBe(200);
    expect(body.type).toBe("batch-response");
    expect(body.entry.map(({ response }: { response: { status: string } }) => response.status.slice(0, 3))).toEqual([
      "200",
      "403",
      "200",
      "403",
      "403",
    ]);
    expect(body.entry[1].response.outcome.resourceType).toBe("OperationOutcome");
    expect(idsIn(body.entry[2].resource)).toEqual(["odalys-fennimore-injury"]);
  });

  it("a transaction is refused as a whole and stores nothing", async () => {
    const { token } = await signIn(practice, { scope: "launch patient/Condition.cs" });
    const count = practice.stored("Condition").length;
    const { status, body } = await call(
      practice,
      token,
      "",
      bundle(
        "transaction",
        entry("POST", "Condition", condition()),
        entry("POST", "ServiceRequest", {
          resourceType: "ServiceRequest",
          status: "draft",
          intent: "order",
          subject: ODALYS,
        }),
      ),
    );
    expect(status).toBe(403);
    expect(diagnostics(body)).toMatch(/^Bundle\.entry\[1\].*ServiceRequest/);
    expect(practice.stored("Condition")).toHaveLength(count);
  });

  it("a transaction with one entry about another patient is refused as a whole", async () => {
    const { token } = await signIn(practice, { scope: "launch patient/Condition.crs" });
    const { status } = await call(
      practice,
      token,
      "",
      bundle("transaction", entry("POST", "Condition", condition()), entry("POST", "Condition", condition(PIM))),
    );
    expect(status).toBe(403);
    const reading = await call(
      practice,
      token,
      "",
      bundle("transaction", entry("GET", "Condition/pim-okonjo-vale-injury")),
    );
    expect(reading.status).toBe(403);
  });
});

describe("roles and practice switches", () => {
  it("clinic and coder get a read-only view; the clinic may change visits, the coder diagnoses, and both say who did it", async () => {
    for (const as of ["clinic", "coder"]) {
      const { token, response } = await signIn(practice, { as });
      expect(response.scope).not.toMatch(/(CarePlan|ServiceRequest|QuestionnaireResponse)\.[crs]*[cud]/);
      expect(response.scope).toMatch(as === "clinic" ? /Condition\.rs/ : /Condition\.crus/);
      expect(response.scope).toMatch(/Provenance\.crs/);
      expect((await call(practice, token, "Condition", post(condition()))).status).toBe(as === "clinic" ? 403 : 201);
      expect((await call(practice, token, "Condition?patient=odalys-fennimore")).status).toBe(200);
      const visit = {
        resourceType: "Appointment",
        status: "proposed",
        participant: [{ actor: ODALYS, status: "needs-action" }],
      };
      expect((await call(practice, token, "Appointment", post(visit))).status).toBe(as === "clinic" ? 201 : 403);
    }
  });
  it("a type can be refused to everybody", async () => {
    await control(practice, { refuseTypes: ["ImagingStudy"] });
    const { token } = await signIn(practice);
    const { status, body } = await call(practice, token, "ImagingStudy?patient=odalys-fennimore");
    expect([status, body.issue[0].code]).toEqual([403, "forbidden"]);
  });
  it("withheld scopes are missing from the token and from the tokens of a refresh", async () => {
    await control(practice, { denyScopes: ["patient/CarePlan.c"] });
    const { response } = await signIn(practice);
    expect(response.scope).toContain("patient/CarePlan.rus");
    const refreshed = await postForm(`${practice.ehrUrl}/auth/token`, {
      grant_type: "refresh_token",
      refresh_token: response.refresh_token,
      client_id: "fingerpost",
    });
    expect(((await refreshed.json()) as { scope: string }).scope).toContain("patient/CarePlan.rus");
  });
});
