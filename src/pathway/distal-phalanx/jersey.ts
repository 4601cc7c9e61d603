import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { daysInHours } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table, under } from "../reasoning/table.ts";
import { manage, named, task, today, warn } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, MISSED_DAYS } from "./signs.ts";

const type = (name: string, definition: string) => ({
  name: `Leddy-Packer ${name}`,
  definition,
  scheme: "Leddy and Packer",
});
/** Published types, each with what it stands for (RADREF-LP, CH35; own words). */
export const JERSEY_NAMES = {
  "LEDDY-I": type("I", "Tendon off without bone, drawn back to the palm; both vincula torn"),
  "LEDDY-I-OR-II": type("I or II", "Tendon off without a large fragment, level not known; treated as type I"),
  "LEDDY-II": type("II", "Tendon drawn back to the middle joint, perhaps with a flake; long vinculum intact"),
  "LEDDY-III": type(
    "III, provisional (IV not excluded)",
    "Large fragment caught at the A4 pulley or end joint; both vincula intact",
  ),
  "LEDDY-IV": type("IV", "Large fragment, and the tendon torn off it, often back in the palm"),
  "LEDDY-VA": type("Va", "Bony avulsion with a fracture of the rest of the phalanx outside the joint"),
  "LEDDY-VB": type("Vb", "Bony avulsion with a fracture of the rest of the phalanx into the joint"),
} as const;
const is = (name: keyof typeof JERSEY_NAMES) => [named(name)];
const LP = [cite("RADREF-LP", "C")] as const;
const TYPE_V = [
  ...LP,
  cite("VIENNA24", "B", "23 of 44 by a direct blow, not a pulled grip"),
  against("VIENNA24", "B", "its place in this scheme is questioned"),
  against("CH35", "C", "words type V as comminution"),
] as const;
const whole = { jersey: "yes", restOfPhalanx: "intact" } as const;

/** Published type of a flexor tendon avulsion. */
export const jerseyNameTable = (): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "jersey-names",
    question: "Which type of Leddy and Packer is this?",
    answers: "every",
    rules: [
      {
        id: "LPN-1",
        when: { ...whole, volarFragmentAt: "none", tendonEndAt: "palm" },
        then: is("LEDDY-I"),
        because: "No fragment, tendon end in the palm.",
        sources: [...LP, cite("CH35", "C")],
      },
      {
        id: "LPN-2",
        when: { ...whole, volarFragmentAt: "palm" },
        then: is("LEDDY-I"),
        because: "The fragment lies in the palm with the tendon.",
        sources: [...LP, commonPractice],
      },
      {
        id: "LPN-3",
        when: { ...whole, volarFragmentAt: "none", tendonEndAt: ["not-located", "dip-or-a4"] },
        then: is("LEDDY-I-OR-II"),
        because: "No fragment and no proof of the level.",
        sources: LP,
      },
      {
        id: "LPN-4",
        when: { ...whole, volarFragmentAt: "none", tendonEndAt: "pip" },
        then: is("LEDDY-II"),
        because: "Tendon end at the middle joint.",
        sources: [...LP, cite("CH35", "C")],
      },
      {
        id: "LPN-5",
        when: { ...whole, volarFragmentAt: "pip" },
        then: is("LEDDY-II"),
        because: "Small flake at the middle joint.",
        sources: [...LP, cite("CH35", "C")],
      },
      {
        id: "LPN-6",
        when: { ...whole, volarFragmentAt: "dip-or-a4", tendonEndAt: ["not-located", "dip-or-a4"] },
        then: is("LEDDY-III"),
        because: "Large fragment caught at the joint; the tendon may still be off it.",
        sources: [...LP, cite("TEACHME", "C")],
      },
      {
        id: "LPN-7",
        when: { ...whole, volarFragmentAt: "dip-or-a4", tendonEndAt: ["pip", "palm"] },
        then: is("LEDDY-IV"),
        because: "Fragment at the joint, tendon torn off it and retracted.",
        sources: [
          ...LP,
          cite("TEACHME", "C", "also called IIIb"),
          against("CH35", "C", "words type IV as avulsion with phalanx fracture"),
        ],
      },
      {
        id: "LPN-8",
        when: { jersey: "yes", restOfPhalanx: "extra-articular-fracture" },
        then: is("LEDDY-VA"),
        because: "Avulsion with an extra-articular fracture of the phalanx.",
        sources: TYPE_V,
      },
      {
        id: "LPN-9",
        when: { jersey: "yes", restOfPhalanx: "intra-articular-fracture" },
        then: is("LEDDY-VB"),
        because: "Avulsion with a fracture into the joint.",
        sources: TYPE_V,
      },
    ],
  });

/** A deadline that counts from the injury. */
const byDay = (dueDay: number, say: string): Effect => ({ kind: "task", say, dueDay });

/** One textbook repairs types IV and V within 12 weeks (CH35). */
const TWELVE_WEEKS = 84;

/** Avulsion of the deep flexor: nearly always an operation, and the clock runs from the injury. */
export const jerseyTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const day = p["distalPhalanx.jersey.repairDays"];
  const late = p["distalPhalanx.jersey.largeFragmentDays"];
  const inWindow = { hoursSinceInjury: under(daysInHours(day)) } as const;
  const notMissed = { hoursSinceInjury: under(daysInHours(MISSED_DAYS)) } as const;
  const afterWindow = { hoursSinceInjury: from(daysInHours(day), daysInHours(MISSED_DAYS)) } as const;
  /** Large fragment at the joint, the tendon still on it as far as anybody knows. */
  const three = {
    jerseyAlone: "yes",
    volarFragmentAt: "dip-or-a4",
    tendonEndAt: ["not-located", "dip-or-a4"],
  } as const;
  const five = {
    jersey: "yes",
    jerseyAlone: "no",
    restOfPhalanx: ["extra-articular-fracture", "intra-articular-fracture"],
  } as const;
  const noDay = { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." } as const;
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "jersey",
    question: "How is this flexor tendon avulsion treated?",
    answers: "every",
    rules: [
      {
        id: "JER-1",
        when: { jerseyAlone: "yes", ...notMissed },
        assume: noDay,
        then: [
          manage(
            "operative",
            "Tendon put back (bone anchor or pull-out suture), a large fragment by screw, plate or wire, unless the patient declines or is unfit.",
          ),
          today("referral", "Phone the hand surgeon today or next working day; do not let the finger straighten."),
        ],
        because: "The tendon does not grow back to the bone by itself.",
        sources: [cite("AAFP22", "C"), cite("CH35", "C"), cite("SCHN88", "C"), cite("BEDI", "C", "wire 6 weeks")],
      },
      {
        id: "JER-2",
        when: { jerseyAlone: "yes", ...inWindow },
        assume: noDay,
        then: [byDay(day, `Repair by day ${day} after the injury.`)],
        because: "A retracted tendon loses its blood supply and shortens; film does not tell which one is retracted.",
        sources: [
          cite("RADREF-LP", "C"),
          cite("QA-JERSEY", "C"),
          cite("CH35", "C"),
          against("RADREF-LP", "C", "type II: several weeks"),
          against("QA-JERSEY", "C", "type II: 3 to 6 weeks; type III: delayed repair can succeed"),
          against("CH35", "C", "type III: 8 to 12 weeks; type IV: within 12 weeks"),
        ],
      },
      {
        id: "JER-3",
        when: three,
        assume: { column: "tendonEndAt", say: "Tendon end not looked for yet." },
        then: [
          warn("Type IV (tendon off the fragment) is not excluded by film: ultrasound or exploration."),
          warn("No closed reduction."),
        ],
        because: "The film misled about the tendon level in 6 of 12.",
        sources: [
          cite("TRUMBLE92", "C"),
          cite("BACH17", "C", "ultrasound"),
          cite("QA-JERSEY", "C", "no closed reduction"),
        ],
      },
      {
        id: "JER-8",
        when: { ...three, ...inWindow },
        then: [byDay(late, `If day ${day} cannot be kept: day ${late} is the cautious limit for a type III.`)],
        because: "Day 10 holds because type IV, with the shorter clock, is not excluded.",
        sources: [
          cite("RADREF-LP", "C"),
          commonPractice,
          against("CH35", "C", "type III: 8 to 12 weeks"),
          against("QA-JERSEY", "C", "delayed repair can succeed"),
        ],
      },
      {
        id: "JER-9",
        when: {
          ...three,
          hoursSinceInjury: from(daysInHours(day), daysInHours(late)),
        },
        then: [
          byDay(
            late,
            `Day ${day} has passed: repair before day ${late} after the injury, the cautious limit for a type III.`,
          ),
        ],
        because: "A fragment held at the joint keeps the tendon long for a while.",
        sources: [commonPractice, cite("RADREF-LP", "C", "several weeks"), against("CH35", "C", "8 to 12 weeks")],
      },
      {
        id: "JER-10",
        when: { ...three, hoursSinceInjury: from(daysInHours(late), daysInHours(MISSED_DAYS)) },
        then: [
          task(`Day ${late} has passed: ask the hand surgeon now whether tendon and fragment can still be put back.`),
        ],
        because: "Delayed repair of a large fragment can still succeed.",
        sources: [
          commonPractice,
          cite("QA-JERSEY", "C", "delayed repair can succeed"),
          cite("CH35", "C", "8 to 12 weeks"),
        ],
      },
      {
        id: "JER-11",
        when: { jerseyAlone: "yes", volarFragmentAt: ["none", "pip", "palm"], ...afterWindow },
        then: [task(`Day ${day} has passed: ask the hand surgeon now whether the tendon can still be put back.`)],
        because:
          "A retracted tendon may not reach the bone any more; one caught at the middle joint sometimes still does.",
        sources: [cite("RADREF-LP", "C"), cite("QA-JERSEY", "C", "type II: 3 to 6 weeks"), cite("CH35", "C")],
      },
      {
        id: "JER-13",
        when: { jerseyAlone: "yes", volarFragmentAt: "dip-or-a4", tendonEndAt: ["pip", "palm"], ...afterWindow },
        then: [task(`Day ${day} has passed: ask the hand surgeon now; bone first, then the tendon that came off it.`)],
        because: "A type IV keeps the clock of a retracted tendon.",
        sources: [cite("RADREF-LP", "C", "as types I and II"), against("CH35", "C", "type IV: within 12 weeks")],
      },
      {
        id: "JER-12",
        when: { jerseySuspected: "yes" },
        then: [
          today("imaging", "Ultrasound: is the deep flexor tendon whole, partly torn, or off the bone?"),
          manage(
            "discuss",
            "Partial or complete avulsion of the deep flexor suspected: discuss with the hand surgeon.",
          ),
          warn("Do not let the finger straighten against resistance until the tendon is cleared."),
        ],
        because:
          "A grip pulled open is how the deep flexor tears off, a broken base may carry it, and the film does not show the tendon.",
        sources: [cite("BACH17", "C", "mechanism, ultrasound"), cite("TRUMBLE92", "C"), commonPractice],
      },
      {
        id: "JER-4",
        when: { jerseyAlone: "yes", volarFragmentAt: "none", tendonEndAt: ["not-located", "dip-or-a4"] },
        then: [warn("Level unknown: treat as type I, the shortest clock, until felt or seen by ultrasound.")],
        because: "A tendon in the palm has lost both vincula.",
        sources: [cite("RADREF-LP", "C"), cite("TRUMBLE92", "C"), cite("BACH17", "C")],
      },
      {
        id: "JER-5",
        when: { ...five, jointDisplaced: "no" },
        then: [manage("options", "Type V, hardly displaced: splint or operation, surgeon decides.")],
        because: "31 of 44 such injuries did well without an operation.",
        sources: [cite("VIENNA24", "B"), against("AAFP22", "C", "operate on every flexor avulsion")],
      },
      {
        id: "JER-6",
        when: { ...five, jointDisplaced: "yes", ...notMissed },
        assume: noDay,
        then: [
          manage(
            "operative",
            "Type V, displaced: joint first (plate, screw or wire), then tendon; warn of a poor result.",
          ),
        ],
        because: "5 of 6 operated type V injuries ended poorly.",
        sources: [cite("VIENNA24", "B"), cite("CH35", "C")],
      },
      {
        id: "JER-14",
        when: { ...five, jointDisplaced: "yes", hoursSinceInjury: under(daysInHours(TWELVE_WEEKS)) },
        assume: noDay,
        then: [byDay(TWELVE_WEEKS, "Type V, displaced: operation planned by the film; one text: within 12 weeks.")],
        because: "Here the joint sets the time, not the tendon.",
        sources: [cite("CH35", "C", "within 12 weeks"), cite("VIENNA24", "B")],
      },
      {
        id: "JER-7",
        when: { jersey: "yes", hoursSinceInjury: from(daysInHours(MISSED_DAYS)) },
        then: [manage("options", "Missed over 3 months: leave it, fuse the joint, or staged graft.")],
        because: "The tendon bed is scarred.",
        sources: [commonPractice, cite("DRBABA", "C")],
      },
    ],
  });
};
