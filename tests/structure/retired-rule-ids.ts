/** Ids of rules that were taken out. A written plan may still name them, so no new rule may carry one of them. */
export const RETIRED_RULE_IDS: readonly string[] = [
  "AB1u",
  "TET-US-0u",
  "TET-UK-0u",
  "TET-AU-0u",
  "DQ6",
  "DPU-22",
  "TUF-7",
  "SH-12",
  "SH-13",
  "SH-14",
];
