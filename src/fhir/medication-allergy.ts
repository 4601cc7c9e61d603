import * as z from "zod/mini";
import { type Origin, originOf, type Reading, type Suggestions, UNSURE } from "./chart-resource.ts";
import { RXNORM, SNOMED } from "./codings.ts";
import { bearingOf, MEDICINE_WORDS } from "./said-in-words.ts";
import { type ConceptShape, conceptShape, conceptWords, hasCode, referenceShape, referenceWords } from "./shapes.ts";

export interface AllergyLine {
  readonly substance: string;
  readonly criticality?: "low" | "high" | "unable-to-assess" | undefined;
  readonly reactions: readonly string[];
  readonly unconfirmed: boolean;
  /** The chart itself states that there is no known allergy (of this kind). */
  readonly noKnown: boolean;
  readonly from: Origin;
}
export interface MedicationLine {
  readonly text: string;
  readonly status: string;
  /** Findings that its name touches without answering them. */
  readonly bearsOn: readonly string[];
  readonly from: Origin;
}

const allergyShape = z.object({
  clinicalStatus: z.optional(conceptShape),
  verificationStatus: z.optional(conceptShape),
  code: z.optional(conceptShape),
  criticality: z.optional(z.enum(["low", "high", "unable-to-assess"])),
  patient: referenceShape,
  recordedDate: z.optional(z.string()),
  reaction: z.optional(
    z.array(
      z.object({
        substance: z.optional(conceptShape),
        manifestation: z.optional(z.array(conceptShape)),
        severity: z.optional(z.string()),
      }),
    ),
  ),
});

/**
 * Allergies by code. SNOMED ids with their meaning as in the official R4 value set expansions, RxNorm 7980 as in the official R4 example,
 * except 300916003 latex allergy and RxNorm 70618 penicillin, from memory. No other substance is guessed: it is listed for the clinician.
 */
export const ALLERGY_CODES = {
  penicillin: {
    snomed: [
      "91936005",
      "294492003",
      "294494002",
      "294495001",
      "294497009",
      "294498004",
      "294499007",
      "294500003",
      "294501004",
      "294502006",
      "294504007",
      "294505008",
      "294506009",
      "294515002",
      "294521003",
      "294523000",
      "294524006",
      "294525007",
    ],
    rxnorm: ["7980", "70618"],
  },
  otherAntibiotic: {
    snomed: ["294532003", "294533008", "294540009", "294544000", "294561002", "91933002"],
    rxnorm: [],
  },
  localAnaesthetic: { snomed: ["293718005", "293719002", "293721007", "293722000"], rxnorm: [] },
  latexOrAdhesive: { snomed: ["300916003", "294189007"], rxnorm: [] },
} as const;
/** "No known ..." stated by the chart (official R4 examples and expansions). */
export const NO_KNOWN = ["716186003", "409137002", "716184000", "428607008", "429625007"];

const isOf = (code: ConceptShape | undefined, kind: keyof typeof ALLERGY_CODES): boolean =>
  hasCode(code, SNOMED, ALLERGY_CODES[kind].snomed) || hasCode(code, RXNORM, ALLERGY_CODES[kind].rxnorm);

/**
 * Every current allergy as a line. Proposals only where the chart says enough: a penicillin allergy is proposed as severe when its criticality
 * is high or a reaction was severe; a low criticality does not make a low-risk history, so then nothing is proposed. "None" is never proposed.
 */
export function readAllergies(resources: readonly unknown[], reading: Reading): Suggestions & { lines: AllergyLine[] } {
  const lines: AllergyLine[] = [];
  const proposals: Suggestions["proposals"][number][] = [];
  for (const found of reading.each(resources, "AllergyIntolerance", allergyShape, (a) => a.patient.reference)) {
    const { data } = found;
    const verification = data.verificationStatus?.coding?.[0]?.code;
    if (verification === "entered-in-error" || verification === "refuted") {
      reading.leftOut(verification, "AllergyIntolerance");
      continue;
    }
    const status = data.clinicalStatus?.coding?.[0]?.code;
    if (status === "inactive" || status === "resolved") {
      reading.leftOut("over", "AllergyIntolerance");
      continue;
    }
    const reactions = (data.reaction ?? []).flatMap((r) => {
      const words = (r.manifestation ?? []).flatMap((m) => conceptWords(m) ?? []).join(", ");
      return words || r.severity ? [[words, r.severity].filter(Boolean).join(", ")] : [];
    });
    const substance =
      conceptWords(data.code) ??
      data.reaction?.flatMap((r) => conceptWords(r.substance) ?? [])[0] ??
      "Substance not named";
    const from = originOf(found, `Allergy: ${substance}`, data.recordedDate);
    const unconfirmed = verification !== undefined && UNSURE.includes(verification);
    lines.push({
      substance,
      criticality: data.criticality,
      reactions,
      unconfirmed,
      noKnown: hasCode(data.code, SNOMED, NO_KNOWN),
      from,
    });
    const severe = data.criticality === "high" || (data.reaction ?? []).some((r) => r.severity === "severe");
    const propose = (finding: string, value: string) =>
      proposals.push({
        finding,
        scope: "patient",
        value,
        from,
        ...(unconfirmed ? { note: "not confirmed in the chart" } : {}),
      });
    if (isOf(data.code, "penicillin") && severe) propose("penicillinAllergy", "severe");
    if (isOf(data.code, "otherAntibiotic")) propose("otherAntibioticAllergy", "yes");
    if (isOf(data.code, "localAnaesthetic")) propose("localAnaestheticAllergy", "yes");
    if (isOf(data.code, "latexOrAdhesive")) propose("latexOrAdhesiveAllergy", "yes");
  }
  return {
    lines: lines.sort((a, b) => Number(b.criticality === "high") - Number(a.criticality === "high")),
    proposals,
    dates: [],
  };
}

/** A medicine may stand inside its own prescription and be referred to by "#id" (R4 references.html#contained). */
const containedShape = z.object({ id: z.optional(z.string()), code: z.optional(conceptShape) });
const containedCode = ({ contained = [], medicationReference }: z.infer<typeof medicationShape>) =>
  contained.find(({ id }) => id !== undefined && medicationReference?.reference === `#${id}`)?.code;

const medicationShape = z.object({
  contained: z.catch(z.optional(z.array(containedShape)), undefined),
  status: z.optional(z.string()),
  doNotPerform: z.optional(z.boolean()),
  subject: referenceShape,
  medicationCodeableConcept: z.optional(conceptShape),
  medicationReference: z.optional(referenceShape),
  authoredOn: z.optional(z.string()),
  effectiveDateTime: z.optional(z.string()),
});
/**
 * Warfarin: SNOMED as in the official R4 expansions, RxNorm 114194 as in an official R4 example. The other RxNorm ingredients (11289
 * warfarin, 1364430 apixaban, 1114195 rivaroxaban, 1599538 edoxaban, 1546356 dabigatran, 67108 enoxaparin, 5224 heparin) and the ATC
 * groups of anticoagulants (B01AA, B01AB, B01AE, B01AF) are from memory. Platelet inhibitors are not among them: they only bear on it.
 */
export const ANTICOAGULANTS = {
  snomed: ["48603004"],
  rxnorm: ["114194", "11289", "1364430", "1114195", "1599538", "1546356", "67108", "5224"],
  atc: /^B01A[ABEF]/,
} as const;
const ATC = "http://www.whocc.no/atc";

const isAnticoagulant = (code: ConceptShape | undefined): boolean =>
  hasCode(code, SNOMED, ANTICOAGULANTS.snomed) ||
  hasCode(code, RXNORM, ANTICOAGULANTS.rxnorm) ||
  (code?.coding ?? []).some((c) => c.system === ATC && ANTICOAGULANTS.atc.test(c.code ?? ""));

/** Medicines taken now, as lines; a coded anticoagulant as a proposal. */
export function readMedications(
  resources: readonly unknown[],
  reading: Reading,
): Suggestions & { lines: MedicationLine[] } {
  const lines: MedicationLine[] = [];
  const proposals: Suggestions["proposals"][number][] = [];
  for (const type of ["MedicationRequest", "MedicationStatement"]) {
    for (const found of reading.each(resources, type, medicationShape, (m) => m.subject.reference)) {
      const { data } = found;
      // R4: doNotPerform turns the request round.
      if (data.status !== "active" || data.doNotPerform === true) {
        reading.leftOut(data.status === "entered-in-error" ? "entered-in-error" : "over", type);
        continue;
      }
      const code = data.medicationCodeableConcept ?? containedCode(data);
      const text = conceptWords(code) ?? referenceWords(data.medicationReference) ?? "Medicine not named";
      const date = data.authoredOn ?? data.effectiveDateTime;
      const from = originOf(found, `Medicine: ${text}`, date);
      lines.push({ text, status: data.status, bearsOn: bearingOf(code, MEDICINE_WORDS, text), from });
      if (isAnticoagulant(code)) proposals.push({ finding: "bleedingTendency", scope: "patient", value: "yes", from });
    }
  }
  return { lines, proposals, dates: [] };
}
