import type { Line } from "../assessment.ts";
import { against, type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Figures } from "../module.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { isAbsent } from "../reasoning/known.ts";
import type { Facts } from "../reasoning/program.ts";
import { from } from "../reasoning/table.ts";
import type { HandTable } from "./hand-table.ts";
import { ELDERLY_YEARS, LIDOCAINE } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";

/** Rounds down, so that rounding never lifts a dose above its ceiling; the tiny term absorbs binary fractions. */
const floorTo = (value: number, step: number) => Math.floor(value / step + 1e-9) * step;
const shown = (value: number) => String(Math.round(value * 100) / 100);

/** Ceiling of the US label for lidocaine, mg (rounded down to whole mg). */
export const labelCeilingMg = (kg: number, withEpinephrine: boolean): number =>
  withEpinephrine
    ? floorTo(Math.min(LIDOCAINE.epinephrineMgPerKg * kg, LIDOCAINE.epinephrineMaxMg), 1)
    : floorTo(Math.min(LIDOCAINE.plainMgPerKg * kg, LIDOCAINE.plainMaxMg), 1);

/** Stricter limit for plain lidocaine, mg: per kg as given, never above the label, nor for a small child above its one example. */
export const plainLimitMg = (kg: number, mgPerKg: number, ageYears: number): number => {
  const limit = Math.min(mgPerKg * kg, labelCeilingMg(kg, false), labelExampleMg(ageYears));
  return floorTo(ageYears < LIDOCAINE.infantYears ? limit * (1 - LIDOCAINE.infantReductionPercent / 100) : limit, 1);
};
/** The label's example is a child of 5 years: it binds up to the end of that year and says nothing of older children. */
const labelExampleMg = (ageYears: number) =>
  ageYears < LIDOCAINE.labelChild.years + 1 ? LIDOCAINE.labelChild.fromMg : Number.POSITIVE_INFINITY;

/** Volume that holds a dose: mg / (10 × percent), rounded down to 0.1 mL. */
export const millilitres = (mg: number, percent: number): number =>
  Number(floorTo(mg / (10 * percent), 0.1).toFixed(1));

const volumes = (mg: number) =>
  LIDOCAINE.solutions.map((percent) => `${millilitres(mg, percent)} mL of ${percent} %`).join(" or ");

/** When there are figures, and what they read. */
export const FIGURES_READ = {
  when: { blockLikely: "yes", blockForbidden: "no" },
  findings: ["digit", "ageYears", "weightKg"],
} as const;

/**
 * Ceilings for a finger block, the arithmetic written out; silent unless a block is likely and nothing speaks against one.
 * No figure without weight; what is still needed comes back as `needs`.
 */
export function handFigures(facts: Facts, policy: SitePolicy): Figures {
  if (facts.blockLikely !== "yes" || facts.blockForbidden === "yes") return { anaesthetic: [], needs: [] };
  const age = facts.ageYears;
  const kg = facts.weightKg;
  const needs = FIGURES_READ.findings.filter((finding) => !known(facts[finding]));
  const practice = [usualVolume, ...nerves(facts.digit)];
  // Until each reason against a block is excluded there is no figure; those questions are asked through their own rules.
  if (facts.blockForbidden !== "no" || typeof age !== "number" || typeof kg !== "number")
    return { anaesthetic: practice, needs };
  const mixture =
    facts.epinephrineRisk === "no" && policyOf(HAND_POLICY, policy)["hand.epinephrineInFinger"] === "allow";
  return { anaesthetic: [...ceilings(kg, age, policy, mixture), ...practice], needs };
}

const known = (value: string | number | undefined) => value !== undefined && !isAbsent(value);

/** @param mixture epinephrine is allowed in this finger: only then has the mixture a ceiling */
function ceilings(kg: number, age: number, policy: SitePolicy, mixture: boolean): Line[] {
  const p = policyOf(HAND_POLICY, policy);
  const {
    plainMgPerKg,
    plainMaxMg,
    epinephrineMgPerKg,
    epinephrineMaxMg,
    childYears,
    infantYears,
    infantReductionPercent,
    labelChild,
  } = LIDOCAINE;
  if (age < childYears) {
    const perKg = p["hand.childLidocaineMgPerKg"];
    const infant = age < infantYears;
    const mg = plainLimitMg(kg, perKg, age);
    const byWeight = perKg * kg;
    const example = labelExampleMg(age);
    const label = labelCeilingMg(kg, false);
    const perKgOf = (exampleMg: number) => (exampleMg / labelChild.kg).toFixed(1);
    const cap =
      byWeight <= Math.min(example, label)
        ? ""
        : example <= label
          ? ` (the label's example for ${labelChild.years} years caps it at ${example} mg)`
          : ` (the label caps it at ${label} mg)`;
    return [
      line(
        infant ? "LA5" : "LA4",
        `Plain lidocaine, under ${childYears} years: ${perKg} mg/kg × ${shown(kg)} kg = ${shown(byWeight)} mg${cap}${infant ? ` minus ${infantReductionPercent} %` : ""}, at most ${mg} mg = ${volumes(mg)}.`,
        infant
          ? "Infants under 6 months clear the drug slowly."
          : `The label gives no fixed maximum for children: by age and weight, and not above ${labelChild.fromMg}-${labelChild.toMg} mg at ${labelChild.years} years and ${labelChild.kg} kg (${perKgOf(labelChild.fromMg)}-${perKgOf(labelChild.toMg)} mg/kg). Its ceiling with epinephrine is for adults.`,
        [cite("LIDO-LABEL", "G"), ...(infant ? [cite("AAP-SED", "G", "footnote")] : []), commonPractice],
      ),
    ];
  }
  const perKg = p["hand.plainLidocaineMgPerKg"];
  const strict = plainLimitMg(kg, perKg, age);
  const label = labelCeilingMg(kg, false);
  const service = line(
    "LA3",
    `Plain lidocaine, service limit: ${perKg} mg/kg × ${shown(kg)} kg = ${shown(perKg * kg)} mg${strict < floorTo(perKg * kg, 1) ? `, capped at ${strict} mg` : ""} = ${volumes(strict)}.`,
    "A hand service keeps well below the label; the US label allows more.",
    [
      cite("ACI-DB", "G"),
      against("LIDO-LABEL", "G", `${plainMgPerKg} mg/kg, at most ${plainMaxMg} mg: here ${label} mg`),
    ],
  );
  const byLabel = line(
    "LA1",
    `Plain lidocaine, US label: ${plainMgPerKg} mg/kg × ${shown(kg)} kg = ${shown(plainMgPerKg * kg)} mg, never above ${plainMaxMg} mg: ${label} mg = ${volumes(label)}.`,
    "Ceiling of the label; a stricter service limit exists.",
    [cite("LIDO-LABEL", "G"), against("ACI-DB", "G", `${perKg} mg/kg: here ${strict} mg`)],
  );
  const epinephrine = labelCeilingMg(kg, true);
  return [
    ...(p["hand.lidocaineCeiling"] === "service" ? [service, byLabel] : [byLabel, service]),
    ...(mixture
      ? [
          line(
            "LA2",
            `Lidocaine with epinephrine, US label: ${epinephrineMgPerKg} mg/kg × ${shown(kg)} kg = ${shown(epinephrineMgPerKg * kg)} mg, never above ${epinephrineMaxMg} mg: ${epinephrine} mg = ${volumes(epinephrine)}.`,
            "Ceiling of the label; nothing speaks against epinephrine in this finger.",
            [cite("LIDO-LABEL", "G")],
          ),
        ]
      : []),
  ];
}

const line = (rule: string, text: string, because: string, sources: readonly [Citation, ...Citation[]]): Line => ({
  rule,
  text,
  because,
  sources,
});

const usualVolume: Line = line(
  "LA7",
  `Usual block: ${LIDOCAINE.blockMl.from}-${LIDOCAINE.blockMl.to} mL of 1-2 % per finger, ${LIDOCAINE.blockPointMl.from}-${LIDOCAINE.blockPointMl.to} mL at each of four points; wait ${LIDOCAINE.onsetMinutes} minutes. Count every local anaesthetic given.`,
  "More volume adds pressure, not effect.",
  [cite("ACI-DB", "C")],
);

function nerves(digit: Facts[string]): Line[] {
  const sources = [cite("ANESKEY-DB", "C")] as const;
  if (digit === "index" || digit === "middle" || digit === "ring")
    return [
      line(
        "LA8",
        "The two palmar nerves alone cover the tip of this finger.",
        "In the three middle fingers the palmar nerves reach the whole tip.",
        [...sources],
      ),
    ];
  if (digit === "thumb" || digit === "little")
    return [
      line(
        "LA8",
        "Block all four nerves of this digit.",
        "In thumb and little finger the dorsal nerves reach the tip too.",
        [...sources],
      ),
    ];
  return [];
}

const nothingAgainst = {
  blockLikely: "yes",
  blockForbidden: "no",
  epinephrineRisk: "no",
  ageYears: from(LIDOCAINE.childYears),
} as const;
/** Epinephrine in the finger: allowed unless the site avoids it, but never where the blood supply is in doubt. */
export const epinephrine = (policy: SitePolicy): HandTable => ({
  id: "LA-E",
  question: "May the anaesthetic contain epinephrine?",
  // Silent while no block is planned or allowed. For children only "no": the ceiling of the mixture is for adults.
  answers: "every",
  rules: [
    {
      id: "LA-E1",
      when: { blockLikely: "yes", blockForbidden: "no", epinephrineRisk: "yes" },
      then: [
        {
          kind: "epinephrine",
          allow: false,
          say: "No epinephrine in this finger: use plain lidocaine. If it was given and the tip stays white: phentolamine.",
        },
      ],
      because:
        "Poor refill, Raynaud or scleroderma, arterial disease, an injured artery or a crushed tip of doubtful life: a vessel that narrows may not open again. Sulfite allergy: it is in the mixture.",
      sources: [
        cite("RAYN22", "C", "abstract"),
        cite("DOSREIS16", "C", "abstract"),
        cite("LIDO-LABEL", "G", "sulfite"),
        commonPractice,
      ],
    },
    policyOf(HAND_POLICY, policy)["hand.epinephrineInFinger"] === "avoid"
      ? ({
          id: "LA-E3",
          when: nothingAgainst,
          then: [
            {
              kind: "epinephrine",
              allow: false,
              say: "This site uses no epinephrine in a finger: plain lidocaine.",
            },
          ],
          because: "Reviews disagree, and the site has chosen the cautious side.",
          sources: [
            cite("DOSREIS16", "C", "a review advises against it"),
            cite("LIDO-LABEL", "G", "labels still warn"),
            against("EPI-BET", "C"),
            against("EPI-HIGH", "C", "abstract"),
          ],
        } as const)
      : ({
          id: "LA-E2",
          when: nothingAgainst,
          then: [
            { kind: "epinephrine", allow: true, say: "Epinephrine 1:100,000 to 1:200,000 is allowed in this finger." },
          ],
          because:
            "A review of 16 papers judged commercial mixtures safe, and none of 59 fingers injected with 1:1000 by accident was lost.",
          sources: [
            cite("EPI-BET", "C"),
            cite("EPI-HIGH", "C", "abstract"),
            against("DOSREIS16", "C", "a review advises against it"),
            against("RAYN22", "C", "abstract: fingers with primary Raynaud were lost; they are left out here"),
            against("LIDO-LABEL", "G", "labels still warn"),
          ],
        } as const),
  ],
});

/** Reasons against a block or for less of it. */
export const blockWarnings = (_policy: SitePolicy): HandTable => ({
  id: "LA-W",
  question: "Is there a reason against a block, or for less?",
  answers: "every",
  rules: [
    {
      id: "LA-W1",
      when: { localAnaestheticAllergy: "yes", blockLikely: "yes" },
      then: [
        {
          kind: "warn",
          say: "Allergy to a local anaesthetic: no amide (lidocaine) before a specialist has been asked; epinephrine products contain sulfite.",
        },
      ],
      because: "A true amide allergy is a reason against a block; often the preservative was the culprit.",
      sources: [cite("LIDO-LABEL", "G"), cite("ACI-DB", "G")],
    },
    {
      id: "LA-W8",
      when: { localAnaestheticAllergy: "yes", blockLikely: "yes" },
      then: [
        {
          kind: "urgency",
          urgency: "D0",
          say: "The finger has to be numbed and the usual drug is out: the hand team decides today how.",
        },
      ],
      because: "What is not numbed is neither washed out well nor repaired, and does not wait for days.",
      sources: [commonPractice],
    },
    {
      id: "LA-W2",
      when: { blockLikely: "yes", infected: "yes" },
      then: [{ kind: "warn", say: "Infection where the needle would go: no finger block there." }],
      because: "Infection at the site is a reason against a block.",
      sources: [cite("ACI-DB", "G")],
    },
    {
      id: "LA-W3",
      when: { perfusionInDoubt: "yes" },
      then: [{ kind: "warn", say: "Poor circulation: no finger block until it is restored." }],
      because: "Swelling around the arteries can finish a threatened tip.",
      sources: [cite("ACI-DB", "G")],
    },
    {
      id: "LA-W4",
      when: { highPressureInjection: "yes" },
      then: [{ kind: "warn", say: "High-pressure injection: no finger block; it adds to the swelling." }],
      because: "Pressure in the finger is already the problem.",
      sources: [cite("HPI-KEY", "C"), cite("HPI-PEARL", "C")],
    },
    {
      id: "LA-W5",
      when: { blockLikely: "yes", liverOrHeartDisease: "yes" },
      then: [
        { kind: "warn", say: "Liver, kidney or heart disease: stay well below the ceiling for local anaesthetic." },
      ],
      because: "The drug is cleared more slowly.",
      sources: [cite("LIDO-LABEL", "G"), fromMemory],
    },
    {
      id: "LA-W7",
      when: { blockLikely: "yes", ageYears: from(ELDERLY_YEARS) },
      then: [{ kind: "warn", say: `From ${ELDERLY_YEARS} years: stay below the ceiling for local anaesthetic.` }],
      because: "The label asks for less in the elderly; it names no age.",
      sources: [cite("LIDO-LABEL", "G"), commonPractice],
    },
    {
      id: "LA-W6",
      when: { blockLikely: "yes", bleedingTendency: "yes" },
      then: [{ kind: "warn", say: "Bleeding tendency: a block can leave a haematoma; press longer." }],
      because: "The needle passes beside the digital vessels.",
      sources: [cite("ACI-DB", "C")],
    },
  ],
});
