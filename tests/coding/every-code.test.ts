import { describe, expect, it } from "vitest";
import { type CodeOptions, codeEncounter } from "../../src/coding/code-encounter.ts";
import type { EncounterToCode } from "../../src/coding/encounter.ts";
import {
  CAUSE_EXCLUSIONS,
  COMMON_CAUSES,
  causeCode,
  externalCauses,
  NEVER_GIVEN,
  recordable,
} from "../../src/coding/external-cause.ts";
import { type DigitFacts, FACTS } from "../../src/coding/facts.ts";
import { CODE_RULES, EXCLUSIONS } from "../../src/coding/injury-rules.ts";
import { codeTable, tableOn } from "../../src/coding/tables.ts";
import { coded, codesOf, DAY, type StatedDigit, told } from "./encounters.ts";
import { COMPANION_ROWS, FRACTURE_ROWS, NOTES, OFFICIAL, type OfficialRow } from "./official-table.ts";
import { checkAgainst } from "./word-check.ts";

/** Every code of every combination of facts, not a sample, against the official table: ICD-10-CM FY2027 (CMS/NCHS). */
const table = (await tableOn(DAY))!;

describe("the table that ships", () => {
  it("is the official one, row for row: fractures with their headings, the rest billable", () => {
    expect(FRACTURE_ROWS.length).toBe(211);
    expect(COMPANION_ROWS.length).toBeGreaterThan(2000);
    for (const [code, billable, description] of [...FRACTURE_ROWS, ...COMPANION_ROWS])
      expect(table.describe(code)).toBe(billable === 1 ? description : undefined);
    const shipped = ["S", "M", "L", "D", "T", "Z", "W", "X", "Y"].flatMap((start) => table.beginning(start));
    expect(shipped.length).toBe(COMPANION_ROWS.length + FRACTURE_ROWS.filter((row) => row[1] === 1).length);
  });
});

describe("every code that any record can give", () => {
  const checked = checkAgainst(OFFICIAL);
  it("stands in the official table, is billable, and its words say the same digit, side, kind and encounter", () => {
    expect(checked.faults.slice(0, 5)).toEqual([]);
    expect(checked.cases).toBeGreaterThan(4000);
    expect(checked.codes.size).toBeGreaterThan(1500);
  });
  it("is in the table that ships", () => {
    expect([...checked.codes].filter((code) => table.describe(code) === undefined)).toEqual([]);
  });
  it("comes from a rule that some facts reach", () => {
    for (const rule of CODE_RULES) expect(checkAgainst(OFFICIAL, [rule]).codes.size, rule.id).toBeGreaterThan(0);
  });
  it("covers all 182 billable codes of the distal phalanx: none is out of reach", () => {
    const out = FRACTURE_ROWS.filter(([code, billable]) => billable === 1 && !checked.codes.has(code));
    expect(out).toEqual([]);
  });
});

describe("a wrong row is found", () => {
  const planted = (change: (rows: Map<string, OfficialRow>) => void) => {
    const rows = new Map(OFFICIAL);
    change(rows);
    return checkAgainst(rows).faults;
  };
  const swap = (a: string, b: string) => (rows: Map<string, OfficialRow>) => {
    rows.set(a, [a, 1, OFFICIAL.get(b)![2]]);
    rows.set(b, [b, 1, OFFICIAL.get(a)![2]]);
  };
  it.each([
    ["index and middle finger exchanged", swap("S62.630A", "S62.632A")],
    ["right and left exchanged", swap("S61.311A", "S61.310A")],
    ["displaced and not displaced exchanged", swap("S62.521D", "S62.524D")],
    ["open and closed exchanged", swap("S62.635A", "S62.635B")],
    ["nonunion and malunion exchanged", swap("S62.667K", "S62.667P")],
    ["strain and laceration exchanged", swap("S66.312A", "S66.322A")],
    ["nail and no nail exchanged", swap("S60.141A", "S60.041A")],
    ["complete and partial exchanged", swap("S68.611A", "S68.621A")],
    ["one row missing", (rows: Map<string, OfficialRow>) => void rows.delete("S64.497D")],
    [
      "one row that may not be billed",
      (rows: Map<string, OfficialRow>) => void rows.set("Z18.33", ["Z18.33", 0, "Retained wood fragments"]),
    ],
  ])("%s", (_, change) => {
    expect(planted(change).length).toBeGreaterThan(0);
  });
  it("a code that the table does not hold is left out of the list, and the reader is told", () => {
    const short = codeTable(table.edition, [...FRACTURE_ROWS]);
    const result = codeEncounter(
      told("initial", [{ digit: "ring", side: "left", fracture: "confirmed", nerve: "injured" }]),
      short,
    );
    expect(codesOf(result)).toEqual(["S62.635A"]);
    expect(result.problems).toEqual([
      "S64.495A is not a billable code of ICD-10-CM FY2027, so it is left out. Code it by hand and report this.",
    ]);
  });
});

describe("causes of chapter 20", () => {
  const { causes, places, activities, statuses } = recordable(table);
  const active = { phase: "active", first: "yes", reason: "not-stated", immunised: "not-stated" } as const;
  it("every cause of the table gives a billable code in each phase, whose words name the encounter", () => {
    expect(causes.length).toBeGreaterThan(100);
    for (const stem of causes)
      for (const [letter, words] of [
        ["A", "initial encounter"],
        ["D", "subsequent encounter"],
        ["S", "sequela"],
      ] as const) {
        const row = OFFICIAL.get(causeCode(stem, letter));
        expect(row?.[1], stem).toBe(1);
        expect(row?.[2].endsWith(`, ${words}`), stem).toBe(true);
      }
  });
  it("every common cause, told in plain words, is one of them", () => {
    for (const { stem } of COMMON_CAUSES) expect(causes).toContain(stem);
  });
  it("places, activities and statuses are billable, and none is an unspecified one (I.C.20.b, c, k)", () => {
    for (const code of [...places, ...activities, ...statuses]) expect(OFFICIAL.get(code)?.[1], code).toBe(1);
    for (const never of NEVER_GIVEN) {
      expect(OFFICIAL.get(never)?.[2]).toMatch(/nspecified/);
      expect([...places, ...activities, ...statuses]).not.toContain(never);
    }
  });
  it("place, activity and status stand at the first encounter under active treatment only", () => {
    const told = { causes: ["W23.2"], place: "Y92.010", activity: "Y93.G1", status: "Y99.8" };
    const codes = (encounter: Parameters<typeof externalCauses>[1]) =>
      externalCauses(told, encounter).given.map((c) => c.code);
    expect(codes(active)).toEqual(["W23.2XXA", "Y92.010", "Y93.G1", "Y99.8"]);
    expect(codes({ ...active, first: "no" })).toEqual(["W23.2XXA"]);
    expect(codes({ ...active, phase: "healing" })).toEqual(["W23.2XXD"]);
    expect(codes({ ...active, phase: "sequela" })).toEqual(["W23.2XXS"]);
    expect(codes({ ...active, phase: "not-stated" })).toEqual([]);
  });
  it("a status never stands alone, and an unspecified place is never given", () => {
    expect(externalCauses({ status: "Y99.0" }, active).given).toEqual([]);
    expect(externalCauses({ causes: ["W28"], place: "Y92.9" }, active).given.map((c) => c.code)).toEqual(["W28.XXXA"]);
  });
  it("a machine in which something fell is the machine, and pinching by it too (Excludes1 at W20 and W23)", () => {
    const { given, leftOut } = externalCauses({ causes: ["W23.2", "W31.1", "W20.8"] }, active);
    expect(given.map((c) => c.code)).toEqual(["W31.1XXA"]);
    expect(leftOut.map((l) => [l.stem, l.beside])).toEqual([
      ["W23.2", "W31.1"],
      ["W20.8", "W31.1"],
    ]);
  });
});

/** "S62.- with 7th character B", "W25-W27", "S66.36-, S66.37-": the beginnings that a printed note names. */
function named(text: string): readonly RegExp[] {
  const inside = /\(([^()]*)\)$/.exec(text)?.[1] ?? "";
  const seventh = /with 7th character (\w)/.exec(inside)?.[1];
  return [...inside.matchAll(/([A-Z]\d\w(?:\.\w*)?)-?(?:-([A-Z]\d\w))?/g)].map(([, from, to]) => {
    if (to) {
      const numbers = Array.from(
        { length: Number(to.slice(1)) - Number(from!.slice(1)) + 1 },
        (_, i) => `${from![0]}${String(Number(from!.slice(1)) + i).padStart(2, "0")}`,
      );
      return new RegExp(`^(?:${numbers.join("|")})`);
    }
    return new RegExp(`^${from!.replace(".", "[.]")}${seventh ? `.*${seventh}$` : ""}`);
  });
}
const EXCLUDES1 = NOTES.filter((note) => note.type === "excludes1" && !note.at.includes("-")).map((note) => ({
  ...note,
  at: new RegExp(`^${note.at.replace(".", "[.]")}`),
  named: named(note.text),
}));
const noted = new Map<string, typeof EXCLUDES1>();
/** The notes that hold for a code. */
const notesAt = (code: string) => {
  const notes = noted.get(code) ?? EXCLUDES1.filter((note) => note.at.test(code));
  noted.set(code, notes);
  return notes;
};
/** Pairs of a list that a printed Excludes1 note keeps apart. */
const forbidden = (codes: readonly string[]): string[] =>
  codes.flatMap((code) =>
    notesAt(code).flatMap((note) =>
      codes
        .filter((other) => other !== code && note.named.some((pattern) => pattern.test(other)))
        .map((other) => `${code} with ${other}: ${note.text}`),
    ),
  );

describe("codes that exclude each other (Excludes1, as printed in the Tabular List)", () => {
  it("each exclusion of ours stands there word for word", () => {
    const printed = [...EXCLUSIONS.flatMap((e) => e.printed ?? []), ...CAUSE_EXCLUSIONS.map((e) => e.printed)];
    expect(printed.length).toBeGreaterThan(10);
    for (const { at, text } of printed) expect(NOTES).toContainEqual({ at, type: "excludes1", text });
  });
  it("a forbidden pair would be seen: the wound of an open fracture, an amputation with its fracture, a bruise with two places", () => {
    expect(forbidden(["S62.632B", "S61.312A"]).length).toBe(1);
    expect(forbidden(["S62.632A", "S61.312A"])).toEqual([]);
    expect(forbidden(["S68.611A", "S62.631A"]).length).toBe(1);
    expect(forbidden(["S60.041A", "S60.141A"]).length).toBe(1);
    expect(forbidden(["W23.2XXA", "W31.1XXA"]).length).toBe(1);
  });

  const quick: CodeOptions = { changes: false };
  const axes: { readonly [F in keyof DigitFacts]?: readonly DigitFacts[F][] } = {
    fracture: ["confirmed", "none"],
    fractureCause: ["traumatic", "benign-tumour", "osteoporosis-other", "stress", "other-disease"],
    openness: ["open", "closed"],
    wound: ["laceration", "none"],
    nail: ["damaged", "intact"],
    contusion: ["yes", "no"],
    crush: ["diagnosed", "none"],
    amputation: ["partial", "none"],
    amputationLevel: ["through-phalanx", "not-stated"],
    dislocation: ["dislocated", "none"],
    extensorTendon: ["laceration", "none"],
    nerve: ["injured", "none"],
  };
  function* every(names: readonly (keyof DigitFacts)[], digit: StatedDigit): Generator<StatedDigit> {
    const [name, ...rest] = names;
    if (!name) yield digit;
    else for (const value of axes[name]!) yield* every(rest, { ...digit, [name]: value });
  }
  it("no list of one digit holds such a pair, over every way the injuries of a digit can meet", () => {
    let lists = 0;
    for (const digit of every(Object.keys(axes) as (keyof DigitFacts)[], { digit: "ring", side: "left" })) {
      const codes = codesOf(coded(told("initial", [digit]), quick));
      lists++;
      const pairs = forbidden(codes);
      if (pairs.length) expect.fail(`${JSON.stringify(digit)}: ${pairs.join("; ")}`);
      const worse = codes.some((code) => /^(?:S6[1-8]|M8[04])/.test(code));
      if (worse && codes.some((code) => code.startsWith("S60")))
        expect.fail(`a bruise beside a worse injury: ${codes}`);
      if (codes.some((code) => /^Z4[78]/.test(code))) expect.fail(`aftercare beside an injury: ${codes}`);
      if (new Set(codes).size !== codes.length) expect.fail(`a code twice: ${codes}`);
    }
    expect(lists).toBe(10_240);
  });
  it("no two causes of the table that exclude each other stand together", () => {
    const { causes } = recordable(table);
    const active = { phase: "active", first: "yes", reason: "not-stated", immunised: "not-stated" } as const;
    for (const one of causes)
      for (const other of causes) {
        const { given } = externalCauses({ causes: [one, other] }, active);
        expect(forbidden([...new Set(given.map((c) => c.code))]), `${one} ${other}`).toEqual([]);
        expect(given.length).toBeGreaterThan(0);
      }
  });
});

describe("what would change a code", () => {
  const encounter: EncounterToCode = told("initial", [
    { digit: "index", side: "right", fracture: "confirmed", displacement: "displaced", openness: "closed" },
  ]);
  const changes = coded(encounter).codes[0]!.wouldChange;
  it("names the other value and the code that would stand there", () => {
    expect(changes).toContainEqual({
      fact: "displacement",
      words: "position of the fragments",
      value: "not-displaced",
      code: "S62.660A",
    });
    expect(changes).toContainEqual({ fact: "openness", words: "open or closed", value: "open", code: "S62.630B" });
    expect(changes).toContainEqual({ fact: "fracture", words: "fracture of the distal phalanx", value: "none" });
    expect(changes).toContainEqual({ fact: "digit", words: "digit", value: "thumb", code: "S62.521A" });
  });
  it("is true: each change, stated, gives that code", () => {
    expect(changes.length).toBeGreaterThan(8);
    for (const { fact, value, code } of changes) {
      const [digit] = encounter.stated!.digits!;
      const visit = fact === "phase" ? { phase: value as "healing" } : {};
      const now = told("initial", [fact === "phase" ? digit! : { ...digit, [fact]: value }], {}, { visit });
      expect(FACTS).toHaveProperty(fact);
      const given = codesOf(coded(now)).filter((c) => c.startsWith("S62"));
      expect(given, `${fact} ${value}`).toEqual(code ? [code] : []);
    }
  });
});
