import { against, type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, under } from "../reasoning/table.ts";
import type { Effect } from "./effects.ts";
import type { HandTable } from "./hand-table.ts";
import { DAYS_A_YEAR, TETANUS } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";

const NOT_PRIMED = ["none", "one-or-two", "not-known"] as const;
const PRIMED = "three-or-more";
const INFANT_YEARS = (TETANUS.infantWeeks * 7) / DAYS_A_YEAR;
const NO_WOUND = "No wound, no tetanus question.";

const tetanusEffect = (vaccine: boolean, immunoglobulin: boolean, say: string): readonly Effect[] => [
  { kind: "tetanus", vaccine, immunoglobulin, say },
];

/** The grid of the site's scheme. Only one scheme is ever in the pathway. */
export const tetanus = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const units = p["hand.tetanusImmunoglobulinUnits"];
  return p["hand.tetanusScheme"] === "UK" ? ukGrid(units) : intervalGrid(p["hand.tetanusScheme"], units);
};

/** US grid: clean minor wounds against all others, by doses and full years since the last. Australia uses a grid like it. */
function intervalGrid(scheme: "US" | "AU", units: number): HandTable {
  const { shortYears, longYears, infantWeeks } = TETANUS;
  const id = (n: number) => `TET-${scheme}-${n}`;
  const grid: readonly [Citation, ...Citation[]] =
    scheme === "US"
      ? [cite("MSD-TET", "G", "table"), cite("INTJEM10", "G", "table 4"), cite("MDH-TET", "G")]
      : [
          cite("RCH-TET", "G", "the intervals; which wound is dirty is judged by the US list"),
          cite("MSD-TET", "G", "the Australian grid is like this one"),
        ];
  /** Open fracture from a clean cut: the list of the grid does not name it. */
  const openFracture = [
    cite("RHC-TET", "G", "UK: a compound fracture is tetanus-prone"),
    { ...commonPractice, at: "an open fracture is no minor wound" },
  ] as const;
  const dose = [
    cite("IMM", "G"),
    cite("MDH-TET", "G"),
    against("MSD-TET", "G", "its 2023 table prints 500 units for adults"),
  ] as const;
  const tig = `tetanus immunoglobulin ${units} IU (check the product) into a muscle away from the vaccine`;
  const grown = { woundPresent: "yes", ageYears: from(INFANT_YEARS) } as const;
  const primedDirty = { ...grown, tetanusDoses: PRIMED, tetanusDirtyWound: "yes" } as const;
  return {
    id: `TET-${scheme}`,
    question: "Tetanus: vaccine, immunoglobulin, both or neither?",
    answers: "one",
    rules: [
      {
        id: id(0),
        when: { woundPresent: "no" },
        then: tetanusEffect(false, false, NO_WOUND),
        because: "Tetanus enters by a wound, and the skin is intact.",
        sources: [commonPractice],
      },
      {
        id: id(1),
        when: { woundPresent: "yes", ageYears: under(INFANT_YEARS), tetanusDirtyWound: "no" },
        then: tetanusEffect(
          false,
          false,
          `Clean wound under ${infantWeeks} weeks of age: neither vaccine nor immunoglobulin.`,
        ),
        because: "The vaccine starts later, and a clean minor wound needs no immunoglobulin.",
        sources: [cite("MDH-TET", "G")],
      },
      {
        id: id(2),
        when: { woundPresent: "yes", ageYears: under(INFANT_YEARS), tetanusDirtyWound: "yes" },
        then: tetanusEffect(
          false,
          true,
          `Dirty wound under ${infantWeeks} weeks of age: immunoglobulin alone, ${units} IU (check the product).`,
        ),
        because: "Too young for the vaccine.",
        sources: [cite("MDH-TET", "G"), ...dose],
      },
      {
        id: id(3),
        when: { ...grown, tetanusDoses: NOT_PRIMED, tetanusDirtyWound: "no" },
        then: tetanusEffect(
          true,
          false,
          "Fewer than three doses or not known, clean minor wound: vaccine now, then finish the course.",
        ),
        because: "The basic course is not complete.",
        sources: grid,
      },
      {
        id: id(4),
        when: { ...grown, tetanusDoses: NOT_PRIMED, tetanusDirtyWound: "yes" },
        then: tetanusEffect(
          true,
          true,
          `Fewer than three doses or not known, and not a clean minor wound: vaccine now and ${tig}; then finish the course.`,
        ),
        because:
          "The basic course is not complete and this wound may carry tetanus; crush is on the list, an open fracture counts like it.",
        sources: [...grid, ...openFracture, ...dose],
      },
      {
        id: id(5),
        when: { ...grown, tetanusDoses: PRIMED, tetanusDirtyWound: "no", tetanusYearsSinceLast: under(longYears) },
        then: tetanusEffect(
          false,
          false,
          `Three doses or more, the last under ${longYears} years ago, clean minor wound: nothing.`,
        ),
        because: "Protected for a clean minor wound.",
        sources: grid,
      },
      {
        id: id(6),
        when: { ...grown, tetanusDoses: PRIMED, tetanusDirtyWound: "no", tetanusYearsSinceLast: from(longYears) },
        then: tetanusEffect(true, false, `Last dose ${longYears} years ago or longer: booster now.`),
        because: "The interval for any wound is over.",
        sources: grid,
      },
      {
        id: id(7),
        when: { ...primedDirty, tetanusYearsSinceLast: under(shortYears), tetanusAntibodyInDoubt: "no" },
        then: tetanusEffect(false, false, `Three doses or more, the last under ${shortYears} years ago: nothing.`),
        because: "Protected for any wound.",
        sources: grid,
      },
      {
        id: id(8),
        when: { ...primedDirty, tetanusYearsSinceLast: from(shortYears), tetanusAntibodyInDoubt: "no" },
        then: tetanusEffect(
          true,
          false,
          `Not a clean minor wound and last dose ${shortYears} years ago or longer: booster now.`,
        ),
        because:
          "The interval for a wound other than clean and minor is over; an open crush or an open fracture never counts as one.",
        sources: [...grid, ...openFracture, against("OUH-TET", "G", "UK scheme: no booster within 10 years")],
      },
      {
        id: id(9),
        when: { ...primedDirty, tetanusYearsSinceLast: under(shortYears), tetanusAntibodyInDoubt: "yes" },
        then: tetanusEffect(false, true, `Weak immune system and a contaminated wound: ${tig}; vaccine in date.`),
        because: "A weak immune system may have made no antibody, whatever the vaccine record says.",
        sources: [...grid, ...dose],
      },
      {
        id: id(10),
        when: { ...primedDirty, tetanusYearsSinceLast: from(shortYears), tetanusAntibodyInDoubt: "yes" },
        then: tetanusEffect(true, true, `Weak immune system and a contaminated wound: booster now and ${tig}.`),
        because: "A weak immune system may have made no antibody, whatever the vaccine record says.",
        sources: [...grid, ...dose],
      },
    ],
  };
}

/** UK grid (from 2018): clean, tetanus-prone or high-risk, by immunity. The definitions were read; the grid itself is from memory. */
function ukGrid(units: number): HandTable {
  const { longYears, largeDoseUnits, largeDoseFromHours, bornBefore } = TETANUS;
  const grid = [cite("OUH-TET", "G"), cite("RHC-TET", "G"), cite("GB30", "M", "grid from memory")] as const;
  const tig = `tetanus immunoglobulin ${units} IU into a muscle away from the vaccine (${largeDoseUnits} IU when the wound is over ${largeDoseFromHours} hours old, heavily contaminated or a burn)`;
  const dose = cite("EMBEDS", "C", "dose");
  const prone = { woundPresent: "yes", tetanusProneWound: "yes" } as const;
  const high = { ...prone, tetanusHighRiskWound: "yes" } as const;
  return {
    id: "TET-UK",
    question: "Tetanus: vaccine, immunoglobulin, both or neither?",
    answers: "one",
    rules: [
      {
        id: "TET-UK-0",
        when: { woundPresent: "no" },
        then: tetanusEffect(false, false, NO_WOUND),
        because: "Tetanus enters by a wound, and the skin is intact.",
        sources: [commonPractice],
      },
      {
        id: "TET-UK-1",
        when: { woundPresent: "yes", tetanusProneWound: "no", tetanusDoses: PRIMED },
        then: tetanusEffect(false, false, "Clean wound, basic course complete: nothing now."),
        because: "A clean wound in a person with a complete basic course needs no dose.",
        sources: [...grid, against("MSD-TET", "G", "US scheme: booster when the last dose is 10 years old")],
      },
      {
        id: "TET-UK-2",
        when: { woundPresent: "yes", tetanusProneWound: "no", tetanusDoses: NOT_PRIMED },
        then: tetanusEffect(
          true,
          false,
          "Basic course not complete or not known: vaccine now, then finish the course.",
        ),
        because: "The wound is the occasion to start or finish the course.",
        sources: grid,
      },
      {
        id: "TET-UK-3",
        when: { ...prone, tetanusHighRiskWound: "no", tetanusDoses: PRIMED, tetanusBoosterInDate: "yes" },
        then: tetanusEffect(false, false, "Basic course complete and in date for the age: nothing."),
        because: "The doses on record protect against this wound.",
        sources: [
          ...grid,
          against("MSD-TET", "G", "US scheme: booster for such a wound when the last dose is 5 years old"),
        ],
      },
      {
        id: "TET-UK-4",
        when: { ...prone, tetanusHighRiskWound: "no", tetanusDoses: PRIMED, tetanusBoosterInDate: "no" },
        then: tetanusEffect(
          true,
          false,
          `Basic course complete, but the last dose is over ${longYears} years old or the pre-school booster is missing: vaccine now.`,
        ),
        because: "A tetanus-prone wound asks for a dose in date.",
        sources: grid,
      },
      {
        id: "TET-UK-5",
        when: { ...prone, tetanusHighRiskWound: "no", tetanusDoses: NOT_PRIMED },
        then: tetanusEffect(
          true,
          true,
          `Basic course not complete or not known (as in many born before ${bornBefore}), tetanus-prone wound: vaccine now and ${tig}; then finish the course.`,
        ),
        because: "No antibody can be counted on.",
        sources: [...grid, dose],
      },
      {
        id: "TET-UK-6",
        when: { ...high, tetanusDoses: PRIMED, tetanusBoosterInDate: "yes", immuneCompromise: "no" },
        then: tetanusEffect(
          false,
          false,
          "High-risk wound, but basic course complete and in date for the age: nothing.",
        ),
        because: "The doses on record protect against this wound.",
        sources: grid,
      },
      {
        id: "TET-UK-7",
        when: { ...high, tetanusDoses: PRIMED, tetanusBoosterInDate: "no" },
        then: tetanusEffect(true, true, `High-risk wound and no dose in date: vaccine now and ${tig}.`),
        because: "A high-risk wound does not wait for the booster to work.",
        sources: [...grid, dose],
      },
      {
        id: "TET-UK-8",
        when: { ...high, tetanusDoses: PRIMED, tetanusBoosterInDate: "yes", immuneCompromise: "yes" },
        then: tetanusEffect(
          true,
          true,
          `High-risk wound with a weak immune system: vaccine now and ${tig}, as if never vaccinated.`,
        ),
        because: "A severely weakened immune system may have made no antibody even when vaccinated.",
        sources: [...grid, dose],
      },
      {
        id: "TET-UK-9",
        when: { ...high, tetanusDoses: NOT_PRIMED },
        then: tetanusEffect(
          true,
          true,
          `Basic course not complete or not known (as in many born before ${bornBefore}), high-risk wound: vaccine now and ${tig}; then finish the course.`,
        ),
        because: "No antibody can be counted on.",
        sources: [...grid, dose],
      },
    ],
  };
}

/** Product by age, course and advice that go with a dose. */
export const tetanusDetails = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const { adultProductYears, elevenYears, cleanUnderHours } = TETANUS;
  const prone = { woundPresent: "yes", tetanusProneWound: "yes", tetanusHighRiskWound: "no" } as const;
  const product: HandTable["rules"] = [
    {
      id: "TET-P1",
      when: { tetanusVaccineDue: "yes", ageYears: under(adultProductYears) },
      then: [{ kind: "task", say: `Tetanus vaccine for under ${adultProductYears} years: DTaP.` }],
      because: "Children get the product of the basic course.",
      sources: [cite("MSD-TET", "G")],
    },
    {
      id: "TET-P2",
      when: { tetanusVaccineDue: "yes", ageYears: from(adultProductYears, elevenYears) },
      then: [
        {
          kind: "task",
          say: `Tetanus vaccine from ${adultProductYears} years: Td or Tdap; Tdap once if not fully immunised.`,
        },
      ],
      because: "From this age the reduced-dose products are used.",
      sources: [cite("MSD-TET", "G")],
    },
    {
      id: "TET-P3",
      when: { tetanusVaccineDue: "yes", ageYears: from(elevenYears), pregnant: ["no", "breast-feeding"] },
      then: [{ kind: "task", say: "Tetanus vaccine: Tdap preferred if never had it, otherwise Td or Tdap." }],
      because: "One dose with the whooping-cough part is wanted in life.",
      sources: [cite("MSD-TET", "G")],
    },
    {
      id: "TET-P4",
      when: { tetanusVaccineDue: "yes", ageYears: from(elevenYears), pregnant: "yes" },
      then: [{ kind: "task", say: "Tetanus vaccine in pregnancy: Tdap." }],
      because: "The whooping-cough part protects the newborn.",
      sources: [fromMemory],
    },
  ];
  return {
    id: "TET-D",
    question: "What goes with the tetanus dose?",
    answers: "every",
    rules: [
      ...(p["hand.tetanusScheme"] === "US" ? product : []),
      {
        id: "TET-D1",
        when: { woundPresent: "yes", tetanusDoses: NOT_PRIMED },
        then: [
          {
            kind: "task",
            say: "Ask general practice to finish the tetanus course and give the next dates; the patient brings the vaccination card.",
          },
        ],
        because: "One dose after a wound does not complete the course.",
        sources: [cite("GB30", "G"), commonPractice],
      },
      ...(p["hand.tetanusScheme"] === "UK"
        ? [
            {
              id: "TET-D2",
              when: { woundPresent: "yes", immuneCompromise: "yes" },
              then: [
                {
                  kind: "warn",
                  say: "Tetanus with a severely weakened immune system: ask a senior; there may be no antibody even after vaccination.",
                },
              ],
              because: "The vaccine record does not prove protection here.",
              sources: [cite("OUH-TET", "G"), cite("RHC-TET", "G")],
            } as const,
            // Only where the grade changes the answer: with a dose in date a high-risk wound needs nothing either.
            ...(
              [
                { id: "TET-D4", when: { ...prone, tetanusDoses: PRIMED, tetanusBoosterInDate: "no" } },
                {
                  id: "TET-D5",
                  when: { ...prone, tetanusDoses: PRIMED, tetanusBoosterInDate: "yes", immuneCompromise: "yes" },
                },
              ] as const
            ).map((row) => ({
              ...row,
              then: [
                {
                  kind: "task",
                  say: `Tetanus: if the wound is operated on more than ${cleanUnderHours} hours after the injury, grade it again: it is then high-risk and needs immunoglobulin.`,
                } as const,
              ],
              because: "A tetanus-prone wound becomes high-risk when surgery is delayed.",
              sources: [cite("RHC-TET", "G"), cite("GB30", "M", "grid from memory")] as const,
            })),
          ]
        : [
            {
              id: "TET-D6",
              when: { woundPresent: "yes", immuneCompromise: "yes", tetanusDirtyWound: "yes", contaminatedWound: "no" },
              then: [
                {
                  kind: "warn",
                  say: "Weak immune system: the grid asks for immunoglobulin when a wound is contaminated, and this one is recorded as clean. Look again.",
                },
              ],
              because: "A crushed or open wound is seldom free of dirt, and here the answer decides.",
              sources: [cite("MSD-TET", "G", "note to the table"), commonPractice],
            } as const,
          ]),
      {
        id: "TET-D3",
        when: { woundPresent: "yes", bleedingTendency: "yes" },
        then: [
          {
            kind: "warn",
            say: "Injection into a muscle with a bleeding tendency: thin needle, firm pressure for 2 minutes.",
          },
        ],
        because: "A muscle bruise is avoidable.",
        sources: [fromMemory],
      },
    ],
  };
};
