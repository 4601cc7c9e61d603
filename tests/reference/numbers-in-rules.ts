/** Every number that the rules use or say, as short statements: "splint 28 to 42 days", "says 24 hours". */
import type { Effect } from "../../src/pathway/hand/effects.ts";
import type { Pathway } from "../../src/pathway/index.ts";
import type { AnyRule } from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";

export interface NumberUsed {
  /** Rule id; "sign NAME", "class ID" for what is no rule. */
  readonly rule: string;
  readonly says: string;
}

/** Rows count a lower limit in. Where a published limit belongs to the range below it, the rule begins a millionth later. */
const MILLIONTH = 1e-6;
const shown = (value: number) => String(Number(value.toPrecision(6)));
const limit = (value: number, exact: string, after: string) => {
  const whole = Number((value - MILLIONTH).toFixed(4));
  return Math.abs(value - whole - MILLIONTH) < MILLIONTH / 10 && value !== whole
    ? `${after} ${shown(whole)}`
    : `${exact} ${shown(value)}`;
};
function spanWords(finding: string, { from, under }: Span): string {
  const low = Number.isFinite(from) ? limit(from, "from", "above") : "";
  const high = Number.isFinite(under) ? limit(under, "under", "up to") : "";
  return `${finding} ${[low, high].filter(Boolean).join(" ")}`;
}
const isSpan = (cell: unknown): cell is Span => typeof cell === "object" && cell !== null && "from" in cell;
const inRow = (row: Readonly<Record<string, unknown>>): string[] =>
  Object.entries(row).flatMap(([finding, cell]) => (isSpan(cell) ? spanWords(finding, cell) : []));

/** A number or range and the unit behind it. Digits inside a name ("A4", "G6") are no numbers. */
const NUMBER =
  /(?<![\w.])\d[\d.,:/]*(?:(?:-|–| to | and | or )\d[\d.,:/]*)?(?:\s?(?:%|°|cm²|(?:mGy|IU|mm|G|minutes?|hours?|days?|nights|weeks?|months?|years?|degrees)\b))?/g;
export const inText = (text: string): string[] =>
  [...text.matchAll(NUMBER)].map(([found]) => `says ${found.replace(/[.,:/]+(?= |$)/, "").trim()}`);

/** Ids and enumerated words are no text. */
const NO_TEXT = new Set([
  "kind",
  "urgency",
  "class",
  "exit",
  "point",
  "topic",
  "call",
  "decision",
  "purpose",
  "countFrom",
]);
function inEffect(effect: Effect): string[] {
  const { kind } = effect;
  const own: string[] = [];
  if (kind === "visit") {
    const { purpose, earliest, ideal, latest, countFrom } = effect.visit;
    const counted = countFrom === "operation" ? " after the operation" : "";
    own.push(`visit ${purpose} day ${earliest}, ${ideal}, ${latest}${counted}`);
    if (effect.visit.dueDay !== undefined) own.push(`due day ${effect.visit.dueDay}`);
  }
  if (kind === "splint") own.push(`splint ${effect.splint.days.from} to ${effect.splint.days.to} days`);
  if ("dueDay" in effect && effect.dueDay !== undefined) own.push(`due day ${effect.dueDay}`);
  const texts = (value: unknown): string[] =>
    typeof value === "string"
      ? inText(value)
      : Array.isArray(value)
        ? value.flatMap(texts)
        : value && typeof value === "object"
          ? Object.entries(value).flatMap(([key, inner]) => (NO_TEXT.has(key) ? [] : texts(inner)))
          : [];
  return [...own, ...texts(effect)];
}

export function numbersUsed({ tables, signs, module }: Pathway): NumberUsed[] {
  const of = (rule: string, says: readonly string[]) => [...new Set(says)].map((s) => ({ rule, says: s }));
  return [
    ...tables.flatMap((table) =>
      (table.rules as readonly AnyRule[]).flatMap((rule) =>
        of(rule.id, [
          ...inRow(rule.when),
          ...(rule.then as readonly Effect[]).flatMap(inEffect),
          ...inText(rule.because),
          ...inText(rule.assume?.say ?? ""),
        ]),
      ),
    ),
    ...signs.flatMap((sign) => of(`sign ${sign.name}`, [...sign.any.flatMap(inRow), ...inText(sign.words)])),
    ...Object.entries(module.classes).flatMap(([id, { name, definition }]) =>
      // An AO/OTA code is a name that is written in digits.
      id.startsWith("AO-") ? [] : of(`class ${id}`, [...inText(name), ...inText(definition)]),
    ),
  ];
}
