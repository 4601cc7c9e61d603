import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { draftPlan } from "../../src/fhir/drafts.ts";
import type { EarlierPlan } from "../../src/fhir/earlier.ts";
import { refineDraft, sameDiagnoses } from "../../src/fhir/refine.ts";
import { revisionOf } from "../../src/fhir/revision.ts";
import { withdrawal } from "../../src/fhir/stored-change.ts";
import { withdrawalRecord } from "../../src/fhir/withdrawal-record.ts";
import { covers } from "../../src/smart/scopes.ts";
import type { TokenState } from "../../src/smart/token.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { checkAgain, type WriteContext, writeBack } from "../../src/smart/write-back.ts";
import { AT, inputFor, MALLET, PLAN_ID, SIGNER } from "../fhir/cases.ts";
import { Visits } from "../fhir/chart-after.ts";
import { BASE, fhirJson, outcome, RecordSystem } from "./record-system.ts";

const NEXT_PLAN = "8d1f0c55-2b7e-4a3d-9e61-0c4b5a697788";
const ACTING = { signer: SIGNER, at: AT, why: "seen again in clinic" };
const OPEN: TokenState = { kind: "open" };

let server: RecordSystem;
let visits: Visits;
beforeEach(() => {
  server = new RecordSystem();
  visits = new Visits();
  server.fhir = (request, body) => visits.store.answer(request, body);
  server.start();
});
afterEach(() => server.stop());

function clinician() {
  return {
    context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
    config: { issuers: [], frameAncestors: [] },
    can: (resource: string, letter: "c" | "r" | "u" | "d" | "s") => covers(["patient/*.crus"], resource, letter),
    signer: async () => ({ ok: true as const, reference: SIGNER.reference, name: SIGNER.display }),
    state: () => OPEN,
    lastsFor: async () => true,
    fhir: fhirTransport({
      base: BASE,
      token: { current: async () => "t", renewAfter: async () => false, state: () => OPEN },
      limits: { read: 2000, write: 200 },
      wait: async () => {},
    }),
  };
}
const NOW: WriteContext = { at: AT, wait: async () => {} };
const made = (planId = PLAN_ID, record = MALLET) => draftPlan(inputFor(record, { planId }));
const sendings = () => server.seen.filter((one) => one.method === "POST");
const revised = (plan: EarlierPlan) => revisionOf(made(NEXT_PLAN), plan, ACTING);
const plansNow = () => visits.store.of("CarePlan").map((p) => p.status);

describe("X2 a revision is written in one transaction with what it ends", () => {
  beforeEach(() => {
    visits.write(made(), "sign");
  });
  it("I7 new plan and old one are reported item by item, each read back", async () => {
    const { items, changes } = revised(visits.plan(PLAN_ID));
    const report = await writeBack(clinician(), items, "sign", { ...NOW, changes });
    expect(report.outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
    expect(report.items.map((i) => i.key)).toEqual(["findings", "plan", `old:${PLAN_ID}:plan`]);
    expect(report.items.at(-1)).toMatchObject({ title: "Plan", outcome: "saved", version: "2" });
    expect(plansNow()).toEqual(["revoked", "active"]);
  });
  it("I5 somebody changed the old plan since it was read: nothing is sent, nothing overwritten", async () => {
    const { items, changes } = revised(visits.plan(PLAN_ID));
    const { reference } = changes[0]!;
    visits.elsewhere(reference, (r) => {
      r.description = "Changed by a colleague.";
    });
    const report = await writeBack(clinician(), items, "sign", { ...NOW, changes });
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The stored plan changed since you read it." },
    });
    expect(sendings()).toEqual([]);
    expect(plansNow()).toEqual(["active"]);
  });
  it("X2 refused by the record system, the old plan is still in force", async () => {
    const { items, changes } = revised(visits.plan(PLAN_ID));
    server.fhir = (request, body) =>
      request.method === "POST" ? fhirJson(outcome("no"), { status: 422 }) : visits.store.answer(request, body);
    const report = await writeBack(clinician(), items, "sign", { ...NOW, changes });
    expect(report.outcome).toBe("not-saved");
    expect(report.items.map((i) => i.key)).toContain(`old:${PLAN_ID}:plan`);
    expect(plansNow()).toEqual(["active"]);
  });
  it("I2 sent twice, it is one revision", async () => {
    const { items, changes } = revised(visits.plan(PLAN_ID));
    const session = clinician();
    await writeBack(session, items, "sign", { ...NOW, changes });
    expect((await writeBack(session, items, "sign", { ...NOW, changes })).outcome).toBe("saved");
    expect((await checkAgain(session, items, "sign", { ...NOW, changes })).outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
    expect(plansNow()).toEqual(["revoked", "active"]);
  });
});

describe("REL-38 a plan is withdrawn", () => {
  it("by updates over the versions that were read, with a record of who did it; nothing is deleted", async () => {
    visits.write(made(), "sign");
    const { changes } = withdrawal(visits.plan(PLAN_ID), "withdraw", ACTING);
    const report = await writeBack(clinician(), [withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { ...NOW, changes });
    expect([report.outcome, report.provenance?.outcome]).toEqual(["saved", "saved"]);
    expect(plansNow()).toEqual(["revoked"]);
    expect(server.seen.filter((one) => one.method === "DELETE")).toEqual([]);
  });
  it("with the connection cut after the record system had stored it, it is found and not sent again", async () => {
    visits.write(made(), "sign");
    const { changes } = withdrawal(visits.plan(PLAN_ID), "withdraw", ACTING);
    server.fhir = (request, body) => {
      const answer = visits.store.answer(request, body);
      return request.method === "POST" ? fhirJson(outcome("late"), { status: 504 }) : answer;
    };
    const report = await writeBack(clinician(), [withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { ...NOW, changes });
    expect(report.outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
  });
});

describe("I4 a diagnosis of the chart is refined", () => {
  const ENTRY = {
    resourceType: "Condition",
    subject: { reference: "Patient/p1" },
    encounter: { reference: "Encounter/e1" },
    code: { text: "Injury of left ring finger" },
    bodySite: ["770817006", "7771000"].map((code) => ({ coding: [{ system: "http://snomed.info/sct", code }] })),
  };
  const refining = () => {
    visits.file(ENTRY, "triage-1");
    const [entry] = sameDiagnoses(visits.chart().conditions, MALLET.digits[0]!);
    return made().map((i) => (i.kind === "condition" ? refineDraft(i, entry!.existing) : i));
  };
  it("over the version that was read, and reported in its own place", async () => {
    const report = await writeBack(clinician(), refining(), "sign", NOW);
    expect(report.outcome).toBe("saved");
    expect(report.items.find((i) => i.key.startsWith("condition"))?.reference).toBe("Condition/triage-1");
    expect(visits.store.of("Condition")).toHaveLength(1);
  });
  it("I5 not over a version that somebody wrote in between", async () => {
    const items = refining();
    visits.elsewhere("Condition/triage-1", (r) => {
      r.note = [{ text: "Seen by the hand surgeon." }];
    });
    const report = await writeBack(clinician(), items, "sign", NOW);
    expect(report.outcome).toBe("not-saved");
    expect(sendings()).toEqual([]);
  });
});

describe("REL-28 two clinicians plan the same injury", () => {
  it("the second to sign is told of the first one's plan, and nothing is written", async () => {
    visits.write(made(NEXT_PLAN), "sign");
    const report = await writeBack(clinician(), made(), "sign", { ...NOW, plansSeen: [] });
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: {
        title: "A plan for this injury was signed since you read the chart.",
        what: expect.stringMatching(/CarePlan\/n\d+/),
      },
    });
    expect(sendings()).toEqual([]);
  });
  it("a plan that the clinician has seen and decided about stops nothing; nor does a draft", async () => {
    visits.write(made(NEXT_PLAN), "sign");
    const [seen] = visits.store.of("CarePlan");
    const known = { ...NOW, plansSeen: [`CarePlan/${seen!.id}`] };
    expect((await writeBack(clinician(), made(), "sign", known)).outcome).toBe("saved");
    visits = new Visits();
    visits.write(made(NEXT_PLAN), "draft");
    expect((await writeBack(clinician(), made(), "sign", { ...NOW, plansSeen: [] })).outcome).toBe("saved");
  });
  it("both signed within the same moment: each is saved, and the conflict is said", async () => {
    server.fhir = (request, body) => {
      if (request.method === "POST") visits.write(made(NEXT_PLAN), "sign");
      return visits.store.answer(request, body);
    };
    const report = await writeBack(clinician(), made(), "sign", { ...NOW, plansSeen: [] });
    expect(report).toMatchObject({
      outcome: "saved",
      problem: { title: "Somebody else signed a plan for this injury at the same time." },
    });
    expect(plansNow()).toEqual(["active", "active"]);
  });
  it("a plan of another injury is no rival", async () => {
    visits.write(made(NEXT_PLAN, { ...MALLET, injuredAt: "2026-11-24" }), "sign");
    expect((await writeBack(clinician(), made(), "sign", { ...NOW, plansSeen: [] })).outcome).toBe("saved");
  });
});
