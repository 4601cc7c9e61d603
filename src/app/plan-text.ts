import { asDecided, decisionWords, type Override, standing } from "../fhir/drafts.ts";
import { awaitsOperation, visitCheck, weekendNote } from "../fhir/visit-words.ts";
import {
  type CaseAssessment,
  type CaseRecord,
  type Facts,
  type InjuryModule,
  PURPOSE_WORDS,
  type SitePolicy,
  urgencyWords,
} from "../pathway/index.ts";
import { sayDay } from "./say-date.ts";
import type { Undecided } from "./undecided.ts";
import { sayDigit } from "./which-questions.ts";
import { upper } from "./words.ts";

export interface PlanTextInput {
  readonly patient: string;
  readonly module: InjuryModule;
  readonly policy: SitePolicy;
  readonly record: CaseRecord;
  readonly facts: readonly Facts[];
  readonly assessment: CaseAssessment;
  readonly decisions: readonly Override[];
  /** Of each digit, what open answers keep undecided. */
  readonly undecided: readonly (readonly Undecided[])[];
  readonly appVersion: string;
}
/** The whole plan as plain text: for copying when a print, a download or a write is not possible. Carries versions and time. */
export function planText({
  patient,
  module,
  policy,
  record,
  facts,
  assessment: proposed,
  decisions,
  undecided,
  appVersion,
}: PlanTextInput): string {
  const assessment = asDecided(proposed, decisions);
  const out: string[] = [`${module.title}: plan`, `Patient: ${patient}`, `Assessed: ${sayDay(record.assessedAt)}`];
  if (record.injuredAt) out.push(`Injured: ${sayDay(record.injuredAt)}`);
  if (record.operatedOn) out.push(`Operated: ${sayDay(record.operatedOn)}`);
  const { level, open, words: said } = assessment.urgency;
  out.push(
    `Urgency: ${level ? (said ?? urgencyWords(level, policy)).title : "cannot decide yet"}${level && open ? " (open answers remain)" : ""}`,
  );
  const changed = standing(decisions, proposed);
  for (const d of changed) if (d.on === "urgency") out.push(decisionWords(d));
  const part = (title: string, lines: readonly string[]) => {
    if (lines.length > 0) out.push("", title, ...lines.map((l) => `- ${l}`));
  };
  assessment.digits.forEach((digit, i) => {
    out.push("", upper(sayDigit(module, facts[i] ?? {}) ?? `Finger ${i + 1}`).toUpperCase());
    part(
      "Leave the ordinary pathway",
      digit.exits.map((e) => `${e.effect.title}: ${e.text} ${e.effect.sendTo}`),
    );
    const orUndecided = (on: Undecided["part"], lines: readonly string[]) => [
      ...lines,
      ...(undecided[i] ?? []).filter((u) => u.part === on).map((u) => upper(u.say)),
    ];
    part(
      "Class",
      digit.classes.map((c) => c.name),
    );
    part(
      "The record is not complete",
      digit.quality.map((l) => l.text),
    );
    part(
      "What to do now",
      digit.today.map((l) => l.text),
    );
    part(
      "Management",
      digit.management.map((l) => l.text),
    );
    part(
      "Splint",
      // A line whose words are no longer the rule's own is the clinician's decision.
      digit.splints.map((l) =>
        l.text === l.effect.say
          ? `${l.splint.what}; ${l.splint.joints.join(", ")}; ${l.splint.position}; ${l.splint.wear}`
          : l.text,
      ),
    );
    part(
      "Antibiotic",
      orUndecided(
        "antibiotic",
        digit.antibiotic.map((l) => l.text),
      ),
    );
    part(
      "Tetanus",
      orUndecided(
        "tetanus",
        digit.tetanus.map((l) => l.text),
      ),
    );
    part(
      "Local anaesthetic",
      orUndecided(
        "anaesthetic",
        digit.anaesthetic.map((l) => l.text),
      ),
    );
    part(
      "Watch for",
      digit.warnings.map((l) => l.text),
    );
    part(
      "Come back at once if",
      digit.advice.filter((a) => a.effect.redFlag).map((l) => l.text),
    );
    part(
      "Advice",
      digit.advice.filter((a) => !a.effect.redFlag).map((l) => l.text),
    );
    part(
      "To do",
      digit.tasks.map((l) => l.text),
    );
    part(
      "Later: what to look for",
      digit.later.map((l) => l.text),
    );
  });
  part(
    "Visits",
    assessment.visits.map((v) => {
      const what = `${PURPOSE_WORDS[v.purpose]}, ${v.who}`;
      const when = v.dates
        ? `aim for ${sayDay(v.dates.ideal)} (${sayDay(v.dates.earliest)} to ${sayDay(v.dates.latest)})`
        : awaitsOperation(v)
          ? `aim for day ${v.ideal} after the operation`
          : `day ${v.ideal} (${v.earliest} to ${v.latest})`;
      return [`${what}: ${when}.`, visitCheck(v), v.dates ? weekendNote(v.dates.ideal) : ""].filter(Boolean).join(" ");
    }),
  );
  part("Decided differently", changed.map(decisionWords));
  out.push(
    "",
    `Fingerpost ${appVersion}, knowledge ${assessment.knowledgeVersion}, site policy ${assessment.policy.site}. Decision support; the clinician decides.`,
  );
  return out.join("\n");
}
