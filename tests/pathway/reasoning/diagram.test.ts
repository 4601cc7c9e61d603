import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { ALWAYS, Diagrams, NEVER, type Node, OPEN } from "../../../src/pathway/reasoning/diagram.ts";

const DOMAINS = [[1, 2, 3], [0, 1, 2], [1, 2], [1], [2, 5, 7, 9]] as const;
/** A statement as a tree, read plainly beside its diagram. */
type Tree =
  | { readonly variable: number; readonly codes: readonly number[] }
  | { readonly of: "and" | "or"; readonly parts: readonly Tree[] }
  | { readonly not: Tree };
const { tree } = fc.letrec<{ tree: Tree }>((tie) => ({
  tree: fc.oneof(
    { depthSize: "medium", withCrossShrink: true },
    fc
      .integer({ min: 0, max: DOMAINS.length - 1 })
      .chain((variable) => fc.subarray([...DOMAINS[variable]!]).map((codes): Tree => ({ variable, codes }))),
    fc
      .tuple(fc.constantFrom("and" as const, "or" as const), fc.array(tie("tree"), { maxLength: 3 }))
      .map(([of, parts]): Tree => ({ of, parts })),
    tie("tree").map((inner): Tree => ({ not: inner })),
  ),
}));
const plainly = (t: Tree, codes: readonly number[]): boolean =>
  "not" in t
    ? !plainly(t.not, codes)
    : "of" in t
      ? t.of === "and"
        ? t.parts.every((p) => plainly(p, codes))
        : t.parts.some((p) => plainly(p, codes))
      : t.codes.includes(codes[t.variable]!);
const drawn = (d: Diagrams, t: Tree): Node =>
  "not" in t
    ? d.not(drawn(d, t.not))
    : "of" in t
      ? (t.of === "and" ? d.all : d.any).call(
          d,
          t.parts.map((p) => drawn(d, p)),
        )
      : d.among(t.variable, new Set(t.codes));
const RECORDS = DOMAINS.reduce<readonly (readonly number[])[]>(
  (all, domain) => all.flatMap((r) => domain.map((code) => [...r, code])),
  [[]],
);
const partial = fc.tuple(...DOMAINS.map((domain) => fc.constantFrom(OPEN, ...domain)));
const fitsPartial = (record: readonly number[], known: readonly number[]) =>
  record.every((code, v) => known[v] === OPEN || known[v] === code);

describe("a decision diagram", () => {
  it("holds for the records for which its statement does, and counts them", () => {
    fc.assert(
      fc.property(tree, (t) => {
        const d = new Diagrams(DOMAINS);
        const node = drawn(d, t);
        const holding = RECORDS.filter((r) => plainly(t, r));
        for (const r of RECORDS) expect(d.holds(node, Uint8Array.from(r))).toBe(plainly(t, r));
        expect(d.count(node)).toBe(holding.length);
        expect(node === NEVER).toBe(holding.length === 0);
        expect(node === ALWAYS).toBe(holding.length === RECORDS.length);
        const witness = d.witness(node);
        expect(witness === undefined).toBe(holding.length === 0);
        if (witness) for (const r of RECORDS) if (fitsPartial(r, [...witness])) expect(plainly(t, r)).toBe(true);
      }),
    );
  });
  it("is the same node for equal statements, however they were put", () => {
    fc.assert(
      fc.property(tree, tree, (a, b) => {
        const d = new Diagrams(DOMAINS);
        const equal = RECORDS.every((r) => plainly(a, r) === plainly(b, r));
        expect(drawn(d, a) === drawn(d, b)).toBe(equal);
        expect(drawn(d, { not: { of: "or", parts: [a, b] } })).toBe(
          drawn(d, { of: "and", parts: [{ not: a }, { not: b }] }),
        );
      }),
    );
  });
  it("narrowed to a partial record says what its completions say, and hangs on exactly what still matters", () => {
    fc.assert(
      fc.property(tree, partial, (t, known) => {
        const d = new Diagrams(DOMAINS);
        const [node] = d.restrict([drawn(d, t)], Uint8Array.from(known));
        const completions = RECORDS.filter((r) => fitsPartial(r, known));
        for (const r of completions) expect(d.holds(node!, Uint8Array.from(r))).toBe(plainly(t, r));
        const support = d.support([node!]);
        DOMAINS.forEach((domain, v) => {
          const matters = completions.some((r) =>
            domain.some((code) => known[v] === OPEN && plainly(t, r) !== plainly(t, r.with(v, code))),
          );
          expect(support.has(v)).toBe(matters);
        });
      }),
    );
  });
  it("forgets what was made since it was kept, and makes it again", () => {
    fc.assert(
      fc.property(tree, tree, (a, b) => {
        const d = new Diagrams(DOMAINS);
        const first = drawn(d, a);
        d.keep();
        const kept = d.nodes;
        const second = drawn(d, b);
        const made = d.nodes;
        d.forget();
        expect(d.nodes).toBe(kept);
        expect([drawn(d, a), drawn(d, b)]).toEqual([first, second]);
        expect(d.nodes).toBe(made);
      }),
    );
  });
  it("keeps its nodes apart when there are many of them", () => {
    const wide = new Diagrams(Array.from({ length: 40 }, () => [1, 2, 3]));
    const pairs = Array.from({ length: 20 }, (_, i) =>
      wide.and(wide.among(i, new Set([1])), wide.among(39 - i, new Set([2, 3]))),
    );
    // Nested pairs are the worst order there is: the diagram has to remember every first half.
    const ten = wide.any(pairs.slice(0, 14));
    expect(wide.nodes).toBeGreaterThan(16_384);
    expect(wide.count(ten)).toBeCloseTo(3 ** 40 * (1 - (7 / 9) ** 14), -8);
    expect(wide.any([...pairs.slice(0, 14)].reverse())).toBe(ten);
  });
  it("is turned round and back over three hundred findings of 255 values each", () => {
    const values = Array.from({ length: 255 }, (_, code) => code);
    const deep = new Diagrams(Array.from({ length: 300 }, () => values));
    const all = deep.all(deep.domains.map((_, v) => deep.among(v, new Set([7]))));
    const not = deep.not(all);
    expect(deep.not(not)).toBe(all);
    expect([deep.and(all, not), deep.or(all, not)]).toEqual([NEVER, ALWAYS]);
  });
  it("gives up with a word on it rather than fill the memory", () => {
    const small = new Diagrams(
      Array.from({ length: 40 }, () => [1, 2, 3]),
      65_536,
    );
    const pairs = Array.from({ length: 20 }, (_, i) =>
      small.and(small.among(i, new Set([1])), small.among(39 - i, new Set([2, 3]))),
    );
    expect(() => small.any(pairs)).toThrow("too many nodes");
  });
});
