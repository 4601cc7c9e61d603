import { awaitsOperation } from "../fhir/visit-words.ts";
import { READ_WORDS, SOURCES, type SourceRecord } from "../pathway/evidence/sources.ts";
import {
  type CaseAssessment,
  type CaseRecord,
  type Citation,
  type DigitAssessment,
  explain,
  factsOf,
  type InjuryModule,
  type Line,
  type Pathway,
  PURPOSE_WORDS,
  type Reason,
  type SitePolicy,
  STRENGTH_WORDS,
  type UrgencyStatement,
  type UsedFinding,
  urgencyWords,
  type VisitWindow,
} from "../pathway/index.ts";

/** Why each rule of one digit speaks, by rule id. Lines that come from arithmetic carry their own reason and are not here. */
export function reasonsOf(
  pathway: Pathway,
  record: CaseRecord,
  digit: number,
  assessment: DigitAssessment,
): Record<string, Reason> {
  const known = new Set(pathway.tables.flatMap((t) => t.rules.map((r) => r.id)));
  const facts = factsOf(record, digit);
  const spoken = new Set([...linesOf(assessment).map((l) => l.rule)].filter((id) => known.has(id)));
  return Object.fromEntries([...spoken].map((id) => [id, explain(pathway, facts, id)]));
}

/** Everything a digit's assessment says, in the order in which it is read. */
export const linesOf = (a: DigitAssessment): readonly (Line | VisitWindow)[] => [
  ...a.exits,
  ...a.quality,
  ...a.classes,
  ...a.possibleClasses,
  ...a.urgency.because,
  ...a.today,
  ...a.management,
  ...a.splints,
  ...a.antibiotic,
  ...a.tetanus,
  ...a.anaesthetic,
  ...a.visits,
  ...a.warnings,
  ...a.advice,
  ...a.tasks,
  ...a.later,
  ...a.stillPossible,
];

/** The published record behind a citation; common practice and memory have none. */
export const sourceOf = (citation: Citation): SourceRecord | undefined =>
  (SOURCES as Readonly<Record<string, SourceRecord>>)[citation.source];

/** A value that a chart suggests and nobody has confirmed. */
type Suggested = UsedFinding & { readonly from: { readonly label: string } };

/** The whole assessment as plain text: each line with its reason, the findings used, the sources and the dissent. */
export function readableReport(
  pathway: Pathway,
  record: CaseRecord,
  assessment: CaseAssessment,
  { notes, suggested = [] }: { readonly notes: readonly string[]; readonly suggested?: readonly Suggested[] },
): string {
  const { module } = pathway;
  const page: string[] = [
    `${module.title}: assessment`,
    "Decision support for licensed clinicians. Local policy prevails.",
    `Knowledge ${assessment.knowledgeVersion}; ${policyWords(assessment)}; assessed at ${record.assessedAt}`,
    ...notes,
    "",
    `STATE: ${STATE_WORDS[assessment.state]}`,
    `URGENCY: ${urgencyLine(assessment.urgency, pathway.policy)}`,
  ];
  assessment.digits.forEach((digit, i) => {
    page.push("", `DIGIT ${i + 1}: ${digitName(module, record, i)}`, ...digitReport(pathway, record, digit, i));
  });
  if (suggested.length)
    page.push(
      "",
      "SUGGESTED BY THE CHART, NOT CONFIRMED AND NOT COUNTED",
      ...suggested.map(
        (s) => `  - ${asked(questionWords(module, s.finding))} ${valueWords(module, s)} (${s.from.label})`,
      ),
    );
  return `${page.join("\n")}\n`;
}

const policyWords = ({ policy }: CaseAssessment) =>
  `site policy: ${policy.site}${policy.approvedOn ? `, approved ${policy.approvedOn}` : ""}`;

const STATE_WORDS: Readonly<Record<CaseAssessment["state"], string>> = {
  settled: "settled, no open question can change it",
  provisional: "provisional, open questions can still change it",
  "cannot-decide": "cannot decide yet",
};

function urgencyLine({ level, open }: UrgencyStatement, policy: SitePolicy): string {
  if (level === undefined) return "cannot be said while a red-flag question is open";
  const said = `${urgencyWords(level, policy).title} (${level})`;
  return open ? `${said}, the most urgent still possible until the open questions are answered` : said;
}

function digitName(module: InjuryModule, record: CaseRecord, digit: number): string {
  const answers = record.digits[digit] ?? {};
  const parts = ["side", "digit"].flatMap((finding) => {
    const value = answers[finding];
    return value === undefined ? [] : [valueWords(module, { finding, value })];
  });
  return parts.length ? parts.join(", ") : "which one is not said";
}

function digitReport(pathway: Pathway, record: CaseRecord, a: DigitAssessment, digit: number): string[] {
  const { module } = pathway;
  const reasons = reasonsOf(pathway, record, digit, a);
  const out: string[] = [`  urgency of this digit: ${urgencyLine(a.urgency, pathway.policy)}`];
  const section = <L extends Line | VisitWindow>(title: string, lines: readonly L[], text: (line: L) => string) => {
    if (lines.length === 0) return;
    out.push("", `  ${title.toUpperCase()}`);
    lines.forEach((line, i) => {
      out.push(`  - ${text(line)}`);
      // Neighbours that one rule says have one reason, given once below them.
      if (lines[i + 1]?.rule !== line.rule)
        out.push(...why(module, line, reasons[line.rule]).map((words) => `      ${words}`));
    });
  };
  const text = (line: Line) => line.text;
  section(
    "Exits: first of all",
    a.exits,
    (l) => `${l.effect.title} (${l.effect.urgency}, to ${l.effect.sendTo}): ${l.text}`,
  );
  if (a.mayLeave)
    out.push("  A red flag cannot be judged: the treatment of an ordinary fracture holds only once it is cleared.");
  if (a.leftPathway) out.push("  An exit leaves the ordinary pathway: treatment, splint and follow-up are not said.");
  section("What the data cannot carry", a.quality, text);
  section("Class", a.classes, (l) => `${l.name} (${module.classes[l.class]?.definition ?? l.class})`);
  section(
    "Class still possible",
    a.possibleClasses,
    (l) => `${l.name} (${module.classes[l.class]?.definition ?? l.class})`,
  );
  section("Urgency", a.urgency.because, text);
  section("Now", a.today, text);
  section("Management", a.management, (l) => `${l.effect.call}: ${l.text}`);
  section(
    "Splint",
    a.splints,
    ({ splint, text: words }) =>
      `${splint.what}; joints held: ${splint.joints.join(", ") || "none"}; left free: ${splint.free.join(", ") || "none"}; ` +
      `position: ${splint.position}; from day 0 to day ${splint.days.from}-${splint.days.to}; wear: ${splint.wear}. ${words}`,
  );
  section("Antibiotic", a.antibiotic, text);
  section("Tetanus", a.tetanus, text);
  section("Anaesthetic", a.anaesthetic, text);
  section("Visits", a.visits, visitWords);
  section("Warnings", a.warnings, text);
  section("Advice for the patient", a.advice, (l) => (l.effect.redFlag ? `Come back at once: ${l.text}` : l.text));
  section("Tasks", a.tasks, text);
  section("Later: what to look for, and what it leads to", a.later, text);
  section("Still possible", a.stillPossible, text);
  if (a.ask.length)
    out.push(
      "",
      "  NOT YET ASKED, AND IT CAN STILL CHANGE SOMETHING",
      ...a.ask.map((f) => `  - ${questionWords(module, f)} [${f}]`),
    );
  if (a.cannotTell.length)
    out.push(
      "",
      "  COULD NOT BE TOLD, AND IT STILL MATTERS",
      ...a.cannotTell.map((f) => `  - ${questionWords(module, f)} [${f}]`),
    );
  return out;
}

function visitWords(visit: VisitWindow): string {
  const when = visit.dates
    ? `${visit.dates.earliest} to ${visit.dates.latest}, best ${visit.dates.ideal}`
    : awaitsOperation(visit)
      ? `day ${visit.earliest} to ${visit.latest} after the operation, best day ${visit.ideal} (no dates: its day is not known)`
      : `day ${visit.earliest} to ${visit.latest}, best day ${visit.ideal} (no dates: the day of the injury is not known)`;
  return `${PURPOSE_WORDS[visit.purpose]}, ${visit.who}: ${when}. ${visit.check}`;
}

function why(module: InjuryModule, line: Line | VisitWindow, reason: Reason | undefined): string[] {
  const used = reason?.used ?? [];
  const sources = reason?.sources ?? line.sources;
  return [
    `because: ${line.because} [${line.rule}]`,
    ...used.map((u) => `finding: ${asked(questionWords(module, u.finding))} ${valueWords(module, u)}`),
    ...sources.map((c) => `${c.says === "for" ? "source" : "DISSENT"}: ${citationWords(c)}`),
  ];
}

/** A citation in one line: who and where, how strong, how it was read. */
export function citationWords(citation: Citation): string {
  const record = sourceOf(citation);
  const strength = STRENGTH_WORDS[citation.strength];
  const at = citation.at ? `, ${citation.at}` : "";
  if (!record) return `${strength}${at}`;
  return `${record.citation.replace(/\.$/, "")}${at} (${strength}; ${READ_WORDS[record.read]})`;
}

const asked = (question: string) => (/[?:]$/.test(question) ? question : `${question}:`);
const questionWords = (module: InjuryModule, finding: string) =>
  module.questions.find((q) => q.finding === finding)?.wording ?? finding;

function valueWords(module: InjuryModule, { finding, value }: UsedFinding): string {
  const question = module.questions.find((q) => q.finding === finding);
  if (value === "cannot-tell") return question?.cannotTell ?? "cannot tell";
  if (value === "not-asked") return "not asked";
  const definition = module.findings[finding];
  if (definition?.type === "number") return `${value} ${definition.unit}`;
  return question?.options?.find((o) => o.value === value)?.label ?? String(value);
}
