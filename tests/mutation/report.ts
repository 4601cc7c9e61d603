/** What became of the planted faults, as a table and as a list of those that no test noticed. */
import type { Outcome } from "./worker.ts";

/** A survivor that no complete record can show is no fault: it is counted apart. */
export const changesNothing = (o: Outcome): boolean => o.end === "survived" && o.difference === "none";
export const isNoticed = (o: Outcome): boolean => o.end !== "survived";

/** Per cent of the faults that tests noticed; 100 of none. */
export function score(of: readonly Outcome[]): number {
  const counted = of.filter((o) => !changesNothing(o));
  return counted.length === 0 ? 100 : (100 * counted.filter(isNoticed).length) / counted.length;
}

function row(name: string, of: readonly Outcome[]): string {
  const noticed = of.filter(isNoticed).length;
  const late = of.filter((o) => o.end === "timed out").length;
  const nothing = of.filter(changesNothing).length;
  const percent = of.length === nothing ? "-" : score(of).toFixed(1);
  return `| ${[name, of.length, noticed, late, nothing, of.length - noticed - nothing, percent].join(" | ")} |`;
}

function grouped<T>(all: Iterable<T>, groupOf: (one: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const one of all) groups.set(groupOf(one), [...(groups.get(groupOf(one)) ?? []), one]);
  return groups;
}

/** Rows of a Markdown table, one for each group and one for all. */
export function tableOf<F>(results: ReadonlyMap<F, Outcome>, groupOf: (fault: F) => string): string {
  const groups = grouped(results, ([fault]) => groupOf(fault));
  return [
    "| where | faults | noticed | of these by running too long | change nothing | survived | score % |",
    "|---|---|---|---|---|---|---|",
    ...[...groups]
      .sort(([a], [b]) => a.localeCompare(b))
      .map(([name, of]) =>
        row(
          name,
          of.map(([, o]) => o),
        ),
      ),
    row("**all**", [...results.values()]),
  ].join("\n");
}

/** One chapter for each reason; the reasons with the fewest faults first. */
export function listOf<F>(
  survivors: readonly F[],
  reasonOf: (fault: F) => string,
  nameOf: (fault: F) => string,
): string {
  return [...grouped(survivors, reasonOf)]
    .sort(([, a], [, b]) => a.length - b.length)
    .map(([reason, of]) => {
      const lines = of.map((f) => `- \`${nameOf(f).replaceAll("`", "'")}\``);
      return `### ${reason}\n\n${of.length} of them:\n\n${lines.join("\n")}`;
    })
    .join("\n\n");
}

/** The five that took longest. */
export function slowest<F>(results: ReadonlyMap<F, Outcome>, nameOf: (fault: F) => string): string {
  return [...results]
    .sort(([, a], [, b]) => b.ms - a.ms)
    .slice(0, 5)
    .map(([f, o]) => `${nameOf(f)} ${(o.ms / 1000).toFixed(1)} s (${o.end})`)
    .join("; ");
}
