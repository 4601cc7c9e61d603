import { openFindings } from "./ask.ts";
import type {
  CaseAssessment,
  ClassLine,
  DigitAssessment,
  EffectLine,
  Line,
  SplintLine,
  UrgencyStatement,
  VisitWindow,
} from "./assessment.ts";
import { type CaseRecord, dayZero, factsOf, treatmentDay } from "./case-record.ts";
import { type Effect, type EffectKind, URGENCIES, type Urgency, type Visit } from "./hand/effects.ts";
import { datedLines, datedVisits, dischargeLast, mergeVisits } from "./hand/follow-up.ts";
import { HOURS_A_DAY } from "./hand/limits.ts";
import { type LeadingLine, leadingOf, urgencyWords } from "./hand/urgency-words.ts";
import type { EffectTable, InjuryModule } from "./module.ts";
import type { SitePolicy } from "./policy/policy-value.ts";
import { type ExactVerdict, leavesPathway, possibilities } from "./possible.ts";
import {
  type AnyRule,
  type AnySign,
  atOnce,
  compiling,
  type Facts,
  type Trace,
  type Verdict,
} from "./reasoning/program.ts";
import { KNOWLEDGE_VERSION } from "./version.ts";

/** A module made ready for one site policy: compile once, assess as often as an answer changes. */
export interface Pathway {
  readonly module: InjuryModule;
  readonly policy: SitePolicy;
  readonly signs: readonly AnySign[];
  readonly tables: readonly EffectTable[];
  /** The complete trace: for each table the rules that hold for sure and those still possible. */
  readonly evaluate: (facts: Facts) => Trace;
}
/** Compiles a module under one site's policy. @throws Error when a rule reads what no finding or sign provides. */
export function pathwayFor(module: InjuryModule, policy: SitePolicy): Pathway {
  return atOnce(preparing(module, policy));
}
/** `pathwayFor`, step by step: who runs the steps may take a breath between them. */
export function* preparing(module: InjuryModule, policy: SitePolicy): Generator<void, Pathway> {
  const tables = module.tables(policy);
  yield;
  const signs = module.signs(policy);
  yield;
  const evaluate = yield* compiling({ findings: module.findings, signs, tables });
  return { module, policy, signs, tables, evaluate };
}

const text = (effect: Effect): string => {
  switch (effect.kind) {
    case "class":
      return effect.class;
    case "visit":
      return effect.visit.check;
    case "later":
      return `${effect.find}: ${effect.say}`;
    default:
      return effect.say;
  }
};
const lines = new WeakMap<AnyRule, readonly EffectLine[]>();
/** What a rule says, line by line; made once, since a rule never changes. */
function linesOf(rule: AnyRule): readonly EffectLine[] {
  let made = lines.get(rule);
  if (!made) {
    const { id, because, sources } = rule;
    made = (rule.then as readonly Effect[]).map((effect) => ({
      rule: id,
      text: text(effect),
      because,
      sources,
      effect,
    }));
    lines.set(rule, made);
  }
  return made;
}
const said = (verdicts: readonly Verdict[], by: "sure" | "possible"): EffectLine[] => {
  const all: EffectLine[] = [];
  for (const verdict of verdicts) for (const rule of verdict[by]) all.push(...linesOf(rule));
  return all;
};
/** Lines of rules that speak by their cautious reading, with the words that say so. The rules count as possible all the same. */
const assumed = (verdicts: readonly ExactVerdict[]): EffectLine[] =>
  verdicts.flatMap((v) =>
    (v.assumed ?? []).flatMap((rule) => linesOf(rule).map((line) => saidBefore(rule.assume!.say, line))),
  );
const ONCE_CLEARED = "Only once the red flags are cleared:";
const TREATS: readonly EffectKind[] = ["today", "manage", "splint", "visit", "antibiotic", "antibiotic-class"];
/** The sure lines of a table while a red flag that nobody can judge may end the ordinary pathway: its treatment is said under that condition. */
function saidOnceCleared(verdict: Verdict): EffectLine[] {
  const all = said([verdict], "sure");
  if (!(verdict.table as EffectTable).ordinary) return all;
  return all.map((line) => (TREATS.includes(line.effect.kind) ? saidBefore(ONCE_CLEARED, line) : line));
}
function saidBefore(words: string, line: EffectLine): EffectLine {
  const { effect } = line;
  const prefixed = (said: string) => `${words} ${said}`;
  if (effect.kind === "class") return line;
  return {
    ...line,
    text: prefixed(line.text),
    effect:
      effect.kind === "visit"
        ? { ...effect, visit: { ...effect.visit, check: prefixed(effect.visit.check) } }
        : { ...effect, say: prefixed(effect.say) },
  };
}

/**
 * A visit in days after the injury. What starts with the treatment counts from its day, and so does a window that is already over when the
 * patient comes late: no visit lies in the past.
 */
function placed(visit: Visit, treatment: number): Visit {
  if (treatment === 0 || visit.countFrom === "operation") return visit;
  const { earliest, ideal, latest } = visit;
  if (visit.countFrom === "treatment" || latest < treatment)
    return {
      ...visit,
      countFrom: "treatment",
      earliest: earliest + treatment,
      ideal: ideal + treatment,
      latest: latest + treatment,
    };
  return { ...visit, earliest: Math.max(earliest, treatment), ideal: Math.max(ideal, treatment) };
}
/** What follows an operation stands behind the surgeon's last review in the list. */
function behindSurgeon(visits: readonly VisitWindow[], treatment: number): VisitWindow[] {
  const reviews = visits.filter((v) => v.purpose === "surgeon-review").map((v) => v.ideal);
  const operationFrom = Math.max(treatment, ...reviews);
  return visits.map((v) => (v.countFrom === "operation" ? { ...v, operationFrom } : v));
}
const daysOf = (hours: Facts[string]) => (typeof hours === "number" ? Math.floor(hours / HOURS_A_DAY) : 0);

/** The lines of each kind, in their order; both kinds of antibiotic line stand together. */
function sorted(lines: readonly EffectLine[]): ReadonlyMap<EffectKind, EffectLine[]> {
  const byKind = new Map<EffectKind, EffectLine[]>();
  for (const line of lines) {
    const kind = line.effect.kind === "antibiotic-class" ? "antibiotic" : line.effect.kind;
    const known = byKind.get(kind);
    if (known) known.push(line);
    else byKind.set(kind, [line]);
  }
  return byKind;
}
/** Without the tables that only hold answers against each other: those are never a reason to ask. */
const asked = (verdicts: readonly Verdict[]) => verdicts.filter((v) => !(v.table as EffectTable).checks);
const urgencyOf = (effect: Effect): Urgency | undefined =>
  effect.kind === "exit" || effect.kind === "urgency" ? effect.urgency : undefined;

/** The more urgent of two; undefined counts as "nothing said". */
export const moreUrgent = (a: Urgency | undefined, b: Urgency | undefined): Urgency | undefined =>
  a === undefined ? b : b === undefined ? a : URGENCIES.indexOf(a) <= URGENCIES.indexOf(b) ? a : b;

/**
 * Assesses one injured digit. Pure: same facts and policy, same answer.
 *
 * @param treatment days from the injury to the assessment; absent: whole days of the hours since the injury, 0 when they are not known
 */
export function assessDigit(
  pathway: Pathway,
  facts: Facts,
  treatment: number = daysOf(facts.hoursSinceInjury),
): DigitAssessment {
  const { module, policy, tables } = pathway;
  const { verdicts, ...still } = possibilities(pathway, facts);
  // A red flag not yet asked about keeps every urgency unsaid; one that cannot be told counts as still possible.
  const gate = verdicts.filter((_, i) => tables[i]!.gate);
  const gateOpen = openFindings(still.gate, facts).ask.length > 0;
  const leftPathway = verdicts.some(({ sure }) => sure.some(leavesPathway));
  // Every red flag was asked about, and one that nobody can judge may still leave the pathway.
  const mayLeave = !leftPathway && !gateOpen && gate.some(({ possible }) => possible.some(leavesPathway));
  const heard = leftPathway ? verdicts.filter((_, i) => !tables[i]!.ordinary) : verdicts;
  const certain = mayLeave ? heard.flatMap(saidOnceCleared) : said(heard, "sure");
  const cautious = assumed(heard);
  const sure = cautious.length > 0 ? [...certain, ...cautious] : certain;
  // An exit that an answer may still end leaves what it silences possible.
  const possible = said(asked(verdicts), "possible");
  const byKind = sorted(sure);
  const only = <K extends EffectKind>(kind: K) => (byKind.get(kind) ?? []) as unknown as EffectLine<K>[];
  const classLines = (from: readonly EffectLine[]): ClassLine[] => {
    const first = new Map<string, ClassLine>();
    for (const l of from)
      if (l.effect.kind === "class" && !first.has(l.effect.class))
        first.set(l.effect.class, {
          ...l,
          class: l.effect.class,
          name: module.classes[l.effect.class]?.name ?? l.effect.class,
        });
    return [...first.values()];
  };
  const classes = classLines(byKind.get("class") ?? []);
  // Figures read a few facts and signs: a copy of all of them would cost more than the whole trace.
  const read = new Proxy(facts, { get: (_, name: string) => still.sign(name) ?? facts[name] });
  const figures = module.figures(read, policy);
  const open = openFindings(still.open, facts);
  const blocked = only("quality").some((s) => s.effect.blocks);
  const stated = urgencyStatement(certain, possible, gateOpen);
  // Answers that do not fit together never send anyone away.
  const urgency = blocked && stated.level === "none" ? unsaid(stated) : stated;
  const visits = only("visit").map(
    (s): VisitWindow => ({
      ...placed(s.effect.visit, treatment),
      rule: s.rule,
      because: s.because,
      sources: s.sources,
    }),
  );
  const toRecheck = only("exit").some((e) => e.effect.untilRechecked);
  const undecided =
    urgency.level === undefined ||
    blocked ||
    (!classes.some((c) => !module.classes[c.class]?.scheme) && only("exit").length === 0);
  return {
    module: module.id,
    exits: only("exit").sort((a, b) => URGENCIES.indexOf(a.effect.urgency) - URGENCIES.indexOf(b.effect.urgency)),
    leftPathway,
    mayLeave,
    quality: only("quality"),
    classes,
    possibleClasses: classLines(possible).filter(
      (c) => !module.classes[c.class]?.scheme && !classes.some((k) => k.class === c.class),
    ),
    urgency,
    today: only("today"),
    antibiotic: only<"antibiotic" | "antibiotic-class">("antibiotic"),
    tetanus: only("tetanus"),
    anaesthetic: [...only("epinephrine"), ...figures.anaesthetic],
    management: only("manage"),
    splints: only("splint").map((l): SplintLine => ({ ...l, splint: l.effect.splint })),
    visits: mergeVisits(dischargeLast(behindSurgeon(visits, treatment)), treatment),
    warnings: only("warn"),
    advice: only("advise"),
    tasks: only("task"),
    later: only("later"),
    stillPossible: possible.filter((l) => !cautious.some((c) => c.rule === l.rule)),
    ask: open.ask,
    cannotTell: open.cannotTell,
    state: undecided ? "cannot-decide" : still.open.length > 0 || toRecheck ? "provisional" : "settled",
  };
}

/** Assesses a whole case: each digit by its own facts, the most urgent digit leads, visits are joined. */
export function assessCase(pathway: Pathway, record: CaseRecord): CaseAssessment {
  const digits = record.digits.map((_, i) => assessDigit(pathway, factsOf(record, i), treatmentDay(record)));
  const zero = dayZero(record);
  const dated = digits.map((d) => ({
    ...d,
    management: datedLines(d.management, zero),
    tasks: datedLines(d.tasks, zero),
    visits: datedVisits(d.visits, zero, record.operatedOn),
  }));
  const level = dated.map((d) => d.urgency.level).reduce<Urgency | undefined>(moreUrgent, undefined);
  const sure = dated.map((d) => d.urgency.sure).reduce<Urgency | undefined>(moreUrgent, undefined);
  const known = dated.every((d) => d.urgency.level !== undefined) || level === "NOW";
  return {
    knowledgeVersion: KNOWLEDGE_VERSION,
    policy: { site: pathway.policy.site, approvedOn: pathway.policy.approvedOn },
    digits: dated,
    urgency: {
      ...(known && level
        ? { level, words: urgencyWords(level, pathway.policy, leadingOf(leading(dated, level))) }
        : {}),
      ...(sure ? { sure } : {}),
      open: dated.some((d) => d.urgency.open),
      because: dated.flatMap((d) => d.urgency.because),
    },
    visits: datedVisits(
      mergeVisits(
        digits.flatMap((d) => d.visits),
        treatmentDay(record),
      ),
      zero,
      record.operatedOn,
    ),
    state:
      dated.some((d) => d.state === "cannot-decide") || dated.length === 0
        ? "cannot-decide"
        : dated.some((d) => d.state === "provisional")
          ? "provisional"
          : "settled",
  };
}

/** The exits and urgency lines, sure or still possible, that make the case as urgent as it is. */
const leading = (digits: readonly DigitAssessment[], level: Urgency): LeadingLine[] =>
  digits
    .flatMap((d) => d.urgency.because as readonly EffectLine[])
    .flatMap(({ effect }) =>
      (effect.kind === "exit" || effect.kind === "urgency") && effect.urgency === level ? [effect] : [],
    );

const unsaid = ({ because }: UrgencyStatement): UrgencyStatement => ({ open: true, because });

function urgencyStatement(
  sure: readonly EffectLine[],
  possible: readonly EffectLine[],
  gate: boolean,
): UrgencyStatement {
  const most = (from: readonly EffectLine[]) => {
    let found: Urgency | undefined;
    for (const { effect } of from) found = moreUrgent(found, urgencyOf(effect));
    return found;
  };
  const decided = most(sure);
  const stated = moreUrgent(decided, most(possible));
  const open = stated !== decided;
  const level = decided === "NOW" ? decided : gate ? undefined : stated;
  const saysSo = (s: EffectLine) => level !== undefined && urgencyOf(s.effect) === level;
  const because: Line[] = sure.filter(saysSo);
  if (open) because.push(...possible.filter(saysSo));
  return {
    ...(level ? { level } : {}),
    ...(decided ? { sure: decided } : {}),
    open: level === undefined || open,
    because,
  };
}
