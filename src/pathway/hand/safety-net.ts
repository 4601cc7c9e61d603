import { type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Row } from "../reasoning/table.ts";
import type { HandTable } from "./hand-table.ts";
import { ADULT_YEARS, DRIVING_AUTHORITY_MONTHS } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";
import type { HandRecord } from "./signs.ts";

/**
 * Advice in plain words for the patient, true for any broken finger tip. The module adds what belongs to its splints and
 * wires. Written for a reading age of about 11.
 */
export const advice = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const adult = { ageYears: from(ADULT_YEARS) };
  const point = (
    id: string,
    when: Row<HandRecord>,
    say: string,
    because: string,
    ...sources: [Citation, ...Citation[]]
  ): HandTable["rules"][number] => ({
    id: `SN-${id}`,
    when,
    then: [{ kind: "advise", point: id, say, redFlag: false }],
    because,
    sources,
  });
  return {
    id: "SN",
    question: "What does the patient take home?",
    answers: "every",
    ordinary: true,
    rules: [
      point(
        "P1",
        {},
        "Keep your hand up on pillows for two to three days.",
        "Less swelling, less pain.",
        cite("ANESKEY", "C"),
        commonPractice,
      ),
      point(
        "P1b",
        // The splint of a torn flexor tendon holds every joint of the finger.
        { fdpLoss: "no" },
        "Move the joints that are not in the splint, starting now.",
        "Less stiffness.",
        cite("ANESKEY", "C"),
        commonPractice,
      ),
      point(
        "P2",
        { woundPresent: "yes" },
        "Keep the dressing clean and dry. Ask us on which day it will be changed. A little blood on the first day is normal.",
        "A wet dressing lets germs in.",
        commonPractice,
      ),
      point(
        "P5",
        {},
        "Take paracetamol first when it hurts, and more only as you were told. The first night is the worst.",
        "Pain is strongest once the numbing wears off.",
        cite("FV-MAL", "C"),
        cite("RCH-PAR", "G"),
      ),
      point(
        "P7",
        {},
        "The tip can be sore, numb or painful in the cold for months. This is expected.",
        "Most people feel the tip for up to half a year.",
        cite("CLINADV", "C"),
        cite("HORWITZ", "C"),
      ),
      point(
        "P9",
        {},
        "Leave rings off this hand until the swelling is gone.",
        "A ring can get stuck and cut off the blood.",
        commonPractice,
      ),
      point(
        "P12",
        { smoker: "yes" },
        "Do not smoke while it heals. Smoking slows down bone and blood flow.",
        "Nicotine narrows the vessels.",
        commonPractice,
        fromMemory,
      ),
      point(
        "P13",
        adult,
        `Drive only when you can grip, steer, change gear and brake hard without pain and without the splint catching, and never on strong painkillers. Tell your insurer.${
          p["hand.jurisdiction"] === "UK"
            ? ` Tell the licence office only if it lasts more than ${DRIVING_AUTHORITY_MONTHS} months or you drive for a living.`
            : ""
        }`,
        "You must be able to control the car.",
        cite("RBH-DRIVE", "C"),
        cite("HOBMAN04", "C", "abstract"),
      ),
      point(
        "P14",
        adult,
        "Tell your employer. If you work with machines, food or need clean hands, agree on what you may do.",
        "A splint or wire does not fit every job.",
        commonPractice,
        cite("RIDDOR", "G"),
      ),
    ],
  };
};

/** Said wherever an antibiotic may be given, also when the ordinary pathway is left: a bite is the usual case. */
export const antibioticAdvice = (_policy: SitePolicy): HandTable => ({
  id: "SN-P10",
  question: "What is the patient told about an antibiotic?",
  answers: "every",
  rules: [
    {
      id: "SN-P10",
      when: { antibioticMayBeGiven: "yes" },
      then: [
        {
          kind: "advise",
          point: "P10",
          say: "If you were given antibiotics, take them to the end. Get help at once for a rash or trouble breathing.",
          redFlag: false,
        },
      ],
      because: "A part course may fail; an allergy needs help.",
      sources: [commonPractice],
    },
  ],
});

/** Said of every wound, also when the ordinary pathway is left: a bite is decided by the same tetanus table. */
export const tetanusAdvice = (_policy: SitePolicy): HandTable => ({
  id: "SN-P11",
  question: "What is the patient told about tetanus?",
  answers: "every",
  rules: [
    {
      id: "SN-P11",
      when: { woundPresent: "yes" },
      then: [
        {
          kind: "advise",
          point: "P11",
          say: "Bring your vaccination card. If a tetanus course was started, get the next shots on time.",
          redFlag: false,
        },
      ],
      because: "One shot does not finish the course.",
      sources: [cite("GB30", "G")],
    },
  ],
});

/** Reasons to come back the same day. They stay even when the ordinary pathway is left. */
export const redFlags = (_policy: SitePolicy): HandTable => {
  const flag = (
    number: number,
    id: string,
    when: Row<HandRecord>,
    say: string,
    because: string,
    ...sources: [Citation, ...Citation[]]
  ): HandTable["rules"][number] => ({
    id: `SN-R${number}`,
    when,
    then: [{ kind: "advise", point: id, say, redFlag: true }],
    because,
    sources,
  });
  return {
    id: "SN-R",
    question: "When must the patient come back the same day?",
    answers: "every",
    rules: [
      flag(
        1,
        "circulation",
        {},
        "The tip turns white or blue or feels cold, or it stays numb after the numbing has worn off.",
        "The blood or the nerve is in trouble.",
        cite("RCH-PAR", "G"),
        commonPractice,
      ),
      flag(
        2,
        "pain",
        {},
        "Throbbing pain that gets worse after the second day.",
        "Pain should fade; growing pain can be infection.",
        cite("RCH-PAR", "G"),
        commonPractice,
      ),
      flag(
        3,
        "infection",
        {},
        "Redness that spreads, a red streak, pus, a bad smell or fever.",
        "These are signs of infection.",
        cite("RCH-PAR", "G"),
      ),
      flag(
        4,
        "sheath",
        {},
        "The finger swells up like a sausage, stays bent and hurts when you straighten it.",
        "Infection may be spreading along the tendon.",
        commonPractice,
        fromMemory,
      ),
      flag(
        5,
        "splint",
        {},
        "The splint is too tight, wet, broken or lost.",
        "A bad splint harms or does nothing.",
        commonPractice,
      ),
      flag(
        6,
        "movement",
        {},
        "You suddenly cannot bend or straighten the tip, or you hurt it again.",
        "A tendon or the bone may have given way.",
        commonPractice,
      ),
      flag(
        7,
        "child-nail",
        { child: "yes" },
        "Your child's nail lifts at its root, or the tip of the finger droops.",
        "The growing end of the bone may be broken and open.",
        cite("REYES17", "C"),
        commonPractice,
      ),
      flag(
        8,
        "bleeding",
        { woundPresent: "yes" },
        "Blood soaks the dressing even after you have pressed on it for 10 minutes.",
        "Bleeding should stop with pressure.",
        commonPractice,
      ),
    ],
  };
};
