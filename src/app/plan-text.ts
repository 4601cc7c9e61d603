import {
  type CaseAssessment,
  type CaseRecord,
  type Facts,
  type InjuryModule,
  type SitePolicy,
  urgencyWords,
} from "../pathway/index.ts";
import type { OwnDecision } from "./case-state.ts";
import { sayDay } from "./say-date.ts";
import { PURPOSE_WORDS } from "./tasks/see-advice/words.ts";
import { sayDigit } from "./which-questions.ts";
import { upper } from "./words.ts";

export interface PlanTextInput {
  readonly patient: string;
  readonly module: InjuryModule;
  readonly policy: SitePolicy;
  readonly record: CaseRecord;
  readonly facts: readonly Facts[];
  readonly assessment: CaseAssessment;
  readonly decisions: readonly OwnDecision[];
  readonly appVersion: string;
}
/** The whole plan as plain text: for copying when a print, a download or a write is not possible. Carries versions and time. */
export function planText({
  patient,
  module,
  policy,
  record,
  facts,
  assessment,
  decisions,
  appVersion,
}: PlanTextInput): string {
  const out: string[] = [`${module.title}: plan`, `Patient: ${patient}`, `Assessed: ${sayDay(record.assessedAt)}`];
  if (record.injuredAt) out.push(`Injured: ${sayDay(record.injuredAt)}`);
  const { level, open } = assessment.urgency;
  out.push(
    `Urgency: ${level ? urgencyWords(level, policy).title : "cannot decide yet"}${level && open ? " (open answers remain)" : ""}`,
  );
  const part = (title: string, lines: readonly string[]) => {
    if (lines.length > 0) out.push("", title, ...lines.map((l) => `- ${l}`));
  };
  assessment.digits.forEach((digit, i) => {
    out.push("", upper(sayDigit(module, facts[i] ?? {}) ?? `Finger ${i + 1}`).toUpperCase());
    part(
      "Leave the ordinary pathway",
      digit.exits.map((e) => `${e.effect.title}: ${e.text} ${e.effect.sendTo}`),
    );
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
      digit.splints.map(
        (l) => `${l.splint.what}; ${l.splint.joints.join(", ")}; ${l.splint.position}; ${l.splint.wear}`,
      ),
    );
    part(
      "Antibiotic",
      digit.antibiotic.map((l) => l.text),
    );
    part(
      "Tetanus",
      digit.tetanus.map((l) => l.text),
    );
    part(
      "Local anaesthetic",
      digit.anaesthetic.map((l) => l.text),
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
  });
  part(
    "Visits",
    assessment.visits.map((v) =>
      v.dates
        ? `${PURPOSE_WORDS[v.purpose]}, ${v.who}: aim for ${sayDay(v.dates.ideal)} (${sayDay(v.dates.earliest)} to ${sayDay(v.dates.latest)}). ${v.check}`
        : `${PURPOSE_WORDS[v.purpose]}, ${v.who}: day ${v.ideal} (${v.earliest} to ${v.latest}). ${v.check}`,
    ),
  );
  part(
    "Decided differently",
    decisions.map((d) => `${d.decided} instead of ${d.proposed}. Reason: ${d.reason}`),
  );
  out.push(
    "",
    `Fingerpost ${appVersion}, knowledge ${assessment.knowledgeVersion}, site policy ${assessment.policy.site}. Decision support; the clinician decides.`,
  );
  return out.join("\n");
}
