import { describe, expect, it } from "vitest";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { CLEAN_OPEN, HEALTHY_CLOSED, handPolicy, handRules, sureEffects } from "../pathway/hand/hand-pathway.ts";

/** A clean cut over a closed fracture, an hour old: a clean minor wound in every scheme. */
const CLEAN_MINOR: Facts = { ...HEALTHY_CLOSED, mechanism: "laceration" };
/** "All other wounds" of the US grid, by its own list: crush, avulsion, puncture, dirt, faeces, soil, saliva, burn, frostbite. */
const OTHER_WOUNDS: readonly [string, Facts][] = [
  ["open crush", CLEAN_OPEN],
  ["avulsed pulp", { ...CLEAN_MINOR, tissueLoss: "pulp-large" }],
  ["avulsed flap", { ...HEALTHY_CLOSED, mechanism: "fall", openness: "skin-burst-or-flap" }],
  ["dirt", { ...CLEAN_MINOR, contamination: "visible-dirt" }],
  ["soil or faeces", { ...CLEAN_MINOR, contamination: "soil-or-manure" }],
  ["saliva", { ...CLEAN_MINOR, contamination: "saliva" }],
  ["bite", { ...CLEAN_MINOR, mechanism: "dog-bite" }],
  ["high-pressure puncture", { ...CLEAN_MINOR, mechanism: "high-pressure-injection" }],
  ["burn or frostbite", { ...CLEAN_MINOR, mechanism: "burn-or-frostbite" }],
  // Common practice, not on the list: the UK guide (Royal Hospital for Children, Glasgow) calls a compound fracture tetanus-prone.
  ["open fracture from a clean cut", { ...CLEAN_MINOR, openness: "open-skin" }],
];

function answer(scheme: string, facts: Facts): string {
  const said = sureEffects(handRules(handPolicy({ "hand.tetanusScheme": scheme }))(facts), "tetanus");
  if (said.length !== 1) return `${said.length} answers`;
  return (
    [said[0]!.vaccine ? "vaccine" : "", said[0]!.immunoglobulin ? "TIG" : ""].filter(Boolean).join(" + ") || "nothing"
  );
}

// MSD Manual, table "Tetanus prophylaxis in routine wound management", 2023; the same in Int J Emerg Med 2010, table 4, and in
// the guide of the Minnesota Department of Health. Boundaries in full years, the lower counted in.
const US_GRID: readonly [string, Facts, string, string][] = [
  ["doses unknown", { tetanusDoses: "not-known" }, "vaccine", "vaccine + TIG"],
  ["no dose", { tetanusDoses: "none" }, "vaccine", "vaccine + TIG"],
  [
    "fewer than three doses, a year ago",
    { tetanusDoses: "one-or-two", tetanusYearsSinceLast: 1 },
    "vaccine",
    "vaccine + TIG",
  ],
  ["three doses, 4 years ago", { tetanusDoses: "three-or-more", tetanusYearsSinceLast: 4 }, "nothing", "nothing"],
  ["three doses, 5 years ago", { tetanusDoses: "three-or-more", tetanusYearsSinceLast: 5 }, "nothing", "vaccine"],
  ["three doses, 9 years ago", { tetanusDoses: "three-or-more", tetanusYearsSinceLast: 9 }, "nothing", "vaccine"],
  ["three doses, 10 years ago", { tetanusDoses: "three-or-more", tetanusYearsSinceLast: 10 }, "vaccine", "vaccine"],
  ["three doses, 30 years ago", { tetanusDoses: "three-or-more", tetanusYearsSinceLast: 30 }, "vaccine", "vaccine"],
];

describe.each(["US", "AU"])(
  "published grid, %s scheme (Australia: Royal Children's Hospital Melbourne prints a grid like the US one)",
  (scheme) => {
    it.each(US_GRID)("%s, clean minor wound", (_story, doses, clean) =>
      expect(answer(scheme, { ...CLEAN_MINOR, ...doses })).toBe(clean),
    );
    describe.each(OTHER_WOUNDS)("other wound: %s", (_wound, facts) => {
      it.each(US_GRID)("%s", (_story, doses, _clean, other) =>
        expect(answer(scheme, { ...facts, ...doses })).toBe(other),
      );
    });
    // MSD Manual 2023, note to the table: HIV or severe immunodeficiency and a contaminated wound, even a minor one.
    it.each(US_GRID)(
      "weak immune system, %s: immunoglobulin for a contaminated wound whatever the doses",
      (_story, doses, _clean, other) => {
        const expected = other.includes("vaccine") ? "vaccine + TIG" : "TIG";
        expect(
          answer(scheme, { ...CLEAN_MINOR, ...doses, contamination: "visible-dirt", immuneCompromise: "yes" }),
        ).toBe(expected);
      },
    );
    it.each(US_GRID)(
      "weak immune system, %s, crush without contamination: the grid as it stands",
      (_story, doses, _clean, other) =>
        expect(answer(scheme, { ...CLEAN_OPEN, ...doses, immuneCompromise: "yes" })).toBe(other),
    );
    it.each(US_GRID)("weak immune system, %s, clean minor wound: the grid as it stands", (_story, doses, clean) =>
      expect(answer(scheme, { ...CLEAN_MINOR, ...doses, immuneCompromise: "yes" })).toBe(clean),
    );
    // Minnesota Department of Health: infants under 6 weeks get immunoglobulin alone, and only for other than clean minor wounds.
    it("infant of 5 weeks: immunoglobulin alone for a dirty wound, nothing for a clean one", () => {
      const infant = { ageYears: 35 / 365.25, tetanusDoses: "none" };
      expect(answer(scheme, { ...CLEAN_OPEN, ...infant })).toBe("TIG");
      expect(answer(scheme, { ...CLEAN_MINOR, ...infant })).toBe("nothing");
    });
    it("infant of exactly 6 weeks: vaccine and immunoglobulin", () =>
      expect(answer(scheme, { ...CLEAN_OPEN, ageYears: 42 / 365.25, tetanusDoses: "none" })).toBe("vaccine + TIG"));
  },
);

describe("UK scheme", () => {
  // The definitions were read in the guides of Oxford University Hospitals and the Royal Hospital for Children, Glasgow.
  // The grid itself (Green Book, chapter 30) is FROM MEMORY and has to be checked by a clinician.
  const PRONE = CLEAN_OPEN;
  const HIGH_RISK: readonly [string, Facts][] = [
    ["manure in the wound", { ...CLEAN_OPEN, contamination: "soil-or-manure" }],
    ["devitalised tissue", { ...CLEAN_OPEN, devitalised: "yes" }],
    ["not operated after 6 hours", { ...CLEAN_OPEN, hoursSinceInjury: 6 }],
  ];
  const primed = { tetanusDoses: "three-or-more" };
  const GRID: readonly [string, Facts, string, string, string][] = [
    [
      "adult, primed, 9 years ago",
      { ...primed, ageYears: 40, tetanusYearsSinceLast: 9 },
      "nothing",
      "nothing",
      "nothing",
    ],
    [
      "11-year-old, primed, 7 years ago",
      { ...primed, ageYears: 11, tetanusYearsSinceLast: 7 },
      "nothing",
      "nothing",
      "nothing",
    ],
    [
      "7-year-old with pre-school booster",
      { ...primed, ageYears: 7, tetanusPreschoolBooster: "yes" },
      "nothing",
      "nothing",
      "nothing",
    ],
    ["4-year-old, primed", { ...primed, ageYears: 4, tetanusPreschoolBooster: "no" }, "nothing", "nothing", "nothing"],
    // The definition reads "within ten years"; ten years to the day is in date, a day more is not.
    [
      "adult, primed, ten years ago to the day",
      { ...primed, ageYears: 40, tetanusYearsSinceLast: 10 },
      "nothing",
      "nothing",
      "nothing",
    ],
    [
      "adult, primed, ten years and some days ago",
      { ...primed, ageYears: 40, tetanusYearsSinceLast: 10.1 },
      "nothing",
      "vaccine",
      "vaccine + TIG",
    ],
    [
      "adult, primed, 11 years ago",
      { ...primed, ageYears: 40, tetanusYearsSinceLast: 11 },
      "nothing",
      "vaccine",
      "vaccine + TIG",
    ],
    [
      "7-year-old without pre-school booster",
      { ...primed, ageYears: 7, tetanusPreschoolBooster: "no" },
      "nothing",
      "vaccine",
      "vaccine + TIG",
    ],
    [
      "not adequately primed",
      { tetanusDoses: "one-or-two", ageYears: 40 },
      "vaccine",
      "vaccine + TIG",
      "vaccine + TIG",
    ],
    [
      "born before 1961, never vaccinated",
      { tetanusDoses: "none", ageYears: 70 },
      "vaccine",
      "vaccine + TIG",
      "vaccine + TIG",
    ],
    ["not known", { tetanusDoses: "not-known", ageYears: 40 }, "vaccine", "vaccine + TIG", "vaccine + TIG"],
  ];
  it.each(GRID)("%s, clean wound", (_story, immunity, clean) =>
    expect(answer("UK", { ...CLEAN_MINOR, ...immunity })).toBe(clean),
  );
  it.each(GRID)("%s, tetanus-prone wound", (_story, immunity, _clean, prone) =>
    expect(answer("UK", { ...PRONE, ...immunity })).toBe(prone),
  );
  describe.each(HIGH_RISK)("high-risk: %s", (_wound, facts) => {
    it.each(GRID)("%s", (_story, immunity, _clean, _prone, high) =>
      expect(answer("UK", { ...facts, ...immunity })).toBe(high),
    );
  });
  it("severely immunosuppressed with a high-risk wound: treated as never vaccinated", () =>
    expect(answer("UK", { ...HIGH_RISK[0]![1], ...primed, tetanusYearsSinceLast: 1, immuneCompromise: "yes" })).toBe(
      "vaccine + TIG",
    ));
  it("a clean wound is under 6 hours old (Glasgow guide)", () => {
    const facts = { ...CLEAN_MINOR, tetanusYearsSinceLast: 11 };
    expect(answer("UK", { ...facts, hoursSinceInjury: 5.9 })).toBe("nothing");
    expect(answer("UK", { ...facts, hoursSinceInjury: 6 })).not.toBe("nothing");
  });
});
