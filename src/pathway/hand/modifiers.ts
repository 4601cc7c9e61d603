import { cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { Effect } from "./effects.ts";
import type { HandTable } from "./hand-table.ts";
import { FETAL_DOSE_MGY } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";
import { BONE_LOST } from "./signs.ts";

const warn = (say: string): Effect => ({ kind: "warn", say });
const task = (say: string): Effect => ({ kind: "task", say });

/** What the patient's other conditions and life add. They warn and bring checks forward; they never put one back. */
export const modifiers = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const first = p["hand.earlyWoundCheckFromDay"];
  const last = p["hand.earlyWoundCheckToDay"];
  const earlyCheck: Effect = {
    kind: "visit",
    visit: {
      purpose: "wound-check",
      who: "emergency department or general practice",
      earliest: first,
      ideal: first,
      latest: last,
      check: `Early wound check on day ${first}-${last}: infection, healing`,
    },
  };
  const poorTip: Effect = {
    kind: "urgency",
    urgency: "NOW",
    say: "The tip was poorly supplied and its vessels are diseased: phone the hand surgeon now, even if it has recovered; nobody is sent home before that.",
  };
  return {
    id: "MOD",
    question: "What do other conditions add?",
    answers: "every",
    rules: [
      {
        id: "MOD-1",
        when: { diabetes: "yes" },
        then: [warn("Diabetes: healing may be slow; watch blood sugar.")],
        because: "Diabetes slows healing and turns tip infections into bone infections.",
        sources: [cite("ALA-ACEP", "C", "felon with bone infection in a patient with diabetes"), commonPractice],
      },
      {
        id: "MOD-2",
        when: { diabetes: "yes", woundPresent: "yes" },
        then: [earlyCheck],
        because: "The trials that did without antibiotics left out people with diabetes, so the wound is seen early.",
        sources: [cite("STEV03", "A", "excluded them"), commonPractice],
      },
      {
        id: "MOD-3",
        when: { immuneCompromise: "yes" },
        then: [
          warn("Weak immune system: infection may show late and little; open a nail with a sterile needle, no flame."),
        ],
        because: "Defence against infection is weak.",
        sources: [cite("OBGYN-NT", "C"), commonPractice],
      },
      {
        id: "MOD-4",
        when: { immuneCompromise: "yes", woundPresent: "yes" },
        then: [earlyCheck],
        because: "Infection is looked for early where it shows little.",
        sources: [commonPractice],
      },
      {
        id: "MOD-5",
        when: { arterialDisease: "yes" },
        then: [
          warn(
            "Arterial disease: no epinephrine in the finger, no ice on the skin, watch the pulp; phone the hand surgeon at the first sign of a poor tip.",
          ),
        ],
        because: "The tip has little blood to spare.",
        sources: [cite("RAYN22", "C", "abstract"), commonPractice],
      },
      {
        id: "MOD-21",
        when: { arterialDisease: "yes", woundPresent: "yes" },
        then: [earlyCheck],
        because:
          "The trials that did without antibiotics left out people with diseased arteries, so the wound is seen early.",
        sources: [commonPractice, cite("STEV03", "A", "excluded them"), cite("ALT08", "A", "excluded them")],
      },
      {
        id: "MOD-6",
        when: { vasospasm: "yes" },
        then: [
          warn(
            "Raynaud or scleroderma: no epinephrine in the finger, no ice on the skin, keep it warm; phone the hand surgeon at the first sign of a poor tip.",
          ),
        ],
        because: "Fingers with vessel spasm have been lost after epinephrine.",
        sources: [cite("RAYN22", "C", "abstract")],
      },
      {
        id: "MOD-19",
        when: { poorPerfusion: "yes", vasospasm: "yes" },
        then: [poorTip],
        because:
          "A tip that was poor once, in fingers whose vessels close, may be poor again within hours; the threshold for a call at once is low here.",
        sources: [cite("RAYN22", "C", "abstract"), commonPractice],
      },
      {
        id: "MOD-20",
        when: { poorPerfusion: "yes", arterialDisease: "yes" },
        then: [poorTip],
        because:
          "A tip that was poor once and has no blood to spare may be poor again within hours; the threshold for a call at once is low here.",
        sources: [commonPractice],
      },
      {
        id: "MOD-7",
        when: { bleedingTendency: "yes" },
        then: [
          warn(
            "Anticoagulant or bleeding disorder: go on with the medicine for a small injury, press longer; check INR if on warfarin.",
          ),
        ],
        because: "Stopping the medicine is the greater risk.",
        sources: [commonPractice, cite("ACI-DB", "C")],
      },
      {
        id: "MOD-8",
        when: { smoker: "yes" },
        then: [warn("Smoking: bone and skin heal more slowly, and the tip stays sore in the cold for longer.")],
        because: "Nicotine narrows the vessels of the tip.",
        sources: [commonPractice, fromMemory],
      },
      {
        id: "MOD-9",
        when: { pregnant: "yes" },
        then: [
          warn(
            `Pregnancy: take the film, the dose to the fetus from a hand film is negligible (far below ${FETAL_DOSE_MGY} mGy). A lead apron is no longer advised by US bodies since 2019-2021; follow local policy. No anti-inflammatory painkillers in the third trimester, no doxycycline.`,
          ),
        ],
        because: "A hand film is far from the womb; some drugs are not harmless.",
        sources: [fromMemory],
      },
      {
        id: "MOD-10",
        when: { liverOrHeartDisease: "yes" },
        then: [
          warn(
            "Liver, kidney or heart disease: check each dose, ask a pharmacist; anti-inflammatory painkillers may harm.",
          ),
        ],
        because: "Many drugs are cleared more slowly.",
        sources: [fromMemory],
      },
      {
        id: "MOD-18",
        when: { pregnant: "breast-feeding" },
        then: [warn("Breast-feeding: check each drug and dose, ask a pharmacist.")],
        because: "Some drugs pass into the milk.",
        sources: [fromMemory],
      },
      {
        id: "MOD-11",
        when: { penicillinAllergy: ["low-risk", "severe"], woundPresent: "yes" },
        then: [warn("Penicillin allergy: ask for the reaction and how bad it was.")],
        because: "Up to 95 % of such labels are no true allergy, and the rest decide the drug.",
        sources: [cite("SARFANI22", "C", "abstract")],
      },
      {
        id: "MOD-12",
        when: { metalAllergy: "yes" },
        then: [warn("Metal allergy: tell the surgeon before a steel wire is used; pad metal splints.")],
        because: "The wire is steel; titanium or a needle is the surgeon's choice.",
        sources: [commonPractice, fromMemory],
      },
      {
        id: "MOD-13",
        when: { latexOrAdhesiveAllergy: "yes" },
        then: [warn("Latex or adhesive allergy: tourniquet without latex, another tape.")],
        because: "Tourniquet, gloves and tape touch the skin.",
        sources: [commonPractice],
      },
      {
        id: "MOD-14",
        when: { cannotKeepSplint: "yes" },
        then: [
          warn("May not be able to keep a splint on: simple splint, involve a carer, dress the wound at home."),
          task("Arrange help at home for splint and dressing."),
        ],
        because: "A splint that comes off does not treat.",
        sources: [commonPractice],
      },
      {
        id: "MOD-15",
        when: { handDependentWork: "yes" },
        then: [
          warn(
            "Work or sport depends on fine hand use or clean hands: lower threshold for a specialist opinion, agree how the splint fits the work.",
          ),
        ],
        because: "A small loss of motion costs more here.",
        sources: [commonPractice],
      },
      {
        id: "MOD-16",
        when: { dominantPinchDigit: "yes" },
        then: [warn("Thumb or index finger of the leading hand: lower threshold for a specialist opinion.")],
        because: "These digits carry the pinch grip.",
        sources: [commonPractice],
      },
      {
        id: "MOD-17",
        when: { safeguardingConcern: "yes" },
        then: [
          task("Consider a safeguarding discussion with a senior, by local procedure, before the patient leaves."),
        ],
        because:
          "A history that is missing, changes or does not fit, several injuries or late care is a reason to talk, no accusation.",
        sources: [cite("AAP-NAT", "G"), cite("NG184", "G", "1.1.1, bites")],
      },
      {
        id: "MOD-17b",
        when: { child: "yes", mechanism: ["human-bite", "burn-or-frostbite"] },
        then: [
          task(
            "Human bite or burn in a child: ask who bit or how it burned, and consider a safeguarding discussion with a senior, by local procedure.",
          ),
        ],
        because: "The bite of an adult and a burn are among the marks that ask for a second look, no accusation.",
        sources: [cite("AAP-NAT", "G"), cite("NG184", "G", "1.1.1, bites"), commonPractice],
      },
      ...workReporting(p["hand.jurisdiction"]),
    ],
  };
};

function workReporting(jurisdiction: "US" | "UK" | "AU"): HandTable["rules"] {
  // In the US a fingertip counts as amputated with or without bone; a small loss grows back.
  const lost = ["pulp-large", ...BONE_LOST] as const;
  const kept = ["none", "pulp-small"] as const;
  if (jurisdiction === "UK")
    return [
      {
        id: "MOD-W1",
        when: { workRelated: "yes", tissueLoss: ["none", "pulp-small", "pulp-large", "bone-exposed"] },
        then: [
          task(
            "Injury at work: write down the circumstances. The employer reports it if routine work is missed for more than 7 days in a row (within 15 days); a broken finger alone is not on the list.",
          ),
        ],
        because: "The regulations name amputation of a finger or thumb, not its fracture.",
        sources: [cite("RIDDOR", "G", "regulation 4")],
      },
      {
        id: "MOD-W2",
        when: { workRelated: "yes", amputation: "yes" },
        then: [task("Injury at work with amputation: the employer has to report it. Write down what was lost.")],
        because: "Amputation of a finger or thumb is on the list of the regulations.",
        sources: [cite("RIDDOR", "G", "regulation 4")],
      },
    ];
  if (jurisdiction === "US")
    return [
      {
        id: "MOD-W3",
        when: { workRelated: "yes", tissueLoss: kept },
        then: [
          task("Injury at work: write down the circumstances and whether bone was lost, for the employer's record."),
        ],
        because: "The employer keeps the record and needs the clinical facts.",
        sources: [cite("OSHA39", "G")],
      },
      {
        id: "MOD-W6",
        when: { workRelated: "yes", tissueLoss: kept, boneBroken: "yes" },
        then: [task("A fracture at work is normally recordable by the employer.")],
        because: "The record of work injuries takes in more than what is reported at once.",
        sources: [cite("OSHA39", "G")],
      },
      {
        id: "MOD-W4",
        when: { workRelated: "yes", tissueLoss: lost },
        then: [
          task(
            "Injury at work with tip loss: write down whether bone was lost. The employer reports an amputation, fingertip included, with or without bone, within 24 hours; flesh or nail that grows back is none.",
          ),
        ],
        because: "Amputation, with or without bone, is reported fast.",
        sources: [cite("OSHA39", "G")],
      },
    ];
  return [
    {
      id: "MOD-W5",
      when: { workRelated: "yes" },
      then: [task("Injury at work: write down the circumstances; the employer reports by local law.")],
      because: "The rules of this jurisdiction are not in this knowledge.",
      sources: [commonPractice],
    },
  ];
}
