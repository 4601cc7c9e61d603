/**
 * What became of one part of the chart. "empty": the server answered and has none. "refused": 401, 403. "unsupported": the server has no
 * such type. "not-allowed": the launch granted no scope for it, so it was never asked. None of them means "no known ...".
 */
export type PartState = "found" | "empty" | "refused" | "unsupported" | "failed" | "not-allowed" | "reading";
export interface PartResult {
  readonly state: PartState;
  readonly resources: readonly unknown[];
  /** The server holds more than was read. */
  readonly more: boolean;
  readonly note?: string | undefined;
  /** Something was found, but one of the searches was not answered. */
  readonly inPart?: boolean | undefined;
}
export const READING: PartResult = { state: "reading", resources: [], more: false };

const WORST_FIRST: readonly PartState[] = ["reading", "failed", "refused", "not-allowed", "unsupported", "empty"];

/** Several searches of one part as one result: found when anything was found, with a note on what was not read; else the worst state. */
export function joinResults(results: readonly PartResult[]): PartResult {
  const resources = results.flatMap((r) => r.resources);
  const state =
    resources.length > 0 ? "found" : (WORST_FIRST.find((s) => results.some((r) => r.state === s)) ?? "empty");
  const missing = results.some((r) => !["found", "empty"].includes(r.state));
  const notes = [
    ...results.flatMap((r) => r.note ?? []),
    ...(missing && state === "found" ? ["part of this could not be read"] : []),
  ];
  return {
    state,
    resources,
    more: results.some((r) => r.more),
    note: [...new Set(notes)].join("; ") || undefined,
    ...(missing && state === "found" ? { inPart: true } : {}),
  };
}
