/** Faults of every kind that the proof is there to find, planted in the shipped rules one at a time. */
import type { Effect } from "../../src/pathway/hand/effects.ts";
import type { Pathway } from "../../src/pathway/index.ts";
import type { EffectTable } from "../../src/pathway/module.ts";
import { type Column, encode } from "../../src/pathway/reasoning/columns.ts";
import type { AnyRule, AnySign, Facts } from "../../src/pathway/reasoning/program.ts";
import { from, type Row, type Span } from "../../src/pathway/reasoning/table.ts";
import { contradictions } from "./contradictions.ts";
import { probeCuts } from "./evaluator.ts";
import { changed, type Flaw, type Space, spaceOf } from "./space.ts";
import {
  everyRecordPlaced,
  exactlyOne,
  guards,
  nothingRoutineIsOperated,
  redFlagsNeverCalm,
  silentRules,
} from "./whole-space.ts";

export interface PlantedFault {
  readonly kind:
    | "gap"
    | "overlap"
    | "contradiction"
    | "broken monotonicity"
    | "swapped thresholds"
    | "guard"
    | "dead rule"
    | "limit on the wrong side";
  readonly what: string;
  /** The check that must find it, run on the rules with the fault in them. */
  readonly found: (pathway: Pathway) => readonly Flaw[];
}
type AnyRow = Readonly<Record<string, unknown>>;

/** The rule with this id changed, or taken out. @throws Error when there is no such rule: the fault would then be no fault. */
function rule(pathway: Pathway, id: string, change: (rule: AnyRule) => AnyRule | undefined): Space {
  if (!pathway.tables.some((t) => t.rules.some((r) => r.id === id))) throw new Error(`no rule ${id} to spoil`);
  const spoilt = (t: EffectTable): EffectTable => ({
    ...t,
    rules: (t.rules as readonly AnyRule[]).flatMap((r) => (r.id === id ? (change(r) ?? []) : r)),
  });
  return changed(pathway, { tables: (tables) => tables.map(spoilt) });
}
/** The rule with other cells; `undefined` takes a cell away. */
const cells = (pathway: Pathway, id: string, other: AnyRow): Space =>
  rule(pathway, id, (r) => ({ ...r, when: put(r.when as AnyRow, other) as Row<never> }));
const effects = (pathway: Pathway, id: string, change: (e: Effect) => Effect): Space =>
  rule(pathway, id, (r) => ({ ...r, then: (r.then as readonly Effect[]).map(change) }));
const without = (pathway: Pathway, id: string): Space => rule(pathway, id, () => undefined);
function sign(pathway: Pathway, name: string, change: (rows: readonly AnyRow[]) => readonly AnyRow[]): Space {
  if (!pathway.signs.some((s) => s.name === name)) throw new Error(`no sign ${name} to spoil`);
  const spoilt = (s: AnySign): AnySign =>
    s.name === name ? { ...s, any: change(s.any as readonly AnyRow[]) as readonly Row<never>[] } : s;
  return changed(pathway, { signs: (signs) => signs.map(spoilt) });
}
const put = (row: AnyRow, other: AnyRow): AnyRow =>
  Object.fromEntries(Object.entries({ ...row, ...other }).filter(([, cell]) => cell !== undefined));
const lastDose = (limit: number) => ({ tetanusYearsSinceLast: from(limit) });
/** Counts a lower limit out and an upper limit in. */
const wrongSide = (column: Column, value: Facts[string]) =>
  encode(column, typeof value === "number" && column.cuts.includes(value) ? value - 1e-9 : value);
const silent = (space: Space): Flaw[] =>
  silentRules(space).map((id) => ({ what: `${id} is never heard`, witness: {} }));

export const PLANTED: readonly PlantedFault[] = [
  { kind: "gap", what: "no row for a clean wound of a healthy person", found: (p) => exactlyOne(without(p, "AB2")) },
  {
    kind: "gap",
    what: "no row for a dirty wound last vaccinated long ago",
    found: (p) => exactlyOne(without(p, "TET-US-8")),
  },
  {
    kind: "gap",
    what: "both sides of the base broken, and no class for it",
    found: (p) => everyRecordPlaced(without(p, "CLS-10")),
  },
  {
    kind: "overlap",
    what: "a bite is decided although an infection is",
    found: (p) => exactlyOne(cells(p, "AB6", { infected: undefined })),
  },
  {
    kind: "overlap",
    what: "a vaccine row forgets that the wound is clean",
    found: (p) => exactlyOne(cells(p, "TET-US-6", { tetanusDirtyWound: undefined })),
  },
  {
    kind: "contradiction",
    what: "a cap that leaves the end joint free beside an extension splint",
    found: (p) => contradictions(cells(p, "SPL-14", { malletInjury: undefined })),
  },
  {
    kind: "contradiction",
    what: "a penicillin for everybody",
    found: (p) => contradictions(cells(p, "ABC1", { penicillinAllergy: undefined })),
  },
  {
    kind: "contradiction",
    what: "no operation for a tuft whose wound a surgeon takes over",
    found: (p) => contradictions(cells(p, "TUF-2", { closureWaits: undefined })),
  },
  {
    kind: "contradiction",
    what: "an extension splint for a finger whose flexor is torn",
    found: (p) => contradictions(cells(p, "SPL-2", { flexorInDoubt: undefined })),
  },
  {
    kind: "contradiction",
    what: "an operation without any urgency",
    found: (p) =>
      nothingRoutineIsOperated(
        rule(p, "SHA-2", (r) => ({ ...r, when: { fractureSite: "no-fracture-seen" } as Row<never> })),
      ),
  },
  {
    kind: "broken monotonicity",
    what: "an amputation is no exit when the hand is mangled as well",
    found: (p) => redFlagsNeverCalm(cells(p, "EX2a", { mangled: "no" })),
  },
  {
    kind: "broken monotonicity",
    what: "a foreign body is no exit when the tip is numb",
    found: (p) => redFlagsNeverCalm(cells(p, "EX10b", { sensation: "normal" })),
  },
  {
    kind: "broken monotonicity",
    what: "the exit for a mangled hand is taken by all others",
    found: (p) => redFlagsNeverCalm(cells(p, "EX11", { mangled: "no" })),
  },
  {
    kind: "swapped thresholds",
    what: "five and ten years exchanged",
    found: (p) => exactlyOne(cells(p, "TET-US-6", lastDose(5))),
  },
  {
    kind: "swapped thresholds",
    what: "ten and five years exchanged",
    found: (p) => exactlyOne(cells(p, "TET-US-8", lastDose(10))),
  },
  {
    kind: "swapped thresholds",
    what: "a third and two thirds of the joint exchanged",
    found: (p) =>
      silent(
        sign(p, "malletMiddle", (rows) =>
          rows.map((row) => {
            const { from: low, under: high } = row.articularSharePercent as Span;
            return { ...row, articularSharePercent: { from: high, under: low } };
          }),
        ),
      ),
  },
  {
    kind: "guard",
    what: "a nail over its fold in a child is still a tuft fracture",
    found: (p) => guards(sign(p, "tuft", (rows) => rows.map((row) => put(row, { seymourSuspect: undefined })))),
  },
  {
    kind: "guard",
    what: "a lost flexor may wait a week",
    found: (p) => guards(effects(p, "DPU-7", (e) => (e.kind === "urgency" ? { ...e, urgency: "W1" } : e))),
  },
  {
    kind: "guard",
    what: "a cat bite stays in the ordinary pathway",
    found: (p) => guards(sign(p, "bite", () => [{ mechanism: ["human-bite", "dog-bite", "other-animal-bite"] }])),
  },
  {
    kind: "guard",
    what: "epinephrine in a finger whose vessels go into spasm",
    found: (p) => guards(sign(p, "epinephrineRisk", (rows) => rows.filter((row) => !("vasospasm" in row)))),
  },
  {
    kind: "guard",
    what: "an open crush is a clean wound",
    found: (p) => guards(sign(p, "tetanusDirtyWound", (rows) => rows.filter((row) => "contaminatedWound" in row))),
  },
  {
    kind: "guard",
    what: "soil in the wound does not count",
    found: (p) =>
      guards(sign(p, "woundNeedsAntibiotic", (rows) => rows.filter((row) => !("grossContamination" in row)))),
  },
  {
    kind: "dead rule",
    what: "a row that asks for a child who is grown up",
    found: (p) => silent(cells(p, "SPL-17", { ageYears: from(18) })),
  },
  {
    kind: "limit on the wrong side",
    what: "a value on its limit is read as below it",
    found: (p) => probeCuts(spaceOf(p), wrongSide).flaws,
  },
];
