import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

interface SourceFile {
  readonly path: string;
  readonly text: string;
}
const filesIn = (folder: string, ending: RegExp): SourceFile[] =>
  readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((path) => ending.test(path) && !path.includes("node_modules"))
    .map((path) => join(folder, path))
    .map((path) => ({ path, text: readFileSync(path, "utf8") }));

/** Comments become blanks, so that line numbers stay. A `//` inside quoted text or an address is not one. */
const withoutComments = (text: string) =>
  text
    .replace(/\/\*[\s\S]*?\*\//g, (comment) => comment.replace(/[^\n]/g, " "))
    .replace(/(^|[\s;{}(),])\/\/[^\n]*/g, "$1");

/** "path:line: text" of each place where a pattern stands. */
function places(files: readonly SourceFile[], pattern: RegExp): string[] {
  return files.flatMap(({ path, text }) =>
    withoutComments(text)
      .split("\n")
      .flatMap((line, i) => (pattern.test(line) ? [`${path}:${i + 1}: ${line.trim()}`] : [])),
  );
}

const CODE = filesIn("src", /\.tsx?$/);
const of = (room: string) => CODE.filter((file) => file.path.startsWith(`src/${room}/`));

interface Habit {
  readonly habit: string;
  readonly files: readonly SourceFile[];
  readonly never: RegExp;
  /** Lines that the pattern must catch, and lines it must let pass. */
  readonly caught: readonly string[];
  readonly free: readonly string[];
}
const HABITS: readonly Habit[] = [
  {
    habit: "a date is never read by the Date constructor, which takes yyyy-mm-dd as midnight in London",
    files: CODE,
    never: /new Date\(\s*["'`]/,
    caught: ['const day = new Date("2026-03-01");', "new Date(`2026-03-01T00:00`)"],
    free: ["new Date()", 'parseISO("2026-03-01")'],
  },
  {
    habit: "a calendar day is never cut out of a UTC time, which is the day before in half the world",
    files: CODE,
    never: /toISOString\(\)\s*\??\.\s*(slice|substring|substr|split)/,
    caught: ["now.toISOString().slice(0, 10)", 'now.toISOString().split("T")[0]'],
    free: ["now.toISOString()", 'formatISO(now, { representation: "date" })'],
  },
  {
    habit: "days are counted on the calendar, never as a number of milliseconds, which a clock change breaks",
    files: CODE,
    never: /86_?400(_?000|e3)?\b|864e5|24 \* 60 \* 60|24 \* 3_?600/,
    caught: ["start + 14 * 86_400_000", "n * 24 * 60 * 60 * 1000", "864e5"],
    free: ["addDays(start, 14)", "expires_in * 1000"],
  },
  {
    habit: "the rules have no clock, chance, network or screen of their own",
    files: of("pathway"),
    never: /new Date\(\)|Date\.now|Math\.random|\bfetch\(|\bwindow\.|\bdocument\.|\bprocess\.|globalThis/,
    caught: ["const now = new Date();", "Date.now()", "Math.random()", 'await fetch("/x")'],
    free: ["parseISO(record.assessedAt)", "window: { earliest: 1 }"],
  },
  {
    habit: "mapping has no clock or network of its own",
    files: [...of("fhir"), ...of("coding"), ...of("scheduling")],
    never: /new Date\(\)|Date\.now|Math\.random|\bfetch\(|\bwindow\.|\bdocument\./,
    caught: ["const at = new Date();", 'fetch("x")'],
    free: ["ctx.today"],
  },
  {
    habit: "the shipped code writes nothing to the console, where patient data would stay",
    files: CODE.filter((file) => !file.path.startsWith("src/cli/")),
    never: /\bconsole\b/,
    caught: ["console.log(patient)", "globalThis.console.error(e)"],
    free: ["consolidate(visits)"],
  },
  {
    habit: "nothing is kept in localStorage, which outlives the session",
    files: CODE,
    never: /\blocalStorage\b|\bindexedDB\b|document\.cookie/,
    caught: ["localStorage.setItem(k, v)", "window.localStorage", "document.cookie = x"],
    free: ["sessionStorage.getItem(k)"],
  },
  {
    habit: "text from a chart never becomes markup or code",
    files: CODE,
    never: /dangerouslySetInnerHTML|\b(inner|outer)HTML\b|insertAdjacentHTML|document\.write|\beval\(|new Function\(/,
    caught: ["<p dangerouslySetInnerHTML={{ __html: x }} />", "el.innerHTML = x", "eval(x)"],
    free: ["el.textContent = x", "evaluate(facts)"],
  },
  {
    habit: "nothing waits for a browser dialogue, which an EHR frame may block",
    files: [...of("app"), ...of("smart")],
    never: /(^|[^.\w])(alert|confirm|prompt)\(|window\.(alert|confirm|prompt)\(/,
    caught: ['if (confirm("Sure?"))', "window.alert(problem)"],
    free: ["onConfirm(finding)", "dispatch.confirm(x)", "function confirmed() {", "window.print()"],
  },
  {
    habit: "a clinical number stands beside its source in the rules, never in a screen or an adapter",
    files: [...of("app"), ...of("smart"), ...of("fhir"), ...of("cli")],
    never:
      /["'`>][^"'`<]*\b\d+(\.\d+)?\s?(mm|mg|mg\/kg|ml|degrees?|°|weeks?|months?|days?|hours?|years?)\b[^"'`<]*["'`<]/i,
    caught: ['say("Splint for 6 weeks")', "<p>More than 2 mm apart</p>", '"within 24 hours"', '"7 mg/kg"'],
    free: ["addDays(today, 7)", '"more than a day"', "<col width=12 />", ["`$", "{days} days`"].join(""), '"h1"'],
  },
];

describe("SEC-08 SEC-14 REL-42 habits of the source", () => {
  it("are looked for in all rooms", () => {
    expect(CODE.length).toBeGreaterThan(20);
  });
  describe.each(HABITS)("$habit", ({ files, never, caught, free }) => {
    it("is kept", () => {
      expect(places(files, never)).toEqual([]);
    });
    it("is a check that can fail, and lets right code pass", () => {
      expect(caught.filter((line) => places([{ path: "planted.ts", text: line }], never).length === 0)).toEqual([]);
      expect(free.filter((line) => places([{ path: "planted.ts", text: line }], never).length > 0)).toEqual([]);
    });
  });
  it("blanks comments, so that a comment may name what the code must not do", () => {
    expect(withoutComments('a; // new Date("x")\n/* b\nc */ d; "https://e.example"')).toBe(
      'a; \n    \n     d; "https://e.example"',
    );
  });
});

describe("the project stands alone", () => {
  const TEXT = /\.(tsx?|cjs|mjs|js|json|md|html|css|ya?ml|txt|svg)$/;
  const everything = [
    ...["src", "launch", "tests", "fixtures"].flatMap((folder) => filesIn(folder, TEXT)),
    ...readdirSync(".", { withFileTypes: true })
      .filter((entry) => entry.isFile() && TEXT.test(entry.name) && entry.name !== "package-lock.json")
      .map((entry) => ({ path: entry.name, text: readFileSync(entry.name, "utf8") })),
  ];
  // Put together here, so that this file does not hold them.
  const FOREIGN = [
    ["", "work", ""].join("/"),
    ["", "root", ""].join("/"),
    ["", "home", ""].join("/"),
    ["shared", "knowledge"].join("/"),
  ];
  it.each(FOREIGN)("no file speaks of a place outside it: %s", (words) => {
    expect(everything.length).toBeGreaterThan(30);
    expect(everything.filter(({ text }) => text.includes(words)).map(({ path }) => path)).toEqual([]);
  });
  it("no test is left out or run alone", () => {
    const tests = everything.filter(({ path }) => /\.test\.tsx?$/.test(path));
    const LEFT_OUT = new RegExp(
      `\\b(it|test|describe)\\.(${["skip", "only", "todo", "skipIf", "runIf"].join("|")})\\b`,
    );
    expect(tests.length).toBeGreaterThan(2);
    expect(tests.filter(({ text }) => LEFT_OUT.test(text)).map(({ path }) => path)).toEqual([]);
    expect(LEFT_OUT.test(`${["it", "skip"].join(".")}("later")`)).toBe(true);
  });
});
