import { ASKED } from "../pathway/all-asked.ts";
import type { AskedInjury } from "../pathway/asked.ts";
import { type ChartProblem, type DateProposal, type Proposal, Reading, typeOf } from "./chart-resource.ts";
import { type ConditionLine, readConditions } from "./condition.ts";
import { machineZone } from "./dates.ts";
import { type EarlierPlan, readEarlier } from "./earlier.ts";
import { type ImagingLine, readImaging } from "./imaging.ts";
import { readImmunizations } from "./immunization.ts";
import { type AllergyLine, type MedicationLine, readAllergies, readMedications } from "./medication-allergy.ts";
import { type PartResult, type PartState, READING } from "./part-result.ts";
import { type PatientSummary, readPatient } from "./patient.ts";
import { CHART_PARTS, type ChartPartName } from "./searches.ts";
import { lookUp } from "./shapes.ts";
import { readEncounter, readWeight } from "./weight-encounter.ts";

export type { ChartProblem, DateProposal, Origin, Proposal, Written } from "./chart-resource.ts";
export type { ConditionLine } from "./condition.ts";
export type { EarlierItem, EarlierPlan } from "./earlier.ts";
export type { FindingsBack } from "./findings-back.ts";
export type { ImagingLine } from "./imaging.ts";
export type { AllergyLine, MedicationLine } from "./medication-allergy.ts";
export { joinResults, type PartResult, type PartState, READING } from "./part-result.ts";
export type { PatientSummary } from "./patient.ts";
export { CHART_PARTS, type ChartPartName, type ChartSearch, chartSearches } from "./searches.ts";

export interface ChartContext {
  readonly patientId: string;
  /** yyyy-MM-dd */
  readonly today: string;
  /** IANA time zone of the clinic; default: the machine's. */
  readonly zone?: string;
  /** FHIR base, to recognise absolute references. */
  readonly base?: string;
  /** Who is signed in, "Practitioner/12": only this person's draft is called their own. */
  readonly user?: string | undefined;
  /** Encounter of the launch context. */
  readonly encounterId?: string;
  /** "ImagingStudy/12": what was open in the chart at launch; it comes before all other films and reports. */
  readonly opened?: readonly string[];
  /** Default: every injury this program knows. */
  readonly modules?: readonly AskedInjury[];
}
export interface Chart {
  /** Undefined until the Patient has been read, or when it could not be. */
  readonly patient: PatientSummary | undefined;
  readonly proposals: readonly Proposal[];
  readonly dates: readonly DateProposal[];
  readonly allergies: readonly AllergyLine[];
  readonly imaging: readonly ImagingLine[];
  readonly conditions: readonly ConditionLine[];
  readonly medications: readonly MedicationLine[];
  readonly earlierPlans: readonly EarlierPlan[];
  readonly problems: readonly ChartProblem[];
  /** What proposals and lists rest on, for the Provenance. */
  readonly used: readonly { readonly reference: string; readonly version?: string | undefined }[];
  readonly parts: {
    readonly [part in ChartPartName]: {
      readonly state: PartState;
      readonly count: number;
      readonly more: boolean;
      readonly note?: string | undefined;
      readonly inPart?: boolean | undefined;
    };
  };
}

const EXPECTED: { readonly [part in ChartPartName]: readonly string[] } = {
  patient: ["Patient"],
  conditions: ["Condition"],
  imaging: ["ImagingStudy"],
  reports: ["DiagnosticReport"],
  allergies: ["AllergyIntolerance"],
  immunizations: ["Immunization"],
  medications: ["MedicationRequest", "MedicationStatement"],
  weight: ["Observation"],
  encounter: ["Encounter"],
  earlier: ["CarePlan", "ServiceRequest", "Appointment", "QuestionnaireResponse"],
};

/**
 * The chart as the clinician needs it: who this is, what is proposed and from where, what could not be used and why. Pure: call it again
 * with every part that arrives. Nothing in it counts until a person has confirmed it.
 */
export function chartFrom(parts: { readonly [part in ChartPartName]?: PartResult }, context: ChartContext): Chart {
  const reading = new Reading(
    context.patientId,
    context.today.slice(0, 10),
    context.zone ?? machineZone(),
    context.base,
  );
  const modules = context.modules ?? ASKED;
  const of = (part: ChartPartName): readonly unknown[] => {
    const resources = parts[part]?.resources ?? [];
    for (const r of resources) if (typeOf(r) === "OperationOutcome") reading.problem(outcomeProblem(r));
    for (const r of resources)
      if (typeOf(r) !== "OperationOutcome" && !EXPECTED[part].includes(typeOf(r) ?? ""))
        reading.leftOut("wrong-type", typeOf(r) ?? "unnamed");
    return resources;
  };
  const patient = readPatient(of("patient"), reading);
  const encounter = readEncounter(of("encounter"), reading);
  const conditions = readConditions(of("conditions"), reading, context.encounterId ?? encounter.encounterId);
  const imaging = readImaging(of("imaging"), of("reports"), reading, context.opened);
  const allergies = readAllergies(of("allergies"), reading);
  const medications = readMedications(of("medications"), reading);
  const immunizations = readImmunizations(of("immunizations"), reading);
  const weight = readWeight(of("weight"), reading);
  const earlier = readEarlier(of("earlier"), conditions.ours, reading, modules, context.user);

  const mayPropose = new Set(
    modules.flatMap((m) => m.questions.filter((q) => q.chartMayPropose).map((q) => q.finding)),
  );
  const now = ofTheirDigits(
    [conditions, imaging, allergies, medications, immunizations, weight]
      .flatMap((s) => s.proposals)
      .filter((p) => mayPropose.has(p.finding) && plausible(p, modules, reading)),
  );
  // What the chart says today goes before what was confirmed on an earlier day.
  const before = earlier.proposals.filter(
    (p) => mayPropose.has(p.finding) && !now.some((n) => n.finding === p.finding),
  );
  const proposals = withConflicts([...now, ...before], (p) => `${p.finding} ${p.ofDigit ?? ""}`, reading);
  const onsets = conditions.dates;
  const dates = withConflicts(
    [...patient.dates, ...onsets, ...(onsets.length ? [] : encounter.dates), ...immunizations.dates],
    (d) => d.field,
    reading,
  );
  const origins = [...proposals, ...dates, ...allergies.lines, ...imaging.lines].map((x) => x.from);
  const { summary } = patient;
  return {
    patient: summary,
    proposals,
    dates,
    allergies: allergies.lines,
    imaging: imaging.lines,
    conditions: conditions.lines,
    medications: medications.lines,
    earlierPlans: earlier.plans,
    problems: reading.problems,
    used: [
      ...new Map(
        [...origins, ...(summary ? [summary] : [])]
          .map(({ reference, version }) => [reference, { reference, version }] as const)
          .reverse(),
      ).values(),
    ],
    parts: Object.fromEntries(
      CHART_PARTS.map((part) => {
        const { state, resources, more, note, inPart } = parts[part] ?? READING;
        return [part, { state, count: resources.length, more, note, ...(inPart ? { inPart } : {}) }];
      }),
    ) as Chart["parts"],
  };
}

/**
 * Separate entries that name different digits may speak of as many injuries: what each of them says of side and film belongs to its digit.
 * A single entry that names two digits contradicts itself, and then nothing can be told apart.
 */
function ofTheirDigits<T extends Omit<Proposal, "conflict">>(proposals: readonly T[]): readonly T[] {
  const digits = new Map<string, string>();
  for (const { finding, value, from } of proposals) {
    if (finding !== "digit") continue;
    const before = digits.get(from.reference);
    if (before !== undefined && before !== value) return proposals;
    digits.set(from.reference, String(value));
  }
  if (new Set(digits.values()).size < 2) return proposals;
  return proposals.map((p) => {
    const ofDigit = p.scope === "digit" ? digits.get(p.from.reference) : undefined;
    return ofDigit === undefined ? p : { ...p, ofDigit };
  });
}

/** A quantity that no patient can have is told, not proposed. */
function plausible(
  { finding, value, from }: Omit<Proposal, "conflict">,
  modules: readonly AskedInjury[],
  reading: Reading,
) {
  const definition = modules.map((m) => lookUp(m.findings, finding)).find((d) => d !== undefined);
  if (definition?.type !== "number" || (Number(value) >= definition.min && Number(value) <= definition.max))
    return true;
  reading.problem({
    kind: "no-value",
    say: `${from.label}: ${value} ${definition.unit} cannot be right; ask.`,
    at: from.reference,
    entries: 1,
    blocksSigning: false,
  });
  return false;
}

const NAMED = 4;

/**
 * Each value once, from the first source that says it; where sources differ, all are kept and marked as a conflict. A date and the same date
 * with a time agree. Time grows with the number of entries, not with its square: a chart may hold thousands.
 */
function withConflicts<T extends { value: string | number; from: { label: string } }>(
  all: readonly T[],
  nameOf: (t: T) => string,
  reading: Reading,
): (T & { conflict: boolean })[] {
  const byName = new Map<string, Map<string | number, T>>();
  for (const t of all) {
    const values = byName.get(nameOf(t)) ?? new Map<string | number, T>();
    byName.set(nameOf(t), values.has(t.value) ? values : values.set(t.value, t));
  }
  const kept = new Map<T, boolean>();
  for (const values of byName.values()) {
    const sorted = [...values.keys()].map(String).sort();
    // What begins like a date, only more exactly, stands right behind it in this order.
    const lessExact = new Set(sorted.filter((v, i) => /^\d{4}-/.test(v) && sorted[i + 1]?.startsWith(v)));
    const distinct = [...values.values()].filter((t) => !lessExact.has(String(t.value)));
    const conflict = distinct.length > 1;
    for (const t of distinct) kept.set(t, conflict);
    if (!conflict) continue;
    const said = distinct.slice(0, NAMED).map((o) => `${o.value} (${o.from.label})`);
    const more = distinct.length - said.length;
    reading.problem({
      kind: "conflict",
      say: `The chart gives different answers: ${said.join(" and ")}${more > 0 ? ` and ${more} more` : ""}. None is suggested.`,
      blocksSigning: false,
    });
  }
  return all.flatMap((t) => {
    const conflict = kept.get(t);
    return conflict === undefined ? [] : [{ ...t, conflict }];
  });
}

function outcomeProblem(raw: unknown): ChartProblem {
  const issue = (raw as { issue?: readonly { diagnostics?: unknown; details?: { text?: unknown }; code?: unknown }[] })
    .issue?.[0];
  const words = [issue?.details?.text, issue?.diagnostics, issue?.code].find((w) => typeof w === "string");
  return {
    kind: "outcome",
    say: `The EHR added a note to its answer: ${words ?? "no details given"}.`,
    blocksSigning: false,
  };
}
