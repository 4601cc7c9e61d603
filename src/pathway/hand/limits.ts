/** Published limits that no site may move. Each stands once, beside its source; the rules that read one cite it too. */

/** Age of majority for "child" (convention). */
export const ADULT_YEARS = 18;

/** Tetanus: MSD Manual table 2023 and Minnesota guide (US); Oxford and Glasgow guides (UK). Full years, lower limit counted in. */
export const TETANUS = {
  /** Booster interval for a dirty wound (US, AU). */
  shortYears: 5,
  /** Booster interval for any wound (US, AU) and "in date" (UK). */
  longYears: 10,
  /** No vaccine below this age (Minnesota guide). */
  infantWeeks: 6,
  /** UK: a wound older than this is not clean; surgery delayed beyond it makes a prone wound high-risk (Glasgow guide). */
  cleanUnderHours: 6,
  /** UK: primed children below this age need no booster; up to `elevenYears` the pre-school booster decides. */
  preschoolYears: 5,
  elevenYears: 11,
  /** UK: many people born before this year never had a basic course (Green Book). */
  bornBefore: 1961,
  /** DTaP below, Td or Tdap from here; Tdap preferred from `elevenYears` (MSD Manual). */
  adultProductYears: 7,
  /** Larger immunoglobulin dose in the UK when the wound is older than `largeDoseFromHours`, heavily contaminated or a burn (emergency medicine page). */
  largeDoseUnits: 500,
  largeDoseFromHours: 24,
} as const;

/** Lidocaine: US label (LIDO-LABEL); infants: American Academy of Pediatrics (AAP-SED); volumes: New South Wales (ACI-DB). */
export const LIDOCAINE = {
  plainMgPerKg: 4.5,
  plainMaxMg: 300,
  epinephrineMgPerKg: 7,
  epinephrineMaxMg: 500,
  /** Child rule below this age (common practice). */
  childYears: 12,
  /** Below this age the dose falls by `infantReductionPercent`. */
  infantYears: 0.5,
  infantReductionPercent: 30,
  /** The label's one example for children: at 5 years and 22.7 kg not above 75-100 mg; its lower end caps children up to that age. */
  labelChild: { years: 5, kg: 22.7, fromMg: 75, toMg: 100 },
  blockMl: { from: 2, to: 5 },
  blockPointMl: { from: 0.5, to: 1 },
  onsetMinutes: 5,
  /** Percent solutions that volumes are given for. */
  solutions: [1, 2],
} as const;

/** Doxycycline and the usual adult bite alternative are avoided below this age (memory); children's table of one health board. */
export const BITE_ALTERNATIVE_YEARS = 12;

/** Bite courses (NHS Forth Valley after NICE): days of prophylaxis and of treatment. */
export const BITE_DAYS = { prophylaxis: 3, treatment: 5 } as const;

/** Usual length of the antibiotic after an open growth-plate fracture, by mouth, days (common practice, no trial). */
export const PHYSEAL_COURSE_DAYS = { from: 5, to: 7 } as const;

export const HOURS_A_DAY = 24;
export const DAYS_A_YEAR = 365.25;

/** A capillary refill longer than this is slow (memory, common practice). It is part of the question, so no site moves it. */
export const SLOW_REFILL_SECONDS = 2;
/** Redness and warmth of a fresh crush are ordinary for this long (common practice); growing pain after day 2 is a red flag. */
export const FRESH_REDNESS_HOURS = { from: 48, to: 72 } as const;
/** A film, review or check that is over by this day looks for loss of position, fit or infection: it may be brought forward (common practice). */
export const EARLY_VISIT_DAYS = 21;
/** From this age the dose of a local anaesthetic is kept lower: sources say "elderly" and name no age (common practice). */
export const ELDERLY_YEARS = 65;
/** Static two-point discrimination of the tip, mm: normal below `normalUnder`, poor above `poorOver`, fair between (memory). */
export const TWO_POINT_MM = { normalUnder: 6, poorOver: 10 } as const;
/** Splint after a dislocated end joint is reduced: degrees of bending after a dorsal one, weeks (American Family Physician 2022). */
export const DISLOCATION_SPLINT = { degrees: { from: 15, to: 30 }, weeks: { from: 2, to: 3 } } as const;
/** New pain with discharge after this day is infection of the bone until shown otherwise (Reyes 2017; ACEP case series). */
export const LATE_PAIN_DAYS = 3;
/** Days that a weekend may put between a working day and the next one. */
export const WEEKEND_DAYS = 2;
/** UK: the licensing authority hears of a hand that keeps somebody from driving for longer than this (Royal Berkshire leaflet). */
export const DRIVING_AUTHORITY_MONTHS = 3;
/** Dose to the fetus from a film of the hand lies far below this, mGy (memory). */
export const FETAL_DOSE_MGY = 0.01;
/** Pulp loss of this size or more is large (common practice, memory; Melbourne guideline refers larger losses). */
export const LARGE_PULP_LOSS_CM2 = 1;
