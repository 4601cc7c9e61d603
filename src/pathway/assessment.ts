import type { Citation } from "./evidence/citation.ts";
import type { Effect, Splint, Urgency, Visit } from "./hand/effects.ts";
import type { UrgencyWords } from "./hand/urgency-words.ts";

/** Why a line stands there: the findings that made the rule hold, and on whose authority. */
export interface Reason {
  readonly rule: string;
  readonly because: string;
  readonly used: readonly UsedFinding[];
  readonly sources: readonly Citation[];
}
export interface UsedFinding {
  readonly finding: string;
  readonly value: string | number;
}
/** One thing the assessment says. */
export interface Line {
  readonly rule: string;
  readonly text: string;
  readonly because: string;
  readonly sources: readonly Citation[];
}
export interface EffectLine<K extends Effect["kind"] = Effect["kind"]> extends Line {
  readonly effect: Extract<Effect, { kind: K }>;
}
export interface ClassLine extends Line {
  readonly class: string;
  readonly name: string;
}
export interface UrgencyStatement {
  /** The urgency to act on now; absent while a red-flag question is open ("cannot decide"). */
  readonly level?: Urgency;
  /** True while an unanswered question could still make it more urgent: `level` is then the most urgent still possible. */
  readonly open: boolean;
  /** Most urgent level that is already sure. */
  readonly sure?: Urgency;
  readonly because: readonly Line[];
}
/** The urgency of a whole case, with this site's windows in words. */
export interface CaseUrgency extends UrgencyStatement {
  readonly words?: UrgencyWords;
}
export interface VisitWindow extends Visit {
  readonly rule: string;
  readonly because: string;
  readonly sources: readonly Citation[];
  /** Of a visit counted from an operation: days after the injury on which a surgeon plans it; it only gives the visit its place in the list. */
  readonly operationFrom?: number;
  /** Calendar dates (yyyy-MM-dd) when the day that its days count from is known. */
  readonly dates?: { readonly earliest: string; readonly ideal: string; readonly latest: string };
}
export interface SplintLine extends EffectLine<"splint"> {
  readonly splint: Splint;
}

/** The assessment of one injured digit. Every list holds only what is sure; `stillPossible` holds what is open. */
export interface DigitAssessment {
  readonly module: string;
  readonly exits: readonly EffectLine<"exit">[];
  /** True when an exit that leaves the ordinary pathway is sure: management, splint and follow-up are then silent. */
  readonly leftPathway: boolean;
  /** A red flag that cannot be judged may still be an exit that leaves: treatment of an ordinary fracture is said under that condition. */
  readonly mayLeave: boolean;
  readonly quality: readonly EffectLine<"quality">[];
  readonly classes: readonly ClassLine[];
  readonly possibleClasses: readonly ClassLine[];
  readonly urgency: UrgencyStatement;
  readonly today: readonly EffectLine<"today">[];
  readonly antibiotic: readonly EffectLine<"antibiotic" | "antibiotic-class">[];
  readonly tetanus: readonly EffectLine<"tetanus">[];
  readonly anaesthetic: readonly Line[];
  readonly management: readonly EffectLine<"manage">[];
  readonly splints: readonly SplintLine[];
  readonly visits: readonly VisitWindow[];
  readonly warnings: readonly EffectLine<"warn">[];
  readonly advice: readonly EffectLine<"advise">[];
  readonly tasks: readonly EffectLine<"task">[];
  /** What to look for in the weeks and months after today, and what it leads to. */
  readonly later: readonly EffectLine<"later">[];
  readonly stillPossible: readonly EffectLine[];
  /** Findings whose answer can still change something, natural order, red flags first. */
  readonly ask: readonly string[];
  /** Findings answered "cannot tell" that still matter: carried as tasks. */
  readonly cannotTell: readonly string[];
  /** "settled": nothing can change it any more, nor is anything to be looked at again; "cannot-decide": no urgency or no class yet; else "provisional". */
  readonly state: "cannot-decide" | "provisional" | "settled";
}

export interface CaseAssessment {
  readonly knowledgeVersion: string;
  readonly policy: { readonly site: string; readonly approvedOn: string };
  readonly digits: readonly DigitAssessment[];
  /** Most urgent of all digits. */
  readonly urgency: CaseUrgency;
  /** Union over digits, same purpose and overlapping window merged: the earliest dates win. */
  readonly visits: readonly VisitWindow[];
  readonly state: DigitAssessment["state"];
}
