import { CODING_POLICY, type SitePolicy } from "../pathway/index.ts";
import type { DigitCase } from "./digit-case.ts";
import { asCoded, type FactRow, type Facts, holds } from "./facts.ts";
import type { ConfirmedDigit } from "./from-findings.ts";

/** Which classifications a site wants. */
export interface CodePolicy {
  readonly icd10cm: boolean;
  /** WHO ICD-10, 2019. */
  readonly icd10: boolean;
  /** Off where a site has no licence for SNOMED CT. */
  readonly snomed: boolean;
  /** Local reading of AO/OTA 2018: its distal phalanx numbers are not verified, and it may not be used for profit without permission. */
  readonly aoOta: boolean;
}
/** What a site's policy says of codes; a key that it does not hold has its default. */
export function codePolicyOf(policy?: Pick<SitePolicy, "values">): CodePolicy {
  const on = (key: keyof typeof CODING_POLICY) => (policy?.values[key] ?? CODING_POLICY[key].value) === "on";
  return {
    icd10cm: on("coding.icd10cm"),
    icd10: on("coding.icd10"),
    snomed: on("coding.snomed"),
    aoOta: on("coding.aoOta"),
  };
}
export const DEFAULT_CODE_POLICY: CodePolicy = codePolicyOf();

/** A code of another classification for the same finding. */
export interface OtherCode {
  readonly system: string;
  readonly version?: string;
  readonly code: string;
  readonly display: string;
  /** Place of the digit in the record; absent: of the encounter. */
  readonly digit?: number;
  readonly rule: string;
  readonly because: string;
  /** What it cannot say, or has not been verified. */
  readonly note?: string;
}

export const SNOMED_CT = "http://snomed.info/sct";
export const ICD10_WHO = "http://hl7.org/fhir/sid/icd-10";
export const AO_OTA = "https://fingerpost.example/fhir/CodeSystem/ao-ota-2018-local-reading";
/** Shown wherever SNOMED CT codes are. */
export const SNOMED_NOTICE =
  "SNOMED CT is copyright of SNOMED International; its use needs the licence of the country. Implementer use is not covered by this plugin.";

const c = (code: string, display: string) => ({ code, display });
/** SNOMED CT ids from published value sets and code lists; by digit group and openness only, as no per-digit id could be looked up. */
export const SNOMED_FRACTURES = {
  thumb: {
    no: c("704213001", "Closed fracture of phalanx of thumb"),
    yes: c("704236005", "Open fracture of phalanx of thumb"),
    unknown: c("274160002", "Fracture of phalanx of thumb"),
  },
  finger: {
    no: c("24424003", "Closed fracture of phalanx of finger"),
    yes: c("21698002", "Open fracture of phalanx of finger"),
    unknown: c("18171007", "Fracture of phalanx of finger"),
  },
} as const;
export const SNOMED_SITES = {
  thumb: c("2550002", "Bone structure of phalanx of thumb"),
  finger: c("306792002", "Bone structure of distal phalanx of finger"),
} as const;
/** Nail unit by digit, when the nail is hurt (eHDSI body site value set 8.1.0, DICOM). */
export const SNOMED_NAILS = {
  thumb: c("770810008", "Structure of nail unit of thumb"),
  index: c("770815003", "Structure of nail unit of index finger"),
  middle: c("770816002", "Structure of nail unit of middle finger"),
  ring: c("770817006", "Structure of nail unit of ring finger"),
  little: c("770818001", "Structure of nail unit of little finger"),
} as const;
export const SNOMED_SIDES = { right: c("24028007", "Right"), left: c("7771000", "Left") } as const;

interface WhoRule {
  readonly id: string;
  readonly when: FactRow;
  readonly code: string;
  readonly display: string;
  readonly note?: string;
}
const thumb = { digit: "thumb" } as const;
const finger = { digit: ["index", "middle", "ring", "little", "not-stated"] } as const satisfies FactRow;
const late = { phase: "sequela" } as const;
const current = { phase: ["active", "healing"] } as const satisfies FactRow;
const broken = {
  fracture: "confirmed",
  fractureCause: ["traumatic", "not-stated"],
  amputation: ["none", "not-stated"],
} as const satisfies FactRow;
const heals = { healing: ["routine", "delayed", "not-stated"] } as const satisfies FactRow;
const NO_DETAIL = "This classification has no phalanx, side or displacement.";
const who = (id: string, when: FactRow, code: string, display: string, note?: string): WhoRule => ({
  id,
  when,
  code,
  display,
  ...(note ? { note } : {}),
});
const opened = [
  "laceration",
  "laceration-foreign-body",
  "puncture",
  "puncture-foreign-body",
  "bite",
  "unspecified",
] as const;
const hurt = ["strain", "laceration", "other", "unspecified"] as const;
/** Titles of WHO ICD-10 (2019), copyright World Health Organization; codes as read in a published code list. */
export const WHO_RULES: readonly WhoRule[] = [
  who("WHO-FX-T", { ...broken, ...current, ...heals, ...thumb }, "S62.5", "Fracture of thumb", NO_DETAIL),
  who("WHO-FX-F", { ...broken, ...current, ...heals, ...finger }, "S62.6", "Fracture of other finger", NO_DETAIL),
  who("WHO-MAL", { ...broken, phase: "healing", healing: "malunion" }, "M84.0", "Malunion of fracture", NO_DETAIL),
  who(
    "WHO-NON",
    { ...broken, phase: "healing", healing: "nonunion" },
    "M84.1",
    "Nonunion of fracture [pseudarthrosis]",
    NO_DETAIL,
  ),
  who("WHO-LATE", { ...broken, ...late }, "T92.2", "Sequelae of fracture at wrist and hand level", NO_DETAIL),
  who("WHO-MALLET", { oldMallet: "yes" }, "M20.0", "Deformity of finger(s)"),
  who("WHO-CRUSH", { ...current, crush: "diagnosed" }, "S67.0", "Crushing injury of thumb and other finger(s)"),
  who(
    "WHO-WOUND",
    { ...current, wound: opened, nail: ["intact", "not-stated"], openness: ["closed", "not-stated"] },
    "S61.0",
    "Open wound of finger(s) without damage to nail",
  ),
  who(
    "WHO-WOUND-N",
    { ...current, wound: opened, nail: "damaged", openness: ["closed", "not-stated"] },
    "S61.1",
    "Open wound of finger(s) with damage to nail",
  ),
  who(
    "WHO-BRUISE",
    {
      ...current,
      contusion: "yes",
      nail: "damaged",
      fracture: ["none", "not-confirmed", "not-stated"],
      wound: ["none", "not-stated"],
    },
    "S60.1",
    "Contusion of finger(s) with damage to nail",
  ),
  who(
    "WHO-EXT-T",
    { ...current, extensorTendon: hurt, ...thumb },
    "S66.2",
    "Injury of extensor muscle and tendon of thumb at wrist and hand level",
  ),
  who(
    "WHO-EXT-F",
    { ...current, extensorTendon: hurt, ...finger },
    "S66.3",
    "Injury of extensor muscle and tendon of other finger at wrist and hand level",
  ),
];
const AMPUTATED = ["complete", "partial", "extent-not-stated"];

function whoCodes(digits: readonly DigitCase[]): OtherCode[] {
  const made = (at: number | undefined, rule: string, code: string, display: string, note?: string): OtherCode => ({
    system: ICD10_WHO,
    version: "2019",
    code,
    display,
    ...(at === undefined ? {} : { digit: at }),
    rule,
    because: "Same facts, in WHO ICD-10.",
    ...(note ? { note } : {}),
  });
  const plain = digits.map((d) => ({ at: d.at, facts: asCoded(d.facts) }));
  const off = plain.filter(({ facts }) => facts.phase === "active" && AMPUTATED.includes(facts.amputation));
  const fingersOff = off.filter(({ facts }) => facts.digit !== "thumb");
  const fractured = plain.filter(({ facts }) => holds(WHO_RULES[1]!.when, facts));
  return [
    ...off
      .filter(({ facts }) => facts.digit === "thumb")
      .map(({ at }) => made(at, "WHO-AMP-T", "S68.0", "Traumatic amputation of thumb (complete)(partial)")),
    ...(fingersOff.length > 1
      ? [made(undefined, "WHO-AMP-2", "S68.2", "Traumatic amputation of two or more fingers alone (complete)(partial)")]
      : fingersOff.map(({ at }) =>
          made(at, "WHO-AMP-F", "S68.1", "Traumatic amputation of other single finger (complete)(partial)"),
        )),
    ...(fractured.length > 1 ? [made(undefined, "WHO-FX-2", "S62.7", "Multiple fractures of fingers", NO_DETAIL)] : []),
    ...plain.flatMap(({ at, facts }) =>
      WHO_RULES.filter(({ id, when }) => holds(when, facts) && !(id === "WHO-FX-F" && fractured.length > 1)).map(
        ({ id, code, display, note }) => made(at, id, code, display, note),
      ),
    ),
  ];
}

const OPEN = { open: "yes", closed: "no" } as const;
function snomedCodes({ at, facts: raw }: DigitCase): OtherCode[] {
  const facts: Facts = asCoded(raw);
  if (!holds(broken, facts) || facts.digit === "not-stated" || facts.phase === "sequela") return [];
  const of = SNOMED_FRACTURES[facts.digit === "thumb" ? "thumb" : "finger"];
  return [
    {
      system: SNOMED_CT,
      ...of[OPEN[facts.openness as keyof typeof OPEN] ?? "unknown"],
      digit: at,
      rule: "SCT-FX",
      because: "Fracture of the phalanx of thumb or finger, open or closed.",
      note: "Digit and side stand in the body site: no id for each digit is verified.",
    },
  ];
}
const AO_CLASS = /^AO-(.+)$/;
function aoCodes(at: number, { classes }: Pick<ConfirmedDigit, "classes">): OtherCode[] {
  return classes.flatMap((k): OtherCode[] => {
    const code = AO_CLASS.exec(k.class)?.[1];
    return code
      ? [
          {
            system: AO_OTA,
            version: "2018",
            code,
            display: k.name,
            digit: at,
            rule: "AO",
            because: "Suggested from digit, place and pattern.",
            note: "Local reading of AO/OTA, from memory in part.",
          },
        ]
      : [];
  });
}
/** Codes of the other classifications that the site wants. Of accidents none is verified, so none is given. */
export function otherCodes(
  digits: readonly DigitCase[],
  derived: readonly Pick<ConfirmedDigit, "classes">[],
  policy: CodePolicy,
): readonly OtherCode[] {
  return [
    ...(policy.icd10 ? whoCodes(digits) : []),
    ...(policy.snomed ? digits.flatMap(snomedCodes) : []),
    ...(policy.aoOta ? digits.flatMap((d) => aoCodes(d.at, derived[d.at] ?? { classes: [] })) : []),
  ];
}
