/**
 * `npm run -s assess -- FILE`: the assessment of one case without a browser. Same door into the rules as the screens, so
 * the same answer. The rules have no clock: the moment of the assessment is part of the input.
 */
import * as z from "zod/mini";
import {
  assessCase,
  type CaseAssessment,
  type CaseRecord,
  caseSchema,
  MODULES,
  type Pathway,
  pathwayFor,
} from "../pathway/index.ts";
import { BadInput, optionsOf, readJson, run } from "./command.ts";
import { readInput } from "./read-input.ts";
import { linesOf, readableReport, reasonsOf, sourceOf } from "./report.ts";
import { policyFrom } from "./site-policy.ts";

const HELP = `Assess a broken finger tip without a browser.

  npm run -s assess -- [options] [FILE]

FILE is findings in JSON, or a FHIR R4 Bundle or QuestionnaireResponse in JSON. Without FILE, or with "-", it is read from
standard input. Of FHIR input only the answers of the QuestionnaireResponse count, because a clinician confirmed them;
what the rest of the chart suggests is listed under "proposals" and is not counted.

  --schema        print the JSON Schema of the findings and stop
  --explain       print a readable report instead of JSON
  --policy FILE   use the values of this site policy
  --help          print this and stop

Standard output holds the assessment, or nothing. Exit codes:
  0  assessed; a case that cannot be decided yet says so in "state" and "ask"
  1  a fault in the program itself
  2  wrong options, a file that cannot be read, or wrong input: one line per problem on standard error
`;

function main(words: readonly string[]): string {
  const { values, positionals } = options(words);
  if (values.help) return HELP;
  if (values.schema) return json(schemaWithWords());
  if (positionals.length > 1) throw new BadInput([`options: ${positionals.length} files are named; allowed: one FILE`]);
  const pathway = pathwayFor(MODULES[0]!, policyFrom(values.policy));
  const input = readInput(readJson(positionals[0] ?? "-", HOLDS).json);
  if (!input.ok) throw new BadInput(input.problems);
  const { record, proposals, notes } = input;
  const assessment = assessCase(pathway, record);
  if (values.explain)
    return readableReport(pathway, record, assessment, { notes, suggested: proposals?.proposals ?? [] });
  return json({
    ...withReasons(pathway, record, assessment),
    ...(proposals ? { proposals } : {}),
    ...(notes.length ? { notes } : {}),
  });
}

const options = (words: readonly string[]) =>
  optionsOf(words, {
    schema: { type: "boolean" },
    explain: { type: "boolean" },
    policy: { type: "string" },
    help: { type: "boolean", short: "h" },
  });
const HOLDS = "findings, a FHIR Bundle or a QuestionnaireResponse in JSON";

/** The schema that the input is checked with, with the wording of each question and the unit of each number. */
function schemaWithWords(): object {
  const schema = z.toJSONSchema(caseSchema, { io: "input" });
  const questions = MODULES.flatMap((m) => m.questions);
  const described = (part: z.core.JSONSchema._JSONSchema | undefined) => {
    if (typeof part !== "object") return;
    for (const [finding, property] of Object.entries(part.properties ?? {})) {
      const definition = MODULES.map((m) => m.findings[finding]).find((d) => d !== undefined);
      const wording = questions.find((q) => q.finding === finding)?.wording;
      const unit = definition?.type === "number" ? ` [${definition.unit}]` : "";
      if (typeof property === "object" && (wording || unit)) property.description = `${wording ?? finding}${unit}`;
    }
  };
  described(schema.properties?.patient);
  described(schema.properties?.injury);
  const digits = schema.properties?.digits;
  if (typeof digits === "object") described(digits.items as z.core.JSONSchema._JSONSchema);
  return { title: "Findings of one case", ...schema };
}

/** Each digit with the reason of every rule that speaks in it, and each cited source once. */
function withReasons(pathway: Pathway, record: CaseRecord, assessment: CaseAssessment): object {
  const digits = assessment.digits.map((digit, i) => ({ ...digit, reasons: reasonsOf(pathway, record, i, digit) }));
  const citations = assessment.digits.flatMap((digit) => linesOf(digit).flatMap((line) => line.sources));
  const sources = Object.fromEntries(citations.flatMap((c) => (sourceOf(c) ? [[c.source, sourceOf(c)]] : [])));
  return { assessedAt: record.assessedAt, ...assessment, digits, sources };
}

const json = (value: object) => `${JSON.stringify(value, null, 2)}\n`;

run(main);
