import type { Citation } from "../evidence/citation.ts";
import { STRENGTH_WORDS } from "../evidence/citation.ts";
import { READ_WORDS, SOURCES, type SourceRecord } from "../evidence/sources.ts";
import { CALL_WORDS, PURPOSE_WORDS } from "../hand/effect-words.ts";
import type { AntibioticDecision, Effect, EffectKind, TodayTopic, Urgency } from "../hand/effects.ts";
import { urgencyWords } from "../hand/urgency-words.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import type { Scope } from "../reasoning/finding.ts";
import type { Facts } from "../reasoning/program.ts";
import { type Inline, joined, type Words } from "./blocks.ts";
import type { Cell, Choices, Knowledge, PlainRow } from "./knowledge.ts";

/** Where each thing stands in the book. */
export const at = {
  rule: (id: string) => `rule-${id}`,
  sign: (name: string) => `sign-${name}`,
  question: (finding: string) => `question-${finding}`,
  class: (id: string) => `class-${id}`,
  source: (id: string) => `source-${id}`,
  policy: (key: string) => `policy-${key}`,
};
export const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const or = (values: readonly string[]) => values.join(" or ");

export const SCOPE_WORDS: { readonly [S in Scope]: string } = {
  patient: "once for the patient",
  injury: "once for the accident",
  digit: "for each injured digit",
};
const TOPIC_WORDS: { readonly [T in TodayTopic]: string } = {
  "first-minutes": "First minutes",
  perfusion: "Circulation",
  imaging: "Imaging",
  "wash-out": "Wash-out",
  reduction: "Reduction",
  haematoma: "Blood under the nail",
  nail: "Nail",
  dressing: "Dressing",
  examination: "Examination",
  referral: "Referral",
};
const ANTIBIOTIC_WORDS: { readonly [D in AntibioticDecision]: string } = {
  no: "No antibiotic",
  "not-routinely": "Antibiotic not routinely",
  consider: "Consider an antibiotic",
  yes: "Give an antibiotic",
  "treat-infection": "Treat the infection",
  "local-policy": "Antibiotic by local policy",
};
export const KIND_WORDS: { readonly [K in EffectKind]: string } = {
  exit: "Exit",
  quality: "Record",
  class: "Class",
  urgency: "Urgency",
  today: "Today",
  antibiotic: "Antibiotic",
  "antibiotic-class": "Antibiotic class",
  tetanus: "Tetanus",
  epinephrine: "Epinephrine",
  manage: "Treatment",
  splint: "Splint",
  visit: "Visit",
  warn: "Warning",
  advise: "Advice to the patient",
  task: "Task",
  later: "Later",
};

/** Says findings, rows and effects as a clinician reads them, and notes what it has no words for. */
export interface Speaker {
  row(row: PlainRow): readonly Words[];
  /** What an effect says: its own sentence first, then the particulars. */
  effect(effect: Effect): readonly Words[];
  column(column: string): Words;
  choices(only: readonly Choices[]): Words;
  value(finding: string, value: string | number): string;
  urgency(level: Urgency): string;
  readonly missing: ReadonlySet<string>;
}

/** @param policy whose windows the words on urgency name */
export function speakerFor(knowledge: Knowledge, policy: SitePolicy): Speaker {
  const missing = new Set<string>();
  const lacking = (what: string, shown: string) => {
    missing.add(what);
    return shown;
  };
  const label = (finding: string, value: string) =>
    knowledge.questions.get(finding)?.options?.find((o) => o.value === value)?.label ??
    lacking(`words for the answer "${value}" of ${finding}`, value);
  const signWords = (name: string) => knowledge.signs.get(name)?.variants[0]?.says.words;
  const column = (name: string): Words => {
    const sign = signWords(name);
    if (sign !== undefined) return [{ text: sign, to: at.sign(name) }];
    const wording = knowledge.questions.get(name)?.wording;
    return wording === undefined
      ? [lacking(`the question for ${name}`, name)]
      : [{ text: wording, to: at.question(name) }];
  };
  const cell = (name: string, content: Cell): Words => {
    const head = joined([column(name), /[?:]$/.test(plainHead(column(name))) ? [] : [":"]], "");
    if (!Array.isArray(content)) {
      const definition = knowledge.findings[name];
      const unit = definition?.type === "number" ? definition.unit : lacking(`the unit of ${name}`, "");
      return [...head, " ", { strong: spanWords(content as { from?: number; under?: number }, unit) }];
    }
    if (signWords(name) !== undefined) return [...head, " ", { strong: or(content) }];
    const definition = knowledge.findings[name];
    const all = definition?.type === "choice" ? definition.values : [];
    const others = all.filter((v) => !content.includes(v));
    // A long list is read more safely by what it leaves out; "answered" keeps "not known" from being read into it.
    if (content.length > MANY && others.length > 0 && others.length <= FEW)
      return [...head, " ", { strong: `answered, but not ${or(others.map((v) => `“${label(name, v)}”`))}` }];
    const labels = content.map((v) => label(name, v));
    return [...head, " ", { strong: labels.length > 1 ? or(labels.map((l) => `“${l}”`)) : labels.join("") }];
  };
  const urgency = (level: Urgency) => urgencyWords(level, policy).title;
  return {
    missing,
    column,
    urgency,
    value(finding, value) {
      const definition = knowledge.findings[finding];
      if (definition?.type === "number") return numberWords(Number(value), definition.unit);
      return label(finding, String(value));
    },
    row: (row) => Object.entries(row).map(([name, content]) => cell(name, content)),
    choices: (only) =>
      joined(
        only.map((choices) =>
          joined(
            Object.entries(choices).map(
              ([key, option]): Words =>
                knowledge.policy[key]
                  ? [{ text: key, to: at.policy(key) }, " = ", { code: option }]
                  : [`${key}: ${option}`],
            ),
            " and ",
          ),
        ),
        ", or ",
      ),
    effect: (effect) => effectWords(effect, knowledge, urgency, lacking),
  };
}
const MANY = 4;
const FEW = 4;
const plainHead = (words: Words) => words.map((w) => (typeof w === "string" ? w : "text" in w ? w.text : "")).join("");

/** Limits "more than x" are kept as a hair above x. */
const HAIR = 1e-6;
const DIGITS = 3;
const DAYS_A_YEAR = 365.25;
const exact = (x: number) => Number(x.toFixed(DIGITS));
const isHairAbove = (x: number) => x - exact(x) > 0 && x - exact(x) < 2 * HAIR;
const isWhole = (x: number) => Math.abs(x - Math.round(x)) < HAIR;

/** "6 weeks" for a part of a year that is whole weeks, "10 years and 1 day"; else the number with its unit. */
export function numberWords(x: number, unit: string): string {
  const counted = (n: number, one: string) => `${n} ${n === 1 ? one : `${one}s`}`;
  if (unit === "years" && !isWhole(x) && exact(x) !== x) {
    const weeks = (x * DAYS_A_YEAR) / 7;
    if (isWhole(weeks)) return counted(Math.round(weeks), "week");
    const days = (x - Math.floor(x)) * DAYS_A_YEAR;
    if (isWhole(days)) return `${Math.floor(x)} years and ${counted(Math.round(days), "day")}`;
  }
  return unit === "%" || unit === ""
    ? `${exact(x)} ${unit}`.trim()
    : x === 1
      ? `1 ${unit.replace(/s$/, "")}`
      : `${exact(x)} ${unit}`;
}
/** "2 mm or more", "more than 66.7 % and less than 80 %". */
export function spanWords({ from, under }: { from?: number; under?: number }, unit: string): string {
  const low =
    from === undefined
      ? []
      : [isHairAbove(from) ? `more than ${numberWords(exact(from), unit)}` : `${numberWords(from, unit)} or more`];
  const high =
    under === undefined
      ? []
      : [
          isHairAbove(under)
            ? `not more than ${numberWords(exact(under), unit)}`
            : `less than ${numberWords(under, unit)}`,
        ];
  return [...low, ...high].join(" and ") || "any number";
}

function effectWords(
  effect: Effect,
  knowledge: Knowledge,
  urgency: (level: Urgency) => string,
  lacking: (what: string, shown: string) => string,
): readonly Words[] {
  const head = (title: string, ...rest: Inline[]): Words => [{ strong: `${title}:` }, " ", ...rest];
  const kind = KIND_WORDS[effect.kind] ?? lacking(`words for the effect "${effect.kind}"`, effect.kind);
  const named = (words: Readonly<Record<string, string>>, value: string, what: string) =>
    words[value] ?? lacking(`words for the ${what} "${value}"`, value);
  switch (effect.kind) {
    case "exit":
      return [
        head(kind, `${effect.title}. ${effect.say}`),
        [
          `Urgency: ${urgency(effect.urgency)}. Send to: ${effect.sendTo}. ${effect.leaves ? "The ordinary pathway falls silent." : "The ordinary pathway goes on."}`,
        ],
        ...(effect.means ? [[effect.means]] : []),
      ];
    case "quality":
      return [head(kind, effect.say), ...(effect.blocks ? [["Until then no class can be given."]] : [])];
    case "class": {
      const described = knowledge.classes.get(effect.class);
      return [
        head(kind, {
          text: described?.name ?? lacking(`the description of the class "${effect.class}"`, effect.class),
          to: at.class(effect.class),
        }),
      ];
    }
    case "urgency":
      return [head(kind, `${urgency(effect.urgency)}. ${effect.say}`), ...(effect.means ? [[effect.means]] : [])];
    case "today":
      return [head(`${kind}, ${named(TOPIC_WORDS, effect.topic, "topic").toLowerCase()}`, effect.say)];
    case "antibiotic":
      return [head(named(ANTIBIOTIC_WORDS, effect.decision, "antibiotic decision"), effect.say)];
    case "antibiotic-class":
      return [
        head(kind, effect.choose, effect.avoid ? `; avoid: ${effect.avoid}` : "", "."),
        ...(effect.say ? [[effect.say]] : []),
      ];
    case "later":
      return [head(kind, `${effect.find}: ${effect.say}`)];
    case "tetanus":
      return [
        head(kind, `vaccine ${effect.vaccine ? "now" : "no"}, immunoglobulin ${effect.immunoglobulin ? "now" : "no"}.`),
        [effect.say],
      ];
    case "epinephrine":
      return [head(`${kind} ${effect.allow ? "allowed" : "avoided"}`, effect.say)];
    case "manage":
      return [head(`${kind}, ${named(CALL_WORDS, effect.call, "call").toLowerCase()}`, effect.say)];
    case "splint": {
      const { what, joints, free, position, days, wear } = effect.splint;
      return [
        head(kind, `${what}. ${effect.say}`),
        [
          `Joints held: ${joints.join(", ") || "none"}. Left free: ${free.join(", ") || "none"}. Position: ${position}. ` +
            `May stop from day ${days.from}, stop by day ${days.to}. Wear: ${wear}.`,
        ],
      ];
    }
    case "visit": {
      const v = effect.visit;
      const said = v.onlyIf === undefined || v.check.toLowerCase().startsWith(v.onlyIf.toLowerCase());
      return [
        head(
          `${kind}, ${named(PURPOSE_WORDS, v.purpose, "visit purpose").toLowerCase()}`,
          `day ${v.earliest} to ${v.latest}, best day ${v.ideal}${v.countFrom && v.countFrom !== "injury" ? ` after the ${v.countFrom}` : ""}; ${v.who}.`,
        ),
        [
          [
            v.check,
            said ? "" : `Only if: ${v.onlyIf}`,
            v.after ? `After: ${named(PURPOSE_WORDS, v.after, "visit purpose").toLowerCase()}` : "",
          ]
            .filter(Boolean)
            .map((part) => (/[.?!]$/.test(part) ? part : `${part}.`))
            .join(" "),
        ],
      ];
    }
    case "advise":
      return [head(effect.redFlag ? "Come back at once" : kind, effect.say)];
    case "warn":
    case "task":
      return [head(kind, effect.say)];
  }
}

/** A patient for whom something is worked out: "40 years, 70 kg". */
export const patientWords = (facts: Facts, speaker: Speaker) =>
  capital(
    Object.entries(facts)
      .map(([finding, value]) => speaker.value(finding, value ?? ""))
      .join(", "),
  );

export const recordOf = (source: string): SourceRecord | undefined =>
  (SOURCES as Readonly<Record<string, SourceRecord>>)[source];
/** A citation in full: who and where, how strong, how it was read. Common practice and memory name themselves. */
export function citationWords(citation: Citation): Words {
  const record = recordOf(citation.source);
  const strength = STRENGTH_WORDS[citation.strength];
  const where = citation.at ? ` ${capital(citation.at).replace(/\.$/, "")}.` : "";
  if (!record) return [{ text: capital(strength), to: at.source(citation.source) }, ".", where];
  return [
    { text: record.citation.replace(/\.$/, ""), to: at.source(citation.source) },
    `.${where} `,
    { strong: capital(strength) },
    `; ${READ_WORDS[record.read]}.`,
  ];
}
