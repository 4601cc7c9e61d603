import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";

const TUFT = "fixtures/findings/closed-tuft-crush.json";
const MALLET = "fixtures/findings/closed-bony-mallet.json";
const CHART = "fixtures/findings/closed-bony-mallet-chart.json";
const SEYMOUR = "fixtures/findings/child-nail-over-fold.json";
const NOT_ASKED = "fixtures/findings/red-flags-not-asked.json";

interface Ran {
  readonly code: number | null;
  readonly out: string;
  readonly problems: readonly string[];
}
const ran = new Map<string, Ran>();
/** The real command. The same words and input need not run twice, unless that is what is tested. */
function assess(words: readonly string[], input = "", env: Readonly<Record<string, string>> = {}): Ran {
  const key = JSON.stringify([words, input, env]);
  const before = ran.get(key);
  if (before) return before;
  const now = run(words, input, env);
  ran.set(key, now);
  return now;
}
const COMMAND = ["node_modules/.bin/tsx", "src/cli/assess.ts"];
function run(
  words: readonly string[],
  input = "",
  env: Readonly<Record<string, string>> = {},
  [program, ...before]: readonly string[] = COMMAND,
): Ran {
  const { status, stdout, stderr } = spawnSync(program!, [...before, ...words], {
    encoding: "utf8",
    input,
    env: { ...process.env, ...env },
  });
  return { code: status, out: stdout, problems: stderr.split("\n").filter((line) => line !== "") };
}
const findings = (file: string) => JSON.parse(readFileSync(file, "utf8"));
const changed = (file: string, change: (record: ReturnType<typeof findings>) => void): string => {
  const record = findings(file);
  change(record);
  return JSON.stringify(record);
};
const refused = (ran: Ran) => {
  expect(ran.out).toBe("");
  expect(ran.code).toBe(2);
  return ran.problems;
};

describe("a crushed middle finger with a closed tuft fracture", () => {
  const answer = () => JSON.parse(assess([TUFT]).out);

  it("is assessed with nothing on standard error", () => {
    expect(assess([TUFT])).toMatchObject({ code: 0, problems: [] });
    expect(answer().digits[0].classes.map((c: { class: string }) => c.class)).toContain("TUFT-C");
  });
  it("has an urgency, and no exit leaves the pathway", () => {
    expect(answer().urgency.level).toMatch(/^(D1|W1|R2|none)$/);
    expect(answer().digits[0].leftPathway).toBe(false);
  });
  it("gives visits as calendar dates counted from the day of the injury", () => {
    expect(answer().visits.length).toBeGreaterThan(0);
    for (const { dates, earliest } of answer().visits) {
      const days = (Date.parse(`${dates.earliest}T00:00Z`) - Date.parse("2026-11-24T00:00Z")) / 86_400_000;
      expect(days).toBe(earliest);
    }
  });
  it("explains each rule that speaks: because, the findings used, and the sources", () => {
    const [digit] = answer().digits;
    for (const { rule } of [
      ...digit.classes,
      ...digit.management,
      ...digit.splints,
      ...digit.advice,
      ...digit.visits,
    ]) {
      const reason = digit.reasons[rule];
      expect(reason, rule).toBeDefined();
      expect(reason.because).not.toBe("");
      expect(reason.sources.length).toBeGreaterThan(0);
    }
    expect(digit.reasons[digit.classes[0].rule].used).toContainEqual({ finding: "fractureSite", value: "tuft" });
  });
  it("gives each published source that it cites", () => {
    const cited = new Set<string>(
      answer().digits[0].advice.flatMap((l: { sources: { source: string }[] }) => l.sources.map((s) => s.source)),
    );
    const published = [...cited].filter((id) => id !== "COMMON-PRACTICE" && id !== "FROM-MEMORY");
    expect(Object.keys(answer().sources)).toEqual(expect.arrayContaining(published));
  });
  it("is the same by the name of the command that the project gives it", () => {
    expect(run([TUFT], "", {}, ["npm", "run", "-s", "assess", "--"])).toEqual(assess([TUFT]));
  });
  it("is the same from standard input, with or without a dash", () => {
    const text = readFileSync(TUFT, "utf8");
    expect(assess([], text).out).toBe(assess([TUFT]).out);
    expect(assess(["-"], text).out).toBe(assess([TUFT]).out);
  });
});

describe("a child whose nail lies over its fold", () => {
  it("is never called a mallet or a tuft fracture", () => {
    const [digit] = JSON.parse(assess([SEYMOUR]).out).digits;
    const classes = digit.classes.map((c: { class: string }) => c.class).join();
    expect(classes).toMatch(/SEYMOUR/);
    expect(classes).not.toMatch(/TUFT|MALLET/);
  });
});

describe("a case whose red flags nobody has asked about", () => {
  it("has no urgency, says that it cannot decide, and asks", () => {
    const { code, out } = assess([NOT_ASKED]);
    expect(code).toBe(0);
    const { state, urgency, digits } = JSON.parse(out);
    expect(state).toBe("cannot-decide");
    expect(urgency.level).toBeUndefined();
    expect(digits[0].ask).toContain("tipColour");
  });
});

describe("the readable report", () => {
  it("says of a bony mallet what, when, why and on whose authority", () => {
    const { code, out } = assess(["--explain", MALLET]);
    expect(code).toBe(0);
    for (const part of [
      "URGENCY:",
      "CLASS",
      "MANAGEMENT",
      "SPLINT",
      "VISITS",
      "ADVICE",
      "because: ",
      "finding: ",
      "source: ",
    ])
      expect(out).toContain(part);
    expect(out).toContain("Left, Ring");
    expect(out).toMatch(/finding: Where is the fracture\? Base, dorsal lip/);
    expect(out).toMatch(/VISITS\n {2}- [^\n]*\d{4}-\d{2}-\d{2} to \d{4}-\d{2}-\d{2}/);
  });
  it("lists the open questions in words", () => {
    const { out } = assess(["--explain", NOT_ASKED]);
    expect(out).toContain("STATE: cannot decide");
    expect(out).toMatch(/NOT YET ASKED[^\n]*\n {2}- .+ \[tipColour\]|NOT YET ASKED[\s\S]*\[tipColour\]/);
  });
  it("says the same twice: the rules have no clock", () => {
    expect(run(["--explain", MALLET]).out).toBe(assess(["--explain", MALLET]).out);
  });
});

describe("a chart in FHIR R4 with the findings as a QuestionnaireResponse", () => {
  const chart = (change: (resources: Record<string, { [element: string]: unknown }>) => void = () => {}): string => {
    const bundle = findings(CHART);
    const byType = Object.fromEntries(
      bundle.entry.map((e: { resource: { resourceType: string } }) => [e.resource.resourceType, e.resource]),
    );
    change(byType);
    return JSON.stringify(bundle);
  };
  it("is assessed like the same findings in JSON", () => {
    const fromChart = JSON.parse(assess([CHART], "", { TZ: "UTC" }).out);
    const { proposals, notes, ...assessment } = fromChart;
    expect(assessment).toEqual(JSON.parse(assess([MALLET]).out));
  });
  it("lists what else the chart suggests, and counts none of it", () => {
    const { proposals, digits } = JSON.parse(assess([CHART]).out);
    const suggested = Object.fromEntries(
      proposals.proposals.map((p: { finding: string; value: unknown }) => [p.finding, p.value]),
    );
    expect(suggested).toMatchObject({ weightKg: 71.5, penicillinAllergy: "severe" });
    expect(assess(["--explain", CHART]).out).toMatch(/NOT CONFIRMED AND NOT COUNTED\n[\s\S]*71\.5 kg \(/);
    const used = JSON.stringify(digits[0].reasons);
    expect(used).not.toContain('"severe"');
    expect(used).not.toContain("71.5");
  });
  it("with a day of operation counts from it what follows the operation; without it, the days are said and no date", () => {
    const torn = (operatedOn?: string) =>
      chart(({ QuestionnaireResponse: response }) => {
        const items = response!.item as { linkId: string; item: { linkId: string; answer: object[] }[] }[];
        const digit = items.find((i) => i.linkId === "digit")!.item;
        const put = (finding: string, value: string) => {
          const coding = { system: "https://fingerpost.example/fhir/CodeSystem/finding", code: `${finding}.${value}` };
          const at = digit.findIndex((i) => i.linkId === finding);
          digit.splice(at < 0 ? digit.length : at, 1, { linkId: finding, answer: [{ valueCoding: coding }] });
        };
        put("activeFlexion", "absent");
        put("volarFragmentAt", "none");
        put("restOfPhalanx", "intact");
        const injury = items.find((i) => i.linkId === "injury")!.item;
        if (operatedOn) injury.push({ linkId: "operatedOn", answer: [{ valueDate: operatedOn }] });
      });
    const afterOperation = (input: string): { earliest: number; dates?: { earliest: string } }[] =>
      JSON.parse(assess([], input).out).visits.filter((v: { countFrom: string }) => v.countFrom === "operation");
    const waiting = afterOperation(torn());
    expect(waiting.length).toBeGreaterThan(0);
    expect(waiting.filter((v) => v.dates)).toEqual([]);
    expect(assess(["--explain"], torn()).out).toMatch(/day \d+ to \d+ after the operation, best day \d+/);
    const day = findings(MALLET).assessedAt.slice(0, 10);
    const dated = afterOperation(torn(day));
    const from = (days: number) => new Date(Date.parse(day) + days * 86_400_000).toISOString().slice(0, 10);
    expect(dated.map((v) => v.dates?.earliest)).toEqual(dated.map((v) => from(v.earliest)));
    expect(refused(assess([], torn("2001-02-03")))).toEqual([
      expect.stringMatching(/operatedOn: 2001-02-03 is before the injury; allowed: not earlier than /),
    ]);
    expect(refused(assess([], torn("2026-02-31")))).toEqual([
      expect.stringMatching(/operatedOn: is not a real date; allowed: a real date: yyyy-MM-dd/),
    ]);
  });
  it("may be the QuestionnaireResponse alone", () => {
    const response = findings(CHART).entry.find(
      (e: { resource: { resourceType: string } }) => e.resource.resourceType === "QuestionnaireResponse",
    ).resource;
    const alone = JSON.parse(assess([], JSON.stringify(response)).out);
    expect(alone.digits).toEqual(JSON.parse(assess([CHART]).out).digits);
  });
  it("takes the moment of assessment from the signature when no answer gives it", () => {
    const input = chart(({ QuestionnaireResponse: response }) => {
      const groups = response!.item as { item: { linkId: string }[] }[];
      for (const group of groups) group.item = group.item.filter((i) => i.linkId !== "assessedAt");
    });
    expect(JSON.parse(assess([], input, { TZ: "UTC" }).out).assessedAt).toBe("2026-11-24T20:10");
  });
  it("is refused without confirmed findings, for these were entered in error", () => {
    const input = chart(({ QuestionnaireResponse: response }) => {
      response!.status = "entered-in-error";
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(/^Bundle\.entry\.1\.status: .*entered-in-error; allowed: in-progress, completed, amended/),
    ]);
  });
  it("is refused when it holds another patient", () => {
    const input = chart(({ Patient: patient }) => {
      patient!.id = "somebody-else";
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(
        /^Bundle\.entry\.0: Patient\/somebody-else is not the subject .*; allowed: Patient\/mallet-1 only/,
      ),
    ]);
  });
  it("is refused when an answer is not one of the values, for a dropped answer could hide a red flag", () => {
    const input = chart().replace("tipColour.pink", "tipColour.blue");
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(
        /^Bundle\.entry\.1: the answer to "tipColour" .*; allowed: one of pink, pale, dusky, white/,
      ),
    ]);
  });
  it("is refused when it is no list of resources", () => {
    expect(refused(assess([], '{ "resourceType": "Bundle", "entry": [{ "resource": 7 }] }'))).toEqual([
      expect.stringMatching(/^Bundle\.entry\.0\.resource: .*; allowed: /),
    ]);
  });
});

describe("wrong input is refused with one line per problem and nothing on standard output", () => {
  it("text that is not JSON", () => {
    expect(refused(assess([], "{ digits: "))).toEqual([
      expect.stringMatching(/^standard input: is not JSON .*allowed: /),
    ]);
  });
  it("a file that is not there", () => {
    expect(refused(assess(["fixtures/findings/nobody.json"]))).toEqual([
      expect.stringMatching(/^fixtures\/findings\/nobody\.json: cannot be read \(ENOENT\); allowed: /),
    ]);
  });
  it("a value that the finding does not have", () => {
    const input = changed(TUFT, (r) => {
      r.digits[0].tipColour = "blue";
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(/^digits\.0\.tipColour: "blue" .*; allowed: one of pink, pale, dusky, white/),
    ]);
  });
  it("a number outside its plausible bounds, and a second problem beside it", () => {
    const input = changed(TUFT, (r) => {
      r.patient.weightKg = 6800;
      r.digits[0].openness = "perhaps";
    });
    const problems = refused(assess([], input));
    expect(problems).toHaveLength(2);
    expect(problems.find((p) => p.startsWith("patient.weightKg:"))).toMatch(/6800.*; allowed: .*kg/);
    expect(problems.find((p) => p.startsWith("digits.0.openness:"))).toContain("open-nail-bed");
  });
  it("a finding that nobody knows", () => {
    const input = changed(TUFT, (r) => {
      r.digits[0].tipColor = "pink";
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(/^digits\.0\.tipColor: .*not known.*; allowed: /),
    ]);
  });
  it("an injured digit that is not named", () => {
    const input = changed(TUFT, (r) => {
      r.digits[0].digit = undefined;
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(/^digits\.0\.digit: is missing; allowed: one of thumb/),
    ]);
  });
  it("no digit at all", () => {
    const input = changed(TUFT, (r) => {
      r.digits = [];
    });
    expect(refused(assess([], input))).toEqual([
      expect.stringMatching(/^digits: .*; allowed: at least one injured digit/),
    ]);
  });
  it("no moment of assessment: the rules have no clock of their own", () => {
    const input = changed(TUFT, (r) => {
      r.assessedAt = undefined;
    });
    expect(refused(assess([], input))).toEqual([expect.stringMatching(/^assessedAt: is missing; allowed: /)]);
  });
  it("an option that does not exist, and two files", () => {
    expect(refused(assess(["--fast", TUFT]))).toEqual([
      expect.stringMatching(/^options: .*--fast.*allowed: see --help/),
    ]);
    expect(refused(assess([TUFT, MALLET]))).toEqual([expect.stringMatching(/^options: 2 files/)]);
  });
  it("a FHIR resource that carries no findings", () => {
    expect(refused(assess([], '{ "resourceType": "Patient", "id": "p" }'))).toEqual([
      expect.stringContaining("allowed: "),
    ]);
  });
});

describe("a site policy", () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), "fingerpost-policy-"));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  const policy = (name: string, values: object) => {
    const file = join(folder, name);
    writeFileSync(
      file,
      JSON.stringify({ site: "Invented Bay", approvedBy: "A. Lead", approvedOn: "2026-10-01", values }),
    );
    return file;
  };

  it("names itself in the assessment and can change a value inside its bounds", () => {
    const { code, out } = assess(["--policy", policy("good.json", { "hand.tetanusScheme": "UK" }), TUFT]);
    expect(code).toBe(0);
    expect(JSON.parse(out).policy).toEqual({ site: "Invented Bay", approvedOn: "2026-10-01" });
  });
  it("is refused whole when one value is not allowed", () => {
    const file = policy("bad.json", { "hand.tetanusScheme": "Moon" });
    expect(refused(assess(["--policy", file, TUFT]))).toEqual([
      expect.stringMatching(/bad\.json: values\.hand\.tetanusScheme "Moon" .*allowed: one of /),
    ]);
  });
});

describe("help and schema", () => {
  it("says how to use the command and what each exit code means", () => {
    const { code, out } = assess(["--help"]);
    expect(code).toBe(0);
    for (const words of ["--schema", "--explain", "--policy", "\n  0 ", "\n  1 ", "\n  2 "])
      expect(out).toContain(words);
  });
  it("prints the JSON Schema that its own good input fits and its bad input does not", () => {
    const { code, out } = assess(["--schema"]);
    expect(code).toBe(0);
    const schema = JSON.parse(out);
    expect(schema.$schema).toBe("https://json-schema.org/draft/2020-12/schema");
    expect(schema.required).toEqual(expect.arrayContaining(["assessedAt", "patient", "injury", "digits"]));
    expect(misfits(schema, findings(TUFT))).toEqual([]);
    expect(misfits(schema, JSON.parse(changed(TUFT, (r) => (r.digits[0].tipColour = "blue"))))).toEqual([
      "/digits/0/tipColour",
    ]);
    expect(misfits(schema, JSON.parse(changed(TUFT, (r) => (r.patient.weightKg = 6800))))).toEqual([
      "/patient/weightKg",
    ]);
    expect(misfits(schema, JSON.parse(changed(TUFT, (r) => (r.injury.weather = "rain"))))).toEqual(["/injury/weather"]);
    expect(misfits(schema, JSON.parse(changed(TUFT, (r) => (r.assessedAt = undefined))))).toEqual(["/assessedAt"]);
  });
  it("describes each finding by its question, and each number with its unit", () => {
    const { properties } = JSON.parse(assess(["--schema"]).out);
    expect(properties.patient.properties.weightKg.description).toMatch(/\[kg\]$/);
    expect(properties.digits.items.properties.fractureSite.description).toBe("Where is the fracture?");
  });
});

interface Schema {
  readonly type?: string;
  readonly enum?: readonly unknown[];
  readonly anyOf?: readonly Schema[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly minItems?: number;
  readonly items?: Schema;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: boolean;
}
/**
 * Where a value does not fit, by the words of JSON Schema 2020-12 that the command uses (json-schema.org, validation
 * vocabulary, sections 6.1 to 6.5). Written here, since no validator is among the installed packages.
 */
function misfits(schema: Schema, value: unknown, at = ""): string[] {
  if (schema.anyOf) return schema.anyOf.some((s) => misfits(s, value, at).length === 0) ? [] : [at];
  if (schema.enum && !schema.enum.includes(value)) return [at];
  if (schema.type === "string" && typeof value !== "string") return [at];
  if (schema.type === "number") {
    if (typeof value !== "number" || value < (schema.minimum ?? -Infinity) || value > (schema.maximum ?? Infinity))
      return [at];
  }
  if (schema.type === "array") {
    if (!Array.isArray(value) || value.length < (schema.minItems ?? 0)) return [at];
    return value.flatMap((item, i) => misfits(schema.items ?? {}, item, `${at}/${i}`));
  }
  if (schema.type === "object") {
    if (typeof value !== "object" || value === null || Array.isArray(value)) return [at];
    const properties = schema.properties ?? {};
    const missing = (schema.required ?? []).filter((key) => !(key in value)).map((key) => `${at}/${key}`);
    const inside = Object.entries(value).flatMap(([key, part]) => {
      const property = properties[key];
      if (property) return misfits(property, part, `${at}/${key}`);
      return schema.additionalProperties === false ? [`${at}/${key}`] : [];
    });
    return [...missing, ...inside];
  }
  return [];
}
