import { describe, expect, it } from "vitest";
import { ALWAYS, Diagrams, NEVER, OPEN } from "../../../src/pathway/reasoning/diagram.ts";

const O = OPEN;
const listed = (codes: Iterable<Uint8Array>) => [...codes].map((c) => [...c]);

describe("walking through a diagram", () => {
  it("gives each branch of each node once, with one way that leads to it", () => {
    const d = new Diagrams([
      [1, 2],
      [1, 2],
      [1, 2],
    ]);
    // First one: the second decides; first two: the third decides.
    const node = d.or(
      d.and(d.among(0, new Set([1])), d.among(1, new Set([1]))),
      d.and(d.among(0, new Set([2])), d.among(2, new Set([1]))),
    );
    expect(listed(d.branchesOf([node]))).toEqual([
      [1, O, O],
      [1, 1, O],
      [1, 2, O],
      [2, O, O],
      [2, O, 1],
      [2, O, 2],
    ]);
  });
  it("walks a part that two ways share, or that two statements share, only once", () => {
    const d = new Diagrams([
      [1, 2, 3],
      [4, 5],
    ]);
    const last = d.among(1, new Set([4]));
    const node = d.and(d.among(0, new Set([1, 2])), last);
    expect(listed(d.branchesOf([node, last]))).toEqual([
      [1, O],
      [1, 4],
      [1, 5],
      [2, O],
      [3, O],
    ]);
    expect(listed(d.branchesOf([last, node]))).toHaveLength(5);
  });
  it("finds nothing to walk in what always or never holds", () =>
    expect(listed(new Diagrams([[1, 2]]).branchesOf([ALWAYS, NEVER]))).toEqual([]));
});

describe("a witness", () => {
  const d = new Diagrams([
    [1, 2],
    [1, 2, 3],
  ]);
  const node = d.or(d.among(0, new Set([2])), d.among(1, new Set([2, 3])));
  it("keeps to the codes one prefers, as far as the statement allows", () => {
    expect([...d.witness(node, Uint8Array.of(1, 3))!]).toEqual([1, 3]);
    expect([...d.witness(node, Uint8Array.of(1, 1))!]).toEqual([1, 2]);
    expect([...d.witness(node, Uint8Array.of(2, 1))!]).toEqual([2, O]);
    expect([...d.witness(node)!]).toEqual([1, 2]);
  });
  it("there is none of what never holds, and nothing is asked of what always holds", () => {
    expect(d.witness(NEVER)).toBeUndefined();
    expect([...d.witness(ALWAYS)!]).toEqual([O, O]);
  });
});

describe("what a statement hangs on", () => {
  it("is told apart among more variables than fit in one word", () => {
    const d = new Diagrams(Array.from({ length: 70 }, () => [1, 2]));
    const read = [0, 31, 32, 63, 64, 69];
    const node = d.all(read.map((v) => d.among(v, new Set([1]))));
    expect([...d.support([node])].sort((a, b) => a - b)).toEqual(read);
    for (let v = 0; v < 70; v++) expect(d.hangsOn(node, v), `variable ${v}`).toBe(read.includes(v));
    const decided = new Uint8Array(70).fill(OPEN);
    decided[32] = 1;
    decided[69] = 1;
    const [rest] = d.restrict([node], decided);
    expect([...d.support([rest!])].sort((a, b) => a - b)).toEqual([0, 31, 63, 64]);
    expect(d.variableOf(rest!)).toBe(0);
    expect(d.variableOf(ALWAYS)).toBe(70);
  });
});

describe("narrowing", () => {
  it("ends when another begins: an old one is refused, not answered wrongly", () => {
    const d = new Diagrams([
      [1, 2],
      [1, 2],
    ]);
    const node = d.and(d.among(0, new Set([1])), d.among(1, new Set([1])));
    const first = d.narrowing(Uint8Array.of(1, OPEN));
    expect(d.variableOf(first(node))).toBe(1);
    d.narrowing(Uint8Array.of(2, OPEN));
    expect(() => first(node)).toThrow("another narrowing has begun");
  });
});

describe("forgetting", () => {
  const some = (d: Diagrams, from: number) =>
    d.any([0, 1, 2].map((i) => d.and(d.among(from + i, new Set([1])), d.among(from + i + 3, new Set([2])))));
  it("without anything kept leaves an empty store that works", () => {
    const d = new Diagrams(Array.from({ length: 8 }, () => [1, 2]));
    const first = some(d, 0);
    const made = d.nodes;
    d.forget();
    expect(d.nodes).toBe(2);
    some(d, 1);
    d.forget();
    expect(some(d, 0)).toBe(first);
    expect(d.nodes).toBe(made);
    expect(d.and(first, d.not(first))).toBe(NEVER);
  });
  it("comes back to what was kept even after the store has grown", () => {
    const wide = new Diagrams(Array.from({ length: 40 }, () => [1, 2, 3]));
    const pairs = (from: number, to: number) =>
      Array.from({ length: to - from }, (_, i) =>
        wide.and(wide.among(from + i, new Set([1])), wide.among(39 - from - i, new Set([2, 3]))),
      );
    const kept = wide.any(pairs(0, 6));
    wide.keep();
    const before = wide.nodes;
    const large = wide.any(pairs(0, 14));
    expect(wide.nodes).toBeGreaterThan(16_384);
    wide.forget();
    expect(wide.nodes).toBe(before);
    expect(wide.any(pairs(0, 6))).toBe(kept);
    expect(wide.nodes).toBe(before);
    expect(wide.any(pairs(0, 14))).toBe(large);
    expect(wide.count(kept)).toBeCloseTo(3 ** 40 * (1 - (7 / 9) ** 6), -8);
  });
});
