import { CHARACTERS, compose } from "../../src/coding/characters.ts";
import { FACTS, type FactName, type Facts, holds, NOTHING_STATED } from "../../src/coding/facts.ts";
import { CODE_RULES, type CodeRule } from "../../src/coding/injury-rules.ts";
import type { OfficialRow } from "./official-table.ts";

const PLACE = /\{(\w+)\}/g;
const readsOf = (rule: CodeRule): readonly FactName[] => [
  ...new Set([
    ...(Object.keys(rule.when) as FactName[]),
    ...[...rule.code.matchAll(PLACE)].flatMap(([, name]) => CHARACTERS[name as keyof typeof CHARACTERS].reads),
  ]),
];
/** Every combination of the facts that a rule reads: all that can decide its code. "undetermined" is coded like "not-stated". */
export function* casesOf(rule: CodeRule): Generator<Facts> {
  const names = readsOf(rule);
  const fill = function* (at: number, facts: Facts): Generator<Facts> {
    const name = names[at];
    if (name === undefined) {
      if (holds(rule.when, facts)) yield facts;
      return;
    }
    for (const value of FACTS[name].values)
      if (value !== "undetermined") yield* fill(at + 1, { ...facts, [name]: value });
  };
  yield* fill(0, NOTHING_STATED);
}

const DIGIT = {
  thumb: "thumb",
  index: "index finger",
  middle: "middle finger",
  ring: "ring finger",
  little: "little finger",
};
/** Where the description must place the injury. A named finger of unknown side is "other finger" (inclusion terms). */
function where(rule: CodeRule, { digit, side }: Facts): RegExp | undefined {
  const places = rule.code;
  const named = DIGIT[digit as keyof typeof DIGIT];
  const sided = side === "not-stated" ? "unspecified" : side;
  if (places.includes("{finger}")) {
    if (!named) return /\bunspecified finger/;
    return side === "not-stated" ? /\bother finger/ : new RegExp(`\\b${side} ${named}\\b`);
  }
  if (rule.when.digit === "thumb" || places.includes("{bruised}")) return new RegExp(`\\b${sided} ${named}\\b`);
  if (/\{side/.test(places)) return new RegExp(`\\b${sided} (?:hand|finger|upper limb)`);
  if (rule.when.digit === "not-stated") return /\bunspecified finger/;
  return undefined;
}
const ENCOUNTERS: { readonly [letter: string]: RegExp } = {
  A: /, initial encounter(?: for (?:closed )?fracture)?$/,
  B: /, initial encounter for open fracture$/,
  D: /, subsequent encounter(?: for fracture with routine healing)?$/,
  G: /, subsequent encounter for fracture with delayed healing$/,
  K: /, subsequent encounter for fracture with nonunion$/,
  P: /, subsequent encounter for fracture with malunion$/,
  S: /, sequela$/,
};
/** The letter that these facts ask for, said here a second time and in another way than the rules say it. */
function letter(rule: CodeRule, { phase, openness, healing }: Facts): string | undefined {
  if (!/7\}/.test(rule.code)) return undefined;
  if (phase === "sequela") return "S";
  const bone = /fracture7|bone7/.test(rule.code);
  if (phase === "active") return rule.code.includes("fracture7") && openness === "open" ? "B" : "A";
  return bone ? ({ delayed: "G", nonunion: "K", malunion: "P" }[healing as string] ?? "D") : "D";
}
const WOUNDS: { readonly [wound: string]: RegExp } = {
  laceration: /^Laceration without foreign body/,
  "laceration-foreign-body": /^Laceration with foreign body/,
  puncture: /^Puncture wound without foreign body/,
  "puncture-foreign-body": /^Puncture wound with foreign body/,
  bite: /^Open bite/,
  unspecified: /^Unspecified open wound/,
};
const STRUCTURES: { readonly [kind: string]: RegExp } = {
  strain: /^Strain of /,
  laceration: /^Laceration of /,
  other: /^Other (?:specified )?injury of /,
  unspecified: /^Unspecified injury of /,
};
const MATERIAL: { readonly [kind: string]: RegExp } = {
  metal: /^Retained metal fragments, unspecified/,
  "magnetic-metal": /^Retained magnetic metal/,
  "nonmagnetic-metal": /^Retained nonmagnetic metal/,
  plastic: /plastic/,
  wood: /wood/,
  glass: /glass/,
};
/** What the official words must say for these facts. */
function demands(rule: CodeRule, facts: Facts): RegExp[] {
  const all: (RegExp | undefined)[] = [where(rule, facts)];
  const encounter = letter(rule, facts);
  if (encounter) all.push(ENCOUNTERS[encounter]);
  const has = (place: string) => rule.code.includes(`{${place}}`);
  if (has("moved") || has("thumbFracture"))
    all.push(
      facts.displacement === "not-displaced"
        ? /^Nondisplaced fracture of distal phalanx/
        : /^Displaced fracture of distal phalanx/,
    );
  if (/Nail\}/.test(rule.code)) all.push(facts.nail === "damaged" ? /\bwith damage to nail/ : /without damage to nail/);
  if (has("wound")) all.push(WOUNDS[facts.wound]);
  if (has("extensor")) all.push(STRUCTURES[facts.extensorTendon], /extensor muscle/);
  if (has("flexor")) all.push(STRUCTURES[facts.flexorTendon], /flexor muscle/);
  if (has("vessel")) all.push(STRUCTURES[facts.vessel], /blood vessel/);
  if (has("extent")) all.push(facts.amputation === "partial" ? /^Partial/ : /^Complete/, /amputation/);
  if (has("retained")) all.push(MATERIAL[facts.retained]);
  if (has("extent")) all.push(facts.amputationLevel === "through-phalanx" ? /transphalangeal/ : /metacarpophalangeal/);
  const family = FAMILY.find(([start]) => rule.id.startsWith(start))?.[1];
  all.push(family);
  return all.filter((pattern) => pattern !== undefined);
}
const FAMILY: readonly (readonly [string, RegExp])[] = [
  ["CRUSH", /^Crushing injury/],
  ["DISLOCATION", /^Dislocation of (?:distal )?interphalangeal joint/],
  ["BRUISE", /^Contusion/],
  ["NERVE", /^Injury of digital nerve/],
  ["FX-OSTEOPOROSIS-OTHER", /^Other osteoporosis with current pathological fracture/],
  ["FX-OSTEOPOROSIS", /^Age-related osteoporosis with current pathological fracture/],
  ["FX-TUMOUR", /^Pathological fracture in neoplastic disease/],
  ["TUMOUR", /^Benign neoplasm of short bones of/],
  ["FX-DISEASE", /^Pathological fracture/],
  ["FX-STRESS", /^Stress fracture/],
  ["LATE-MALLET", /^Mallet finger/],
  ["LATE-NAIL-OTHER", /^Other nail disorders/],
  ["LATE-NAIL", /^Nail dystrophy/],
  ["LATE-STIFF", /^Stiffness/],
  ["LATE-PHYSIS", /^Physeal arrest/],
  ["WIRE-INFECTION", /^Infection and inflammatory reaction due to internal fixation device of other site/],
  ["INFECTION", /^Cellulitis of/],
  ["BONE-INFECTION", /^Other acute osteomyelitis/],
  ["VACCINE", /^Encounter for immunization/],
];

export interface Checked {
  readonly cases: number;
  readonly codes: ReadonlySet<string>;
  readonly faults: readonly string[];
}
/** Composes every code that any facts can give and holds it against these rows of the official table. */
export function checkAgainst(rows: ReadonlyMap<string, OfficialRow>, rules: readonly CodeRule[] = CODE_RULES): Checked {
  const codes = new Set<string>();
  const faults: string[] = [];
  let cases = 0;
  for (const rule of rules)
    for (const facts of casesOf(rule)) {
      cases++;
      const code = compose(rule.code, facts)?.code;
      if (code === undefined) {
        if (facts.phase !== "not-stated" || !/7\}/.test(rule.code))
          faults.push(`${rule.id}: no code for ${said(rule, facts)}`);
        continue;
      }
      codes.add(code);
      const row = rows.get(code);
      if (row?.[1] !== 1) faults.push(`${rule.id}: ${code} is not billable, for ${said(rule, facts)}`);
      else
        for (const pattern of demands(rule, facts))
          if (!pattern.test(row[2]))
            faults.push(`${rule.id}: ${code} "${row[2]}" does not say ${pattern}, for ${said(rule, facts)}`);
    }
  return { cases, codes, faults };
}
const said = (rule: CodeRule, facts: Facts) =>
  readsOf(rule)
    .map((name) => `${name} ${facts[name]}`)
    .join(", ");
