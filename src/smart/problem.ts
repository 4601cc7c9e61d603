/** A failure as a value: what happened, what was not done, and the one next step, in words ready to be shown as text. */
export interface Problem<Kind extends string = string> {
  readonly kind: Kind;
  /** What happened. */
  readonly title: string;
  /** What was not done, or what is safe. */
  readonly what: string;
  /** The one next step. */
  readonly next: string;
  /** Host of another party; show it as text, never as a link. */
  readonly host?: string;
  /** The server's own words, shortened. May hold chart data: show it in a labelled box, never log it. */
  readonly serverSaid?: string;
}

export type LaunchProblemKind =
  | "config"
  | "storage-blocked"
  | "insecure"
  | "unknown-issuer"
  | "bad-launch-link"
  | "no-launch"
  | "server-unreachable"
  | "no-pkce"
  | "denied"
  | "state"
  | "code-refused"
  | "bad-token"
  | "no-patient"
  | "other-server"
  | "open-elsewhere"
  | "replaced";

export type LaunchProblem = Problem<LaunchProblemKind>;

/** `ended`: sign in again from the chart. `locked`: the server spoke of another patient, nothing may be written. */
export type SessionProblem = Problem<"ended" | "locked">;

export type Failed<Kind extends string> = { readonly ok: false; readonly problem: Problem<Kind> };

export const AGAIN_FROM_CHART = "Go back to the patient's chart and open Fingerpost from there again.";

/** A failed outcome in the three sentences that every problem has. */
export function failed<Kind extends string>(
  kind: Kind,
  title: string,
  what: string,
  next: string = AGAIN_FROM_CHART,
  more: { host?: string; serverSaid?: string } = {},
): Failed<Kind> {
  return { ok: false, problem: { kind, title, what, next, ...more } };
}

// The server's words can hold control and direction-changing characters that would garble the sentence around them.
const UNPRINTABLE = /[\p{Cc}\p{Cf}]+/gu;

/** Text of another party, made safe to show: one line, no control or direction marks, at most `limit` characters. */
export function shortened(text: string, limit = 300): string {
  const line = text.replace(UNPRINTABLE, " ").trim();
  return line.length > limit ? `${line.slice(0, limit)}…` : line;
}
