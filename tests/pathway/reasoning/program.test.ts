import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { commonPractice } from "../../../src/pathway/evidence/citation.ts";
import { choice, type FindingDefinitions, quantity } from "../../../src/pathway/reasoning/finding.ts";
import {
  type AnySign,
  type AnyTable,
  compile,
  type Facts,
  type Program,
} from "../../../src/pathway/reasoning/program.ts";
import { fits, from, type Row, under } from "../../../src/pathway/reasoning/table.ts";
import { and, or, type Trilean } from "../../../src/pathway/reasoning/trilean.ts";

const FINDINGS: FindingDefinitions = {
  colour: choice("digit", "pink", "pale", "white"),
  open: choice("injury", "yes", "no"),
  hours: quantity("injury", "hours", 0, 1000),
  share: quantity("digit", "%", 0, 100),
};
type PlainRow = Readonly<Record<string, unknown>>;

/** The plain reading of rows, cell by cell, with which the compiled one is compared. */
const rowHolds = (row: PlainRow, known: Facts): Trilean =>
  and(Object.entries(row).map(([column, cell]) => fits(cell, known[column])));
function plainly(program: Program, facts: Facts) {
  const known: Record<string, string | number | undefined> = { ...facts };
  for (const sign of program.signs) {
    const holds = or((sign.any as readonly PlainRow[]).map((row) => rowHolds(row, known)));
    known[sign.name] = holds === "unknown" ? "not-asked" : holds ? "yes" : "no";
  }
  const ids = (t: AnyTable, wanted: Trilean) =>
    t.rules.filter((r) => rowHolds(r.when as PlainRow, known) === wanted).map((r) => r.id);
  return {
    signs: Object.fromEntries(program.signs.map((s) => [s.name, known[s.name]])),
    tables: program.tables.map((t) => ({ sure: ids(t, true), possible: ids(t, "unknown") })),
  };
}
function compiled(program: Program, facts: Facts) {
  const { signs, verdicts } = compile(program)(facts);
  return {
    signs,
    tables: verdicts.map((v) => ({ sure: v.sure.map((r) => r.id), possible: v.possible.map((r) => r.id) })),
  };
}

const LIMITS = [0, 6, 12, 20, 24, 33.3, 50, 100];
const span = fc.oneof(
  fc.constantFrom(...LIMITS).map((l) => from(l)),
  fc.constantFrom(...LIMITS).map((l) => under(l)),
  fc
    .tuple(fc.constantFrom(...LIMITS), fc.constantFrom(...LIMITS))
    .map(([a, b]) => from(Math.min(a, b), Math.max(a, b))),
);
const oneOrMore = (...values: string[]) => fc.oneof(fc.constantFrom(...values), fc.subarray(values, { minLength: 1 }));
const CELLS: { readonly [column: string]: fc.Arbitrary<unknown> } = {
  colour: oneOrMore("pink", "pale", "white"),
  open: oneOrMore("yes", "no"),
  hours: span,
  share: span,
};
const yesNo = oneOrMore("yes", "no");
const rowOver = (signs: readonly string[]) =>
  fc.record({ ...CELLS, ...Object.fromEntries(signs.map((s) => [s, yesNo])) }, { requiredKeys: [] });
const signNames = ["first", "second", "third"];
const signs = fc.tuple(
  ...signNames.map((name, i) =>
    fc.array(rowOver(signNames.slice(0, i)), { maxLength: 4 }).map((any) => ({ name, words: name, any }) as AnySign),
  ),
);
/** Rows made at random or wrong on purpose are not typed. */
const tableOfRows = (id: string, rows: readonly PlainRow[]): AnyTable => ({
  id,
  question: "?",
  answers: "every",
  rules: rows.map((when, i) => ({
    id: `${id}-${i + 1}`,
    when: when as Row<never>,
    then: [],
    because: "",
    sources: [commonPractice],
  })),
});
// More than 32 and more than 64 rows too: rows are packed in words of 32 bits.
const tableOf = (id: string) =>
  fc
    .oneof(
      fc.array(rowOver(signNames), { maxLength: 6 }),
      fc.array(rowOver(signNames), { minLength: 31, maxLength: 70 }),
    )
    .map((rows) => tableOfRows(id, rows));
const program: fc.Arbitrary<Program> = fc
  .tuple(signs, tableOf("A"), tableOf("B"))
  .map(([s, a, b]) => ({ findings: FINDINGS, signs: s, tables: [a, b] }));
const absent = fc.constantFrom(undefined, "not-asked", "cannot-tell");
const near = fc.constantFrom(...LIMITS.flatMap((l) => [l - 0.1, l, l + 0.1]).filter((n) => n >= 0));
const facts = fc.record({
  colour: fc.oneof(fc.constantFrom("pink", "pale", "white"), absent),
  open: fc.oneof(fc.constantFrom("yes", "no"), absent),
  hours: fc.oneof(near, absent),
  share: fc.oneof(near, absent),
}) as fc.Arbitrary<Facts>;

describe("compiled rules", () => {
  it("say the same as rows read cell by cell in three-valued logic", () => {
    fc.assert(
      fc.property(program, facts, (p, f) => {
        expect(compiled(p, f)).toEqual(plainly(p, f));
      }),
      { numRuns: 500 },
    );
  });
  it("never take back what was sure, nor revive what was excluded, when one more finding becomes known", () => {
    fc.assert(
      fc.property(program, facts, facts, (p, less, answers) => {
        const more = Object.fromEntries(
          Object.entries(less).map(([k, v]) => [
            k,
            v === undefined || v === "not-asked" || v === "cannot-tell" ? answers[k] : v,
          ]),
        ) as Facts;
        const before = compiled(p, less).tables;
        const after = compiled(p, more).tables;
        before.forEach((table, i) => {
          expect(after[i]!.sure).toEqual(expect.arrayContaining(table.sure));
          for (const id of [...after[i]!.sure, ...after[i]!.possible])
            expect([...table.sure, ...table.possible]).toContain(id);
        });
      }),
      { numRuns: 300 },
    );
  });

  const one = (when: PlainRow, f: Facts) =>
    compiled({ findings: FINDINGS, signs: [], tables: [tableOfRows("T", [when])] }, f).tables[0];
  it("a lower limit counts in, an upper limit counts out", () => {
    expect(one({ hours: from(24) }, { hours: 24 })).toEqual({ sure: ["T-1"], possible: [] });
    expect(one({ hours: under(24) }, { hours: 24 })).toEqual({ sure: [], possible: [] });
    expect(one({ hours: from(6, 24) }, { hours: 23.9 })).toEqual({ sure: ["T-1"], possible: [] });
  });
  it("one contradicted cell settles a row even when another is unknown", () =>
    expect(one({ colour: "white", open: "yes" }, { colour: "pink" })).toEqual({ sure: [], possible: [] }));
  it("a row without cells always holds", () => expect(one({}, {})).toEqual({ sure: ["T-1"], possible: [] }));
  it("a sign of more rows than a machine word has bits is read to its last row", () => {
    const places = Array.from({ length: 64 }, (_, i) => `place${i}`) as [string, string];
    for (const rows of [33, 40, 63]) {
      const sign: AnySign = {
        name: "near",
        words: "near",
        any: places.slice(0, rows).map((place) => ({ place })) as never,
      };
      const findings = { place: choice("digit", ...places) };
      const near = { findings, signs: [sign], tables: [tableOfRows("T", [{ near: "yes" }])] };
      const sure = (place: string) => compiled(near, { place }).tables[0]!.sure;
      expect([sure("place0"), sure(places[rows - 1]!), sure(places[rows]!)]).toEqual([["T-1"], ["T-1"], []]);
      expect(compiled(near, {}).tables[0]).toEqual({ sure: [], possible: ["T-1"] });
    }
  });
  it("'cannot tell' is as unknown as 'not asked'", () =>
    expect(one({ open: "yes" }, { open: "cannot-tell" })).toEqual({ sure: [], possible: ["T-1"] }));

  it("a row that reads an unknown column, an absent value or a sign listed later does not compile", () => {
    expect(() => one({ colur: "pink" }, {})).toThrow(/no finding or earlier sign/);
    expect(() => one({ colour: "blue" }, {})).toThrow(/no value "blue"/);
    expect(() => one({ open: "not-asked" }, {})).toThrow(/no value/);
    expect(() => one({ open: from(1) }, {})).toThrow(/no numbers/);
    const sign = (name: string, row: PlainRow): AnySign => ({ name, words: name, any: [row as Row<never>] });
    const late = [sign("a", { b: "yes" }), sign("b", { open: "yes" })];
    expect(() => compile({ findings: FINDINGS, signs: late, tables: [] })).toThrow(/sign a reads "b"/);
  });
  it("a value outside the domain of a finding is refused, not read as unknown", () => {
    expect(() => one({ open: "yes" }, { open: "perhaps" })).toThrow(/not one of its values/);
    expect(() => one({ hours: from(1) }, { hours: "three" })).toThrow(/a number is expected/);
    expect(() => one({ hours: from(1) }, { hours: Number.NaN })).toThrow(/a number is expected/);
  });
});
