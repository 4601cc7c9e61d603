import { formatISO, parseISO, subDays } from "date-fns";
import { LOINC, PLAN_ITEM } from "./codings.ts";

export const CHART_PARTS = [
  "patient",
  "conditions",
  "imaging",
  "reports",
  "allergies",
  "immunizations",
  "medications",
  "weight",
  "encounter",
  "earlier",
] as const;
export type ChartPartName = (typeof CHART_PARTS)[number];

export interface ChartSearch {
  readonly part: ChartPartName;
  readonly type: string;
  /** Relative to the FHIR base: a search ("Condition?patient=...") or a read ("Patient/1"). */
  readonly query: string;
  /** Stop following pages after so many matches and say that more exist. */
  readonly limit: number;
}

// One page each: a chart is read in one wave of requests. What lies beyond is said, never silently left out.
const MANY = 100;
const SOME = 50;
const FEW = 20;
/** A film, report or coded injury older than this is listed but says nothing about a fresh injury. Common practice, no source. */
export const RECENT_DAYS = 90;
/** LOINC body weight and measured body weight (R4 vital signs profile names 29463-7; the second from memory). */
export const BODY_WEIGHT = ["29463-7", "3141-9"] as const;
/**
 * CVX codes of vaccines with tetanus toxoid (HL7 table 0292; 138, 139, 196 from published code lists; 130, 146 from memory).
 * 13, tetanus immune globulin, is no vaccine and is not among them.
 */
export const TETANUS_CVX = [
  "01",
  "09",
  "20",
  "22",
  "28",
  "35",
  "50",
  "102",
  "106",
  "107",
  "110",
  "112",
  "113",
  "115",
  "120",
  "130",
  "138",
  "139",
  "146",
  "196",
] as const;

/** yyyy-MM-dd of the day so many calendar days before another (yyyy-MM-dd, a time after it is ignored). */
export const daysBefore = (today: string, days: number): string =>
  formatISO(subDays(parseISO(today.slice(0, 10)), days), { representation: "date" });

/**
 * The searches that a chart needs. Each is filtered, sorted and bounded by the server, so that a chart with thousands of resources is
 * never read whole. A server may ignore any of it, so the readers filter, sort and bound again (R4 search: unknown parameters may be ignored).
 * Several searches may belong to one part: join their results with `joinResults`.
 *
 * @param patientId id of the Patient in the launch context
 * @param today yyyy-MM-dd
 * @param opened "ImagingStudy/12": what was open in the chart at launch; read whatever its age. Other types are left aside.
 */
export function chartSearches(
  patientId: string,
  {
    encounterId,
    today,
    opened = [],
  }: { readonly encounterId?: string; readonly today: string; readonly opened?: readonly string[] },
): readonly ChartSearch[] {
  const recent = `ge${daysBefore(today, RECENT_DAYS)}`;
  const search = (
    part: ChartPartName,
    type: string,
    parameters: Record<string, string>,
    limit: number,
  ): ChartSearch => ({
    part,
    type,
    query: `${type}?${new URLSearchParams({ patient: patientId, ...parameters, _count: String(limit) })}`,
    limit,
  });
  const read = (part: ChartPartName, type: string, id: string): ChartSearch => ({
    part,
    type,
    query: `${type}/${encodeURIComponent(id)}`,
    limit: 1,
  });
  const ours = `${PLAN_ITEM}|`;
  const openedOf = (part: ChartPartName, type: string) =>
    opened
      .filter((reference) => reference.startsWith(`${type}/`))
      .map((reference) => read(part, type, reference.slice(type.length + 1)));
  return [
    read("patient", "Patient", patientId),
    search(
      "conditions",
      "Condition",
      { "clinical-status": "active,recurrence,relapse", _sort: "-recorded-date" },
      MANY,
    ),
    ...(encounterId ? [search("conditions", "Condition", { encounter: encounterId }, FEW)] : []),
    search(
      "imaging",
      "ImagingStudy",
      {
        modality: "DX,CR",
        started: recent,
        _sort: "-started",
        _elements: "id,status,subject,started,modality,numberOfInstances,description,procedureCode,series",
      },
      FEW,
    ),
    ...openedOf("imaging", "ImagingStudy"),
    search("reports", "DiagnosticReport", { date: recent, category: "RAD,LP29684-5", _sort: "-date" }, FEW),
    ...openedOf("reports", "DiagnosticReport"),
    search("allergies", "AllergyIntolerance", { _sort: "-date" }, SOME),
    search(
      "immunizations",
      "Immunization",
      { status: "completed", "vaccine-code": TETANUS_CVX.join(","), _sort: "-date" },
      FEW,
    ),
    search("medications", "MedicationRequest", { status: "active", _sort: "-authoredon" }, SOME),
    search("medications", "MedicationStatement", { status: "active", _sort: "-effective" }, SOME),
    search(
      "weight",
      "Observation",
      { code: BODY_WEIGHT.map((code) => `${LOINC}|${code}`).join(","), _sort: "-date" },
      1,
    ),
    ...(encounterId ? [read("encounter", "Encounter", encounterId)] : []),
    search("earlier", "CarePlan", { identifier: ours, _sort: "-_lastUpdated" }, FEW),
    search("earlier", "ServiceRequest", { identifier: ours, _sort: "-_lastUpdated" }, SOME),
    search("earlier", "Appointment", { identifier: ours, _sort: "-_lastUpdated" }, SOME),
    search("earlier", "QuestionnaireResponse", { identifier: ours, _sort: "-_lastUpdated" }, FEW),
    // What a document holds is read by who opens it; here only that it is there.
    search(
      "earlier",
      "DocumentReference",
      {
        identifier: ours,
        _sort: "-_lastUpdated",
        _elements: "id,meta,identifier,status,docStatus,subject,date,author,description,relatesTo",
      },
      FEW,
    ),
  ];
}
