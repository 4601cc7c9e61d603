import { against, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, under } from "../reasoning/table.ts";
import type { Effect } from "./effects.ts";
import type { HandTable } from "./hand-table.ts";
import { BITE_ALTERNATIVE_YEARS, BITE_DAYS, PHYSEAL_COURSE_DAYS } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";
import { BONE_KEPT, BONE_LOST } from "./signs.ts";

/**
 * Antibiotic: exactly one decision for every complete record. The rows are a ladder: each row says "no" to every rung
 * above it, so the strongest reason decides and nothing below can weaken it.
 */
export const antibiotic = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const hours = p["hand.antibioticDelayHours"];
  const noStrongReason = {
    infected: "no",
    biteNeedsAntibiotic: "no",
    openPhysealFracture: "no",
    openPhysealNotExcluded: "no",
    highPressureInjection: "no",
    woundNeedsAntibiotic: "no",
  } as const;
  /** Nor a bite, nor a child's injured fold that a true lateral has not wholly cleared. */
  const noReason = { ...noStrongReason, bite: "no", openPhysealSuspected: "no" } as const;
  const healthyClean = {
    ...noReason,
    woundPresent: "yes",
    hostCompromised: "no",
    lesserContamination: "no",
  } as const;
  /** What the trials were about; bone exposed or lost was not in them. */
  const healthyCleanWound = { ...healthyClean, tissueLoss: BONE_KEPT } as const;
  const pooled = against(
    "KET17",
    "B",
    "all open hand fractures together: 4.4 % infected with, 9.4 % without an antibiotic before surgery",
  );
  const dissent = [
    against(
      "HS2",
      "G",
      "draft standard: antibiotic in every open hand fracture that is not an isolated tuft, up to 72 h or until closure",
    ),
    pooled,
  ] as const;
  const trials = [
    cite("METCALFE16", "A", "abstract: 4 trials, 353 fractures, no difference; no bone infection in 164 untreated"),
    cite("STEV03", "A", "adults: 3 % with, 4 % without"),
    cite("ALT08", "A", "children: 1.52 % against 1.45 %"),
    cite("ANESKEY", "C"),
  ] as const;
  const notRoutinely: readonly Effect[] = [
    {
      kind: "antibiotic",
      decision: "not-routinely",
      say: "Clean, well-washed wound in a healthy person: no antibiotic as a routine. Offer the choice and write down the wash-out.",
    },
  ];
  const bySite: readonly Effect[] = [
    {
      kind: "antibiotic",
      decision: "yes",
      say:
        p["hand.openShaftAntibiotic"] === "singleDose"
          ? "Open fracture beyond the tuft: a single dose, by the policy of this site."
          : "Open fracture beyond the tuft: for up to 72 hours or until closure, whichever comes first, by the policy of this site.",
    },
  ];
  return {
    id: "AB",
    question: "Antibiotic or none?",
    answers: "one",
    rules: [
      {
        id: "AB9",
        when: { infected: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "treat-infection",
            say: "Treat the infection, culture first, with the hand surgeon; this is no longer prevention.",
          },
        ],
        because: "Infection is already there.",
        sources: [cite("SAMADE21", "B", "abstract")],
      },
      {
        id: "AB6",
        when: { infected: "no", biteNeedsAntibiotic: "yes", otherAnimalBite: "no" },
        then: [{ kind: "antibiotic", decision: "yes", say: "Bite that drew blood: antibiotic." }],
        because:
          "Human and cat bites with blood, and dog bites with blood that are deep, crushed, dirty or reach bone, are given an antibiotic.",
        sources: [cite("NG184", "G", "1.1.5, 1.1.8, 1.1.11")],
      },
      {
        id: "AB6b",
        when: { infected: "no", biteNeedsAntibiotic: "yes", otherAnimalBite: "yes" },
        then: [{ kind: "antibiotic", decision: "yes", say: "Bite of another animal that drew blood: antibiotic." }],
        because: "No source names these animals; the bite is treated like that of a cat.",
        sources: [commonPractice],
      },
      {
        id: "AB5",
        when: { infected: "no", biteNeedsAntibiotic: "no", openPhysealFracture: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "yes",
            say: `Open growth-plate fracture: antibiotic at once; ${PHYSEAL_COURSE_DAYS.from} to ${PHYSEAL_COURSE_DAYS.to} days by mouth are common, no trial says how long.`,
          },
        ],
        because:
          "An antibiotic within the first day cut infection to a fifth (relative risk 0.21, 95 % interval 0.10-0.43); antibiotic with debridement, relative risk 0.30.",
        sources: [cite("KIELY22", "B", "abstract; not randomised"), commonPractice],
      },
      {
        id: "AB5b",
        when: {
          infected: "no",
          biteNeedsAntibiotic: "no",
          openPhysealFracture: "no",
          openPhysealNotExcluded: "yes",
        },
        then: [
          {
            kind: "antibiotic",
            decision: "yes",
            say: "Open growth-plate fracture not excluded: antibiotic at once, as for one; stop it when a true lateral and the surgeon's look at the fold clear the finger.",
          },
        ],
        because:
          "A child's injured fold over an open or unjudged plate is an open growth-plate fracture until a true lateral says otherwise, and the antibiotic works within the first day.",
        sources: [cite("KIELY22", "B", "abstract; about proven fractures"), cite("OBSEY", "C"), commonPractice],
      },
      {
        id: "AB10",
        when: {
          infected: "no",
          biteNeedsAntibiotic: "no",
          openPhysealFracture: "no",
          openPhysealNotExcluded: "no",
          highPressureInjection: "yes",
        },
        then: [
          {
            kind: "antibiotic",
            decision: "yes",
            say: "High-pressure injection: broad antibiotic, chosen with the hand surgeon.",
          },
        ],
        because: "Dirty material lies deep in tissue with a poor blood supply.",
        sources: [cite("HPI-KEY", "C"), cite("HPI-PEARL", "C")],
      },
      {
        id: "AB3",
        when: {
          infected: "no",
          biteNeedsAntibiotic: "no",
          openPhysealFracture: "no",
          openPhysealNotExcluded: "no",
          highPressureInjection: "no",
          woundNeedsAntibiotic: "yes",
        },
        then: [
          {
            kind: "antibiotic",
            decision: "yes",
            say: `Grossly dirty, devitalised, not washed well, or ${hours} hours old or older: antibiotic, short course.`,
          },
        ],
        because: "Where wound care was lighter 30 % were infected without an antibiotic, under 3 % with it.",
        sources: [
          cite("SLOAN87", "A", "old trial"),
          against("SUPROCK90", "A", "4 against 4 infections when debridement was vigorous"),
        ],
      },
      {
        id: "AB7a",
        when: { ...noStrongReason, bite: "yes", humanBite: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "Human bite of the hand without blood: consider an antibiotic.",
          },
        ],
        because: "A human bite that broke the skin of the hand is a reason to consider one, blood or not.",
        sources: [cite("NG184", "G", "1.1.6")],
      },
      {
        id: "AB7b",
        when: { ...noStrongReason, bite: "yes", humanBite: "no" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "Animal bite near a fracture, without blood or (dog) shallow and clean: consider an antibiotic.",
          },
        ],
        because:
          "The guideline read says 'consider' of human bites alone; beside a broken bone an animal's is treated alike.",
        sources: [commonPractice],
      },
      {
        id: "AB5c",
        when: { ...noStrongReason, bite: "no", openPhysealSuspected: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "Child's nail over its fold, no growth-plate fracture on a true lateral: consider an antibiotic until the surgeon has looked under the fold today.",
          },
        ],
        because:
          "The true lateral speaks against an open growth-plate fracture; a plate that broke and sprang back may look like that.",
        sources: [commonPractice],
      },
      {
        id: "AB4a",
        when: { ...noReason, woundPresent: "yes", hostCompromised: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "Diabetes, weak immune system or arterial disease with a wound: consider an antibiotic, short course, and check the wound early.",
          },
        ],
        because: "Such patients were left out of the trials that showed no benefit, so those do not speak for them.",
        sources: [commonPractice, cite("STEV03", "A", "excluded them"), cite("ALT08", "A", "excluded them")],
      },
      {
        id: "AB4b",
        when: { ...noReason, woundPresent: "yes", hostCompromised: "no", lesserContamination: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "A little dirt, saliva, water, grease or paint in the wound: consider an antibiotic.",
          },
        ],
        because:
          "The trials that showed no benefit were about clean wounds; dirt that washes out is less than the gross dirt that asks for one.",
        sources: [commonPractice],
      },
      ...(p["hand.openShaftAntibiotic"] === "never"
        ? [
            {
              id: "AB2",
              when: healthyCleanWound,
              then: notRoutinely,
              because:
                "Pooled trials found no benefit of an antibiotic in clean, well-washed open fractures of the finger tip.",
              sources: [...trials, ...dissent],
            } as const,
          ]
        : [
            {
              id: "AB2a",
              when: { ...healthyCleanWound, openFracture: "yes", isolatedTuft: "yes" },
              then: notRoutinely,
              because:
                "Pooled trials found no benefit of an antibiotic in clean, well-washed open fractures of the finger tip.",
              sources: [...trials, pooled],
            } as const,
            {
              id: "AB2b",
              when: { ...healthyCleanWound, openFracture: "no" },
              then: notRoutinely,
              because: "The wound does not reach the fracture, and it is clean and well washed.",
              sources: trials,
            } as const,
            {
              id: "AB2d",
              when: { ...healthyCleanWound, openFracture: "yes", isolatedTuft: "no", boneBroken: "no" },
              then: notRoutinely,
              because: "No bone is broken, and the wound is clean and well washed.",
              sources: trials,
            } as const,
            {
              id: "AB2c",
              when: { ...healthyCleanWound, openFracture: "yes", isolatedTuft: "no", boneBroken: "yes" },
              then: bySite,
              because:
                "This site follows the draft standard for open hand fractures; the trials on the finger tip found no benefit.",
              sources: [
                cite("HS2", "G", "draft"),
                cite("KET17", "B"),
                against("METCALFE16", "A", "abstract: no difference in 353 open distal phalanx fractures"),
              ],
            } as const,
          ]),
      {
        id: "AB11",
        when: { ...healthyClean, tissueLoss: BONE_LOST },
        then: [
          {
            kind: "antibiotic",
            decision: "local-policy",
            say: "Bone exposed or lost: the trials that showed no benefit had no such wounds. Decide on an antibiotic with the hand surgeon.",
          },
        ],
        because: "Evidence about washed-out open fractures does not speak for a tip whose bone lies bare.",
        sources: [commonPractice],
      },
      {
        id: "AB12",
        when: { ...noReason, woundPresent: "no", drainedInWeakDefence: "yes" },
        then: [
          {
            kind: "antibiotic",
            decision: "consider",
            say: "Weak immune system: once the blood under the nail is drained, consider an antibiotic, short course.",
          },
        ],
        because:
          "Draining opens the way to the fracture; the studies without infection do not speak for a weak defence.",
        sources: [
          commonPractice,
          against("SEABERG91", "B", "abstract: none of 47 drained haematomas infected, fractures included"),
          against("BB603", "C", "no infection in two small studies"),
        ],
      },
      {
        id: "AB1",
        when: { ...noReason, woundPresent: "no", drainedInWeakDefence: "no" },
        then: [
          {
            kind: "antibiotic",
            decision: "no",
            say: "Skin and nail fold are intact: no antibiotic, also when a haematoma is drained.",
          },
        ],
        because: "None of 47 drained haematomas became infected, those with a fracture included.",
        sources: [
          cite("SEABERG91", "B", "abstract"),
          cite("ROSER99", "B", "abstract: none infected, though only 45 % had their prescription filled"),
          cite("BB603", "C"),
        ],
      },
    ],
  };
};

/** Which class, given the allergy. No doses: they are local. */
export const antibioticClass = (_policy: SitePolicy): HandTable => {
  const open = {
    antibioticForWound: "yes",
    infected: "no",
    bite: "no",
    highPressureInjection: "no", // the surgeon chooses
    lateOrInfectedPhyseal: "no",
  } as const;
  const allergic = ["low-risk", "severe"] as const;
  const drug = (choose: string, say: string, avoid?: string): readonly Effect[] => [
    { kind: "antibiotic-class", choose, say, ...(avoid ? { avoid } : {}) },
  ];
  return {
    id: "ABC",
    question: "Which class of antibiotic, if one is given?",
    answers: "every",
    rules: [
      {
        id: "ABC1",
        when: { ...open, openPhysealFracture: "no", soilInWound: "no", penicillinAllergy: "none" },
        then: drug(
          "anti-staphylococcal penicillin or first-generation cephalosporin",
          "Anti-staphylococcal penicillin (flucloxacillin) or a first-generation cephalosporin.",
        ),
        because: "Staphylococci are the usual germs of a finger wound.",
        sources: [cite("HS2", "G", "draft; it lists co-amoxiclav as well"), cite("KRUSCHE13", "C")],
      },
      {
        id: "ABC2",
        when: { ...open, openPhysealFracture: "no", soilInWound: "no", penicillinAllergy: "low-risk" },
        then: drug(
          "first-generation cephalosporin (cefazolin)",
          "First-generation cephalosporin: cefazolin has a side chain of its own. Cefalexin shares one with ampicillin and amoxicillin.",
          "penicillins",
        ),
        because:
          "Up to 95 % of penicillin-allergy labels are no true allergy, and cefazolin shares no side chain with penicillins.",
        sources: [
          cite("SARFANI22", "C", "abstract"),
          against("JFP06", "C", "older review: cefalexin and cefazolin raise reactions in penicillin allergy"),
          fromMemory,
        ],
      },
      {
        id: "ABC3",
        when: { ...open, soilInWound: "no", penicillinAllergy: "severe" },
        then: drug("clindamycin", "Clindamycin; ask a pharmacist or allergist.", "penicillins and cephalosporins"),
        because: "After anaphylaxis, angio-oedema or a severe skin reaction no related drug is risked.",
        sources: [cite("HS2", "G", "draft")],
      },
      {
        id: "ABC13",
        when: { ...open, openPhysealFracture: "yes", soilInWound: "no", penicillinAllergy: "none" },
        then: drug(
          "first-generation cephalosporin",
          "Open growth-plate fracture: a cephalosporin of the first generation.",
        ),
        because: "The series of open growth-plate fractures were treated with a cephalosporin.",
        sources: [cite("KRUSCHE13", "C"), cite("KIELY22", "B", "abstract; not randomised")],
      },
      {
        id: "ABC14",
        when: { ...open, openPhysealFracture: "yes", soilInWound: "no", penicillinAllergy: "low-risk" },
        then: drug("clindamycin", "Open growth-plate fracture with penicillin allergy: clindamycin.", "penicillins"),
        because: "Clindamycin is the reserve drug there, and did better than cefalexin in late cases.",
        sources: [cite("SAMADE21", "B", "abstract"), commonPractice],
      },
      {
        id: "ABC4",
        when: { ...open, soilInWound: "yes", penicillinAllergy: "none" },
        then: drug(
          "co-amoxiclav",
          "Soil or manure: cover anaerobic and Gram-negative germs too, for example co-amoxiclav.",
        ),
        because: "Farm soil carries germs that an anti-staphylococcal drug misses.",
        sources: [commonPractice],
      },
      {
        id: "ABC5",
        when: { ...open, soilInWound: "yes", penicillinAllergy: allergic },
        then: drug("ask a specialist", "Soil or manure with penicillin allergy: ask a microbiologist.", "penicillins"),
        because: "No single safe choice covers these germs.",
        sources: [commonPractice],
      },
      {
        id: "ABC6",
        when: { bite: "yes", penicillinAllergy: "none" },
        then: drug(
          "co-amoxiclav",
          `Bite: co-amoxiclav; ${BITE_DAYS.prophylaxis} days to prevent, ${BITE_DAYS.treatment} days to treat.`,
        ),
        because: "It covers mouth germs and staphylococci.",
        sources: [cite("NG184", "G"), cite("FV-BITE", "G")],
      },
      {
        id: "ABC7",
        when: { bite: "yes", penicillinAllergy: allergic, pregnant: "no", ageYears: from(BITE_ALTERNATIVE_YEARS) },
        then: drug(
          "doxycycline with metronidazole",
          "Bite with penicillin allergy: doxycycline with metronidazole.",
          "penicillins",
        ),
        because: "The usual alternative for mouth germs in adults.",
        sources: [cite("NG184", "G"), cite("FV-BITE", "G")],
      },
      {
        id: "ABC8",
        when: { bite: "yes", penicillinAllergy: allergic, ageYears: under(BITE_ALTERNATIVE_YEARS) },
        then: drug(
          "co-trimoxazole-based, ask a specialist",
          `Bite with penicillin allergy under ${BITE_ALTERNATIVE_YEARS} years: co-trimoxazole-based in one health board's table; ask a paediatrician.`,
          "penicillins, doxycycline",
        ),
        because: "Doxycycline is avoided in young children.",
        sources: [cite("FV-BITE", "G"), fromMemory],
      },
      {
        id: "ABC9",
        when: {
          bite: "yes",
          penicillinAllergy: allergic,
          pregnant: ["yes", "breast-feeding"],
          ageYears: from(BITE_ALTERNATIVE_YEARS),
        },
        then: drug(
          "ask a specialist",
          "Bite with penicillin allergy in pregnancy or breast-feeding: ask a specialist.",
          "penicillins, doxycycline",
        ),
        because: "Doxycycline is avoided in pregnancy, and any drug is checked before breast-feeding.",
        sources: [fromMemory],
      },
      {
        id: "ABC10",
        when: { lateOrInfectedPhyseal: "yes", bite: "no", highPressureInjection: "no" },
        then: drug("clindamycin", "Late or infected open growth-plate fracture: clindamycin; culture first."),
        because: "Clindamycin failed less often than cefalexin in late cases (p 0.039).",
        sources: [cite("SAMADE21", "B", "abstract")],
      },
      {
        id: "ABC15",
        when: {
          lateOrInfectedPhyseal: "yes",
          bite: "no",
          highPressureInjection: "no",
          soilInWound: "yes",
        },
        then: [
          {
            kind: "warn",
            say: "Soil or manure in a late open growth-plate fracture: clindamycin alone misses Gram-negative germs; ask a microbiologist.",
          },
        ],
        because: "Farm soil carries germs that the usual drugs miss.",
        sources: [commonPractice],
      },
      {
        id: "ABC16",
        when: { infected: "yes", bite: "no", lateOrInfectedPhyseal: "no" },
        then: drug(
          "ask the hand surgeon",
          "Established infection: name the allergies; the hand surgeon chooses the drug, and the culture corrects it.",
        ),
        because: "What grows, how deep it is and what is drained decide the drug.",
        sources: [cite("SAMADE21", "B", "abstract: culture first"), commonPractice],
      },
      {
        id: "ABC12",
        when: { highPressureInjection: "yes", infected: "no" },
        then: drug("ask the hand surgeon", "Broad cover: name the allergies, and the hand surgeon chooses the drug."),
        because: "The injected material and what is done in theatre decide the cover.",
        sources: [cite("HPI-KEY", "C"), commonPractice],
      },
      {
        id: "ABC11",
        when: { otherAntibioticAllergy: "yes", woundPresent: "yes" },
        then: [{ kind: "warn", say: "Another antibiotic allergy is recorded: check it against the drug chosen." }],
        because: "The classes above are chosen by penicillin allergy only.",
        sources: [commonPractice],
      },
    ],
  };
};

/** Around an operation with wire: a note for today, no answer to "antibiotic or none", which stands beside it. */
export const antibioticAtOperation = (_policy: SitePolicy): HandTable => ({
  id: "AB8",
  question: "Antibiotic around an operation?",
  answers: "every",
  ordinary: true,
  rules: [
    {
      id: "AB8",
      when: { wirePossible: "yes" },
      then: [
        {
          kind: "today",
          topic: "referral",
          say: "If a wire or an anchor is placed: a single antibiotic dose with the operation, by local policy; nobody has shown a benefit of long courses.",
        },
      ],
      because: "A wire through the skin is placed under the usual cover.",
      sources: [cite("KRUSCHE13", "C", "used a cephalosporin around the operation")],
    },
  ],
});
