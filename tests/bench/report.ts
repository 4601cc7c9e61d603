/** One measured line. A line without a target is printed for the reader and can not be missed. */
export interface Measured {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  readonly target?: { readonly atMost: number } | { readonly atLeast: number };
}

const shown = (value: number) =>
  Math.abs(value) >= 1000 ? Math.round(value).toLocaleString("en") : Number(value.toPrecision(3)).toString();

export function isMissed({ value, target }: Measured): boolean {
  if (target === undefined) return false;
  // A value that could not be measured (NaN) is missed too.
  return "atMost" in target ? !(value <= target.atMost) : !(value >= target.atLeast);
}

/** `name: measured (target) ok|MISSED` */
export function lineOf(measured: Measured): string {
  const { name, value, unit, target } = measured;
  const said = `${name}: ${shown(value)}${unit ? ` ${unit}` : ""}`;
  if (target === undefined) return said;
  const bound = "atMost" in target ? `at most ${shown(target.atMost)}` : `at least ${shown(target.atLeast)}`;
  return `${said} (${bound}) ${isMissed(measured) ? "MISSED" : "ok"}`;
}

export const median = (values: readonly number[]): number => {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
};
