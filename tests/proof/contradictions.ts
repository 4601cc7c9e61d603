/** Pairs of things that no patient may be told together. Each side is a choice of effects; both sides may be the same choice. */
import type { Effect, Joint } from "../../src/pathway/hand/effects.ts";
import type { Space } from "./space.ts";
import { type Flaw, never, type ProvenRule } from "./space.ts";

export interface ForbiddenPair {
  readonly name: string;
  /** Whether these two effects of two different rules may not be said to the same patient. Asked once in each order. */
  readonly clash: (one: Effect, other: Effect) => boolean;
}
type Of<K extends Effect["kind"]> = Extract<Effect, { kind: K }>;
const pair = <A extends Effect["kind"], B extends Effect["kind"]>(
  name: string,
  kinds: readonly [A, B],
  clash: (one: Of<A>, other: Of<B>) => boolean,
): ForbiddenPair => ({
  name,
  clash: (one, other) => one.kind === kinds[0] && other.kind === kinds[1] && clash(one as Of<A>, other as Of<B>),
});
const classes = (name: string, one: RegExp, other: RegExp) =>
  pair(name, ["class", "class"], (a, b) => one.test(a.class) && other.test(b.class));
const shares = (some: readonly Joint[], others: readonly Joint[]) => some.some((joint) => others.includes(joint));
/** Lines that show the patient home or to routine care without an operation. */
const CONSERVATIVE = ["non-operative"];

export const FORBIDDEN: readonly ForbiddenPair[] = [
  pair("a joint is held still and left free", ["splint", "splint"], (a, b) => shares(a.splint.joints, b.splint.free)),
  pair(
    "the tip is held straight and kept from straightening",
    ["splint", "splint"],
    (a, b) =>
      /straight/i.test(a.splint.position) &&
      !/must not/i.test(a.splint.position) &&
      /must not straighten/i.test(b.splint.position),
  ),
  pair(
    "no operation and an operation",
    ["manage", "manage"],
    (a, b) => CONSERVATIVE.includes(a.call) && b.call === "operative",
  ),
  pair(
    "no operation and a referral for one",
    ["manage", "manage"],
    (a, b) => CONSERVATIVE.includes(a.call) && b.call === "must-refer",
  ),
  pair("two different antibiotic decisions", ["antibiotic", "antibiotic"], (a, b) => a.decision !== b.decision),
  pair(
    "an antibiotic is chosen that another line says to avoid",
    ["antibiotic-class", "antibiotic-class"],
    (a, b) =>
      b.avoid !== undefined &&
      (/penicillin/.test(b.avoid) ? /penicillin|clav/i.test(a.choose) : a.choose.includes(b.avoid)),
  ),
  pair("no antibiotic and a drug for it", ["antibiotic", "antibiotic-class"], (a) => a.decision === "no"),
  pair("tetanus vaccine due and not due", ["tetanus", "tetanus"], (a, b) => a.vaccine && !b.vaccine),
  pair(
    "tetanus immunoglobulin due and not due",
    ["tetanus", "tetanus"],
    (a, b) => a.immunoglobulin && !b.immunoglobulin,
  ),
  pair("epinephrine allowed and not allowed", ["epinephrine", "epinephrine"], (a, b) => a.allow && !b.allow),
  classes(
    "no fracture and a fracture",
    /^NO-FRACTURE-SEEN$/,
    /^(?!NO-FRACTURE-SEEN$|DOYLE|WEHBE|LEDDY|AO-|DORSAL-SUB)/,
  ),
  classes("a bony and a tendinous mallet", /^MALLET$/, /^TENDINOUS-MALLET$/),
  classes("an open and a closed growth plate fracture", /^SEYMOUR$/, /^SEYMOUR-PATTERN-CLOSED$|^PHYSEAL-CLOSED$/),
  classes("an adult's and a child's class of the base", /^MALLET$|^BASE-X$/, /^SEYMOUR|^PHYSEAL|^MALLET-EQUIVALENT/),
  classes("one shaft, displaced and not", /^SHAFT-T0$/, /^SHAFT-T1$/),
  classes("one tuft, in one line and in pieces", /^TUFT-S$/, /^TUFT-C$/),
  // IVA names the open growth plate, II and III the open joint: a child can have both, and then both rows of the published table hold.
  pair(
    "two Doyle types",
    ["class", "class"],
    (a, b) =>
      [a, b].every((e) => /^DOYLE-/.test(e.class)) &&
      a.class !== b.class &&
      b.class !== "DOYLE-IVA" &&
      a.class !== "DOYLE-IVA",
  ),
  classes("Doyle IVA and a type of the grown-up bone", /^DOYLE-IVA$/, /^DOYLE-(I|IVB|IVC)(-|$)/),
  classes("two Wehbé-Schneider types", /^WEHBE-/, /^WEHBE-/),
  classes("two Leddy-Packer types", /^LEDDY-/, /^LEDDY-/),
  pair(
    "a visit that is over before it begins, or whose best day lies outside it",
    ["visit", "visit"],
    (a) => a.visit.earliest > a.visit.ideal || a.visit.ideal > a.visit.latest,
  ),
];

/** A drug class against an allergy: rows that must never be heard together with such a choice. */
const ALLERGY: readonly {
  readonly name: string;
  readonly when: Readonly<Record<string, unknown>>;
  readonly drug: RegExp;
}[] = [
  {
    name: "a penicillin for a penicillin allergy",
    when: { penicillinAllergy: ["low-risk", "severe"] },
    drug: /penicillin|clav/i,
  },
  {
    name: "a cephalosporin for a severe penicillin allergy",
    when: { penicillinAllergy: "severe" },
    drug: /cephalosporin|cefa/i,
  },
  {
    name: "doxycycline in pregnancy or breast-feeding",
    when: { pregnant: ["yes", "breast-feeding"] },
    drug: /doxycycline/i,
  },
];

/** Each forbidden pair that two rules can be heard to say of one complete record. Exits that silence a table are counted. */
export function contradictions(space: Space, pairs: readonly ForbiddenPair[] = FORBIDDEN): Flaw[] {
  const { diagrams } = space.statements;
  const flaws: Flaw[] = [];
  const speaking = space.rules.filter((r) => !r.table.checks);
  const clashes = (a: ProvenRule, b: ProvenRule, { clash }: ForbiddenPair) =>
    a.effects.some((x) => b.effects.some((y) => (x !== y || a !== b) && clash(x, y)));
  for (const forbidden of pairs)
    for (const a of speaking)
      for (const b of speaking)
        if (clashes(a, b, forbidden))
          flaws.push(
            ...never(space, diagrams.and(a.heard, b.heard), `${forbidden.name}: ${a.rule.id} with ${b.rule.id}`),
          );
  for (const { name, when, drug } of ALLERGY)
    for (const r of speaking)
      if (r.effects.some((e) => e.kind === "antibiotic-class" && drug.test(e.choose)))
        flaws.push(...never(space, diagrams.and(r.heard, space.statements.row(when)), `${name}: ${r.rule.id}`));
  return flaws;
}
