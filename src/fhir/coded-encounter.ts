import type { Condition, Encounter, FhirResource, Provenance, Reference } from "fhir/r4";
import type { CodedEncounter, CodeLine } from "../coding/encounter.ts";
import type { ExportFormat } from "../coding/export.ts";
import { BASE, DATA_ABSENT, hl7, ownExtension, text } from "./codings.ts";
import { assembledBy } from "./provenance.ts";

/** Identifier of one coded diagnosis: "<encounter>:<key of the code line>". */
export const CODE_LINE = `${BASE}/NamingSystem/code-line`;
/** Identifier that an encounter had in the record system. */
const ENCOUNTER = `${BASE}/NamingSystem/encounter`;
const ASSUMED = ownExtension("assumed-by-classification");
const RULE = ownExtension("code-rule");
const SECTION = ownExtension("guideline-section");

export interface CodedMeta {
  readonly appVersion: string;
  readonly knowledgeVersion: string;
}
const R4_ID = /^[A-Za-z0-9\-.]{1,64}$/;
/** A reference where the identifier can be a FHIR id, else by identifier: nothing is lost and nothing is invented. */
const refer = (type: string, id: string): Reference =>
  R4_ID.test(id) ? { reference: `${type}/${id}` } : { type, identifier: { value: id } };

/** Ids inside one export: stable, made of characters that R4 allows. */
const idOf = (encounter: string, part: string): string =>
  `${encounter}-${part}`.replace(/[^A-Za-z0-9\-.]/g, "-").slice(-64);

function conditionOf(line: CodeLine, coded: CodedEncounter): Condition {
  const { encounter } = coded;
  // What another classification says of the whole encounter ("multiple fractures") stands beside the first fracture.
  const fractures = coded.codes.filter((one) => one.rule.startsWith("FX"));
  const others = fractures.includes(line)
    ? coded.others.filter((o) => o.digit === line.digit || (o.digit === undefined && line === fractures[0]))
    : [];
  return {
    resourceType: "Condition",
    id: idOf(encounter.id, `code-${line.sequence}`),
    extension: [
      ...line.defaults.map((said) => text(ASSUMED, said)),
      text(RULE, line.rule),
      ...line.guidelines.map((g) => text(SECTION, g.section)),
    ],
    identifier: [{ system: CODE_LINE, value: `${encounter.id}:${line.key}` }],
    clinicalStatus: { coding: [hl7("condition-clinical", "active")] },
    verificationStatus: { coding: [hl7("condition-ver-status", encounter.signedAt ? "confirmed" : "provisional")] },
    category: [{ coding: [hl7("condition-category", "encounter-diagnosis", "Encounter Diagnosis")] }],
    code: {
      coding: [
        { system: line.system, version: line.version, code: line.code, display: line.display },
        ...others.map(({ system, version, code, display }) => ({
          system,
          ...(version ? { version } : {}),
          code,
          display,
        })),
      ],
      text: line.display,
    },
    subject: subjectOf(coded),
    encounter: { reference: `Encounter/${idOf(encounter.id, "coded")}` },
    ...(encounter.signedAt ? { recordedDate: encounter.signedAt } : {}),
    ...(encounter.signedBy ? { asserter: { display: encounter.signedBy } } : {}),
  };
}
/** R4 wants a subject; where the record names none, that is said. */
const subjectOf = ({ encounter }: CodedEncounter): Reference =>
  encounter.patient ? refer("Patient", encounter.patient) : { type: "Patient", display: "not named in the export" };

/** A copy of what is known of the encounter, to carry the order of its diagnoses: class and status are not part of what was coded. */
function encounterOf(coded: CodedEncounter, conditions: readonly Condition[]): Encounter {
  const { encounter } = coded;
  return {
    resourceType: "Encounter",
    id: idOf(encounter.id, "coded"),
    identifier: [{ system: ENCOUNTER, value: encounter.id }],
    status: "unknown",
    class: { extension: [{ url: DATA_ABSENT, valueCode: "unknown" }] },
    subject: subjectOf(coded),
    period: { start: encounter.date },
    ...(conditions.length
      ? {
          diagnosis: conditions.map((condition, i) => ({
            condition: { reference: `Condition/${condition.id}` },
            use: { coding: [hl7("diagnosis-role", "billing", "Billing")] },
            rank: i + 1,
          })),
        }
      : {}),
  };
}

/**
 * One coded encounter as R4 resources: the encounter with its ranked diagnoses, a Condition for each code with what was assumed and
 * which rule and guideline decided it, and, once it is signed, a Provenance that names signer, program and knowledge version.
 */
export function codedResources(coded: CodedEncounter, meta: CodedMeta): readonly FhirResource[] {
  const conditions = coded.codes.map((line) => conditionOf(line, coded));
  const { id, signedAt, signedBy } = coded.encounter;
  const made = assembledBy(meta.appVersion, meta.knowledgeVersion);
  const provenance: Provenance[] =
    signedAt && conditions.length
      ? [
          {
            ...made,
            id: idOf(id, "provenance"),
            target: conditions.map((c) => ({ reference: `Condition/${c.id}` })),
            recorded: signedAt,
            agent: [
              ...made.agent,
              ...(signedBy
                ? [
                    {
                      type: { coding: [hl7("provenance-participant-type", "attester", "Attester")] },
                      who: { display: signedBy },
                    },
                  ]
                : []),
            ],
          },
        ]
      : [];
  return [encounterOf(coded, conditions), ...conditions, ...provenance];
}

/** NDJSON of R4 resources, one in each line, as FHIR bulk data has it. */
export const ndjsonExport = (meta: CodedMeta): ExportFormat => ({
  extension: "ndjson",
  mediaType: "application/fhir+ndjson",
  head: "",
  each: (coded) =>
    codedResources(coded, meta)
      .map((resource) => `${JSON.stringify(resource)}\n`)
      .join(""),
  tail: () => "",
});

/** One R4 Bundle of type collection, written entry by entry. */
export const bundleExport = (meta: CodedMeta): ExportFormat => ({
  extension: "json",
  mediaType: "application/fhir+json",
  head: '{"resourceType":"Bundle","type":"collection","entry":[',
  each: (coded, before) =>
    codedResources(coded, meta)
      .map((resource) => ({ fullUrl: `${BASE}/${resource.resourceType}/${resource.id}`, resource }))
      .map((entry, i) => `${before + i > 0 ? "," : ""}\n${JSON.stringify(entry)}`)
      .join(""),
  tail: () => "\n]}\n",
});
