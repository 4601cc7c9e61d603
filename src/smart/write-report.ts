/** What is told of a write: per item, and as a whole. */
import type { Act } from "../fhir/codings.ts";
import type { DraftItem } from "../fhir/drafts.ts";
import type { StoredChange } from "../fhir/stored-change.ts";
import type { Filing } from "./filing.ts";
import type { Problem } from "./problem.ts";
import type { Session } from "./session.ts";

export interface WriteContext {
  /** Instant of the act with its offset, frozen when the review was opened. */
  readonly at: string;
  /** What the screen knows to be stored, by item key. */
  readonly known?: { readonly [key: string]: { readonly reference: string; readonly version?: string } };
  /** Earlier documents of the same plan or injury, which a new one replaces. */
  readonly replaces?: readonly string[];
  /** What the clinician was shown of what will be filed and how: nothing else is written. */
  readonly filing?: Filing;
  /** What the same act changes of an earlier plan, each over the version that was read. */
  readonly changes?: readonly StoredChange[];
  /** Plans for this injury that the clinician knows of; absent: those that were in the chart as it was read. Any other one in force stops a signature. */
  readonly plansSeen?: readonly string[];
  /** Asked right before anything is sent: why it may not be, such as a chart that changed since it was read. */
  readonly beforeSending?: () => Promise<Problem | undefined>;
  readonly onStep?: (step: WriteStep) => void;
  readonly signal?: AbortSignal;
  /** Waits so many milliseconds. */
  readonly wait?: (ms: number) => Promise<void>;
}
export type WriteStep = "checking" | "sending" | "looking" | "confirming";

export interface ItemOutcome {
  readonly key: string;
  readonly title: string;
  /** "as-draft": it is stored, as a draft that has no effect, and is not signed. */
  readonly outcome: "saved" | "as-draft" | "not-saved" | "unknown";
  readonly reason?: string;
  /** "CarePlan/12" */
  readonly reference?: string;
  readonly version?: string;
  /** Paths of what the record system changed or dropped. */
  readonly differences?: readonly string[];
}
export interface WriteReport {
  readonly act: Act;
  /** All items saved; none stored; some stored and it is known which; anything else. */
  readonly outcome: "saved" | "not-saved" | "part" | "unknown";
  readonly items: readonly ItemOutcome[];
  /** Who did what; stored with the items. */
  readonly provenance?: ItemOutcome;
  readonly problem?: Problem;
  /** A refusal changed what can be filed: nothing more is written before the clinician has seen it. */
  readonly otherwise?: boolean;
}

export type Writing = Pick<Session, "context" | "config" | "can" | "signer" | "state" | "lastsFor" | "fhir">;

/** One write of one plan. */
export interface Job {
  readonly session: Writing;
  readonly items: readonly DraftItem[];
  readonly act: Act;
  readonly context: WriteContext;
}

export const KEPT = "Your draft is kept on this page.";
export const AGAIN = "Try again.";

export function problem(title: string, what: string, next: string): Problem {
  return { kind: "write", title, what, next };
}
export const pauseOf = ({ wait }: WriteContext) =>
  wait ?? ((ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms)));
export const signalOf = ({ signal }: WriteContext) => (signal ? { signal } : {});

export const changesIn = ({ changes }: WriteContext) => (changes?.length ? { changes } : {});

/** Whose outcome is told: what is written by this act, and what is changed with it. */
const toWrite = ({ items, act, context: { changes = [] } }: Pick<Job, "items" | "act" | "context">) => [
  ...items.filter(
    (item) => !item.removed && item.kind !== "provenance" && !item.stands && !(item.refines && act === "draft"),
  ),
  ...changes,
];

/** Nothing was stored, for one reason. */
export function notSaved(job: Job, reason: Problem): WriteReport {
  return {
    act: job.act,
    outcome: "not-saved",
    problem: reason,
    items: toWrite(job).map(({ key, title }) => ({ key, title, outcome: "not-saved", reason: reason.title })),
  };
}

/** Nothing could be looked at, for one reason. */
export function unknownAll(job: Pick<Job, "items" | "act" | "context">, reason: string): WriteReport {
  return {
    act: job.act,
    outcome: "unknown",
    problem: problem("It could not be checked what was stored.", reason, AGAIN),
    items: toWrite(job).map(({ key, title }) => ({ key, title, outcome: "unknown", reason })),
  };
}

/** The report of what was found item by item; `because`: what ended the writing early. */
export function reportFrom(
  act: Act,
  outcomes: readonly ItemOutcome[],
  isRecord: (at: number) => boolean,
  problemOf: (items: readonly ItemOutcome[], outcome: WriteReport["outcome"]) => Problem | undefined,
): WriteReport {
  const items = outcomes.filter((_, at) => !isRecord(at));
  const provenance = outcomes.find((_, at) => isRecord(at));
  const all = (...some: ItemOutcome["outcome"][]) => items.every((one) => some.includes(one.outcome));
  const outcome = all("saved")
    ? "saved"
    : all("not-saved")
      ? "not-saved"
      : all("saved", "as-draft", "not-saved")
        ? "part"
        : "unknown";
  const why = outcome === "saved" ? undefined : problemOf(items, outcome);
  return { act, outcome, items, ...(provenance ? { provenance } : {}), ...(why ? { problem: why } : {}) };
}
