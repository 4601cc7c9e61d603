import fc from "fast-check";
import type { DraftInput } from "../../src/fhir/draft-item.ts";
import {
  assessCase,
  type CaseRecord,
  explain,
  type FindingDefinition,
  factsOf,
  MODULES,
  pathwayFor,
  type Reason,
  readSitePolicy,
} from "../../src/pathway/index.ts";

const module = MODULES[0]!;
const reading = readSitePolicy(undefined);
if (!reading.ok) throw new Error("the default policy must be valid");
export const pathway = pathwayFor(module, reading.policy);

export const PLAN_ID = "3f2b8c1e-7a4d-4e6b-9c1a-5d8e7f6a1b2c";
export const SIGNER = { reference: "Practitioner/dr-okafor", display: "Dr Ada Okafor" };
export const AT = "2026-11-25T15:10:00+01:00";

/** Green answers to every red flag, so that a case shows only what it is about. */
const QUIET = {
  patient: {
    diabetes: "no",
    immuneCompromise: "no",
    arterialDisease: "no",
    vasospasm: "no",
    bleedingTendency: "no",
    smoker: "no",
    penicillinAllergy: "none",
    tetanusDoses: "three-or-more",
    weightKg: 71,
  },
  injury: {
    contamination: "clean",
    otherSeriousInjury: "no",
    safeguardingConcern: "no",
    ringsOnHand: "no",
    workRelated: "no",
  },
  digit: {
    tipColour: "pink",
    capillaryRefill: "brisk",
    sensation: "normal",
    tissueLoss: "none",
    jointDislocated: "no",
    sheathSigns: "no",
    infectionSigns: "none",
    mangled: "no",
    devitalised: "no",
    foreignBody: "no",
    boneLesion: "no",
    lysisOrPeriostealReaction: "no",
    nailPlate: "intact-seated",
    bloodAtNailFold: "no",
    woundOverJoint: "no",
    haematoma: "none",
    nailBed: "intact",
    activeFlexion: "present",
    nailPlaneRotation: "none",
    filmTaken: "yes",
    trueLateral: "seen",
    physis: "closed",
    salterHarris: "none",
  },
} as const;

/** Closed bony mallet of the left ring finger, seen the same day. */
export const MALLET: CaseRecord = {
  birthDate: "1988-03-14",
  injuredAt: "2026-11-25T11:30",
  assessedAt: "2026-11-25T14:45",
  lastTetanusDoseOn: "2021-06-02",
  patient: QUIET.patient,
  injury: { ...QUIET.injury, mechanism: "axial-load" },
  digits: [
    {
      ...QUIET.digit,
      digit: "ring",
      side: "left",
      openness: "closed",
      activeExtension: "lag",
      passiveExtension: "full",
      fractureSite: "base-dorsal",
      fracturePattern: "simple",
      articularSharePercent: 25,
      jointPosition: "congruent",
      fragmentGapMm: 1,
      restOfPhalanx: "intact",
      volarFragmentAt: "none",
    },
  ],
};
/** Crushed right index with an open tuft fracture, and a closed undisplaced shaft fracture of the right middle finger. */
export const TWO_DIGITS: CaseRecord = {
  birthDate: "1971-09-02",
  injuredAt: "2026-11-25",
  assessedAt: "2026-11-25T16:00",
  patient: { ...QUIET.patient, diabetes: "yes", penicillinAllergy: "severe" },
  injury: { ...QUIET.injury, mechanism: "crush", contamination: "soil-or-manure" },
  digits: [
    {
      ...QUIET.digit,
      digit: "index",
      side: "right",
      openness: "open-nail-bed",
      nailPlate: "avulsed-at-fold",
      nailBed: "stellate",
      fractureSite: "tuft",
      fracturePattern: "comminuted",
      activeExtension: "full",
    },
    {
      ...QUIET.digit,
      digit: "middle",
      side: "right",
      openness: "closed",
      fractureSite: "shaft",
      fracturePattern: "transverse",
      translationMm: 0,
      angulationDegrees: 0,
      corticalContact: "yes",
      activeExtension: "full",
    },
  ],
};
/** White finger tip: a red flag that ends the ordinary pathway. */
export const WHITE_TIP: CaseRecord = {
  ...MALLET,
  digits: [
    { ...MALLET.digits[0], tipColour: "white", capillaryRefill: "slow", perfusionAfterFirstSteps: "still-poor" },
  ],
};
/** Hardly anything known yet. */
export const UNDECIDED: CaseRecord = {
  assessedAt: "2026-11-25T16:00",
  patient: {},
  injury: {},
  digits: [{ digit: "thumb", side: "right", activeExtension: "cannot-tell" }],
};

/** Everything the writers need for a record, assessed by the real rules. */
export function inputFor(record: CaseRecord, more: Partial<DraftInput> = {}): DraftInput {
  const assessment = assessCase(pathway, record);
  const rules = assessment.digits.flatMap((d) => [...d.today, ...d.management, ...d.exits].map((l) => l.rule));
  const known = new Set(pathway.tables.flatMap((t) => t.rules.map((r) => r.id)));
  const reasons: Record<string, Reason> = Object.fromEntries(
    rules.filter((r) => known.has(r)).map((r) => [r, explain(pathway, factsOf(record, 0), r)]),
  );
  return {
    record,
    assessment,
    module,
    reasons,
    chart: { used: [{ reference: "Patient/p1", version: "3" }, { reference: "ImagingStudy/film-7" }], imaging: [] },
    planId: PLAN_ID,
    patientId: "p1",
    patientName: "Mira Halloway",
    encounterId: "e1",
    appVersion: "0.1.0",
    zone: "Europe/Berlin",
    ...more,
  };
}

const answer = (definition: FindingDefinition): fc.Arbitrary<string | number> =>
  definition.type === "choice"
    ? fc.constantFrom(...definition.values, "cannot-tell", "not-asked")
    : fc.oneof(
        fc.integer({ min: Math.ceil(definition.min), max: Math.min(definition.max, 500) }),
        fc.constant("cannot-tell"),
      );
const answers = (scope: string, always: readonly string[] = []) =>
  fc.record(
    Object.fromEntries(
      Object.entries(module.findings)
        .filter(([, d]) => d.scope === scope)
        .map(([id, d]) => [id, answer(d)]),
    ),
    { requiredKeys: [...always] },
  );
const named = (digit: string, side: string) => answers("digit").map((a) => ({ ...a, digit, side }));

/** Any record the questions allow: any subset answered, one or two injured digits, with or without dates. */
export const anyRecord: fc.Arbitrary<CaseRecord> = fc
  .tuple(
    answers("patient"),
    answers("injury"),
    fc
      .constantFrom("thumb", "index", "middle", "ring", "little")
      .chain((d) => fc.constantFrom("left", "right").chain((s) => named(d, s))),
    fc.option(answers("digit"), { nil: undefined }),
    fc.constantFrom(undefined, "2026-11-20", "2026-11-25T08:15", "2026-10-25T02:30"),
    fc.constantFrom(undefined, "1988-03-14", "2019", "2012-07"),
  )
  .map(([patient, injury, first, second, injuredAt, birthDate]) => ({
    ...(birthDate ? { birthDate } : {}),
    ...(injuredAt ? { injuredAt } : {}),
    assessedAt: "2026-11-25T14:45",
    patient: patient as CaseRecord["patient"],
    injury: injury as CaseRecord["injury"],
    digits: [first, ...(second ? [second] : [])] as CaseRecord["digits"],
  }));
