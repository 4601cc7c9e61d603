/** The same draw for the same seed (mulberry32). */
function random(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** A sample of `size`, every group in proportion: group by group, shuffled inside it, and from this row one at every even step. */
export function drawn<T>(all: readonly T[], size: number | undefined, seed: number, groupOf: (one: T) => string): T[] {
  if (size === undefined || size >= all.length) return [...all];
  const draw = random(seed);
  const order = new Map(all.map((one) => [one, draw()]));
  const row = [...all].sort((a, b) => groupOf(a).localeCompare(groupOf(b)) || order.get(a)! - order.get(b)!);
  const share = size / all.length;
  const chosen = new Set(row.filter((_, i) => Math.floor((i + 1) * share) > Math.floor(i * share)));
  return all.filter((one) => chosen.has(one));
}
