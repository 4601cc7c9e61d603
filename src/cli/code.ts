/**
 * `npm run -s code -- FILE`: diagnosis codes from signed records without a browser, one record or a whole population. Same rules as
 * the coder's screen; a file of any length is read and written line by line.
 */
import { createReadStream, readFileSync } from "node:fs";
import { join } from "node:path";
import { createInterface } from "node:readline";
import * as z from "zod";
import { codeEncounter } from "../coding/code-encounter.ts";
import type { CodedEncounter } from "../coding/encounter.ts";
import { csvExport, dg1Export, type ExportFormat, exported } from "../coding/export.ts";
import { codePolicyOf } from "../coding/other-systems.ts";
import { allTables, inForce } from "../coding/tables.ts";
import { bundleExport, ndjsonExport } from "../fhir/coded-encounter.ts";
import { KNOWLEDGE_VERSION, MODULES, pathwayFor } from "../pathway/index.ts";
import { encounterReader, encounterSchema } from "./code-input.ts";
import { BadInput, optionsOf, runStreaming } from "./command.ts";
import { policyFrom } from "./site-policy.ts";

const HELP = `Diagnosis codes from records, with the reason for each.

  npm run -s code -- [options] [FILE]

FILE is one encounter in JSON, or one in each line (NDJSON); without FILE, or with "-", standard input is read. An
encounter has id, date (yyyy-MM-dd), kind (what it was in relation to the injury), record (the findings, as for "assess")
and, where somebody said more, stated. --schema prints the whole form.

  --format NAME   json (default: everything that is known of each code), csv, bundle, ndjson (FHIR R4), dg1 (HL7 v2.5.1)
  --from DAY      encounters from this day on
  --to DAY        encounters up to this day
  --also LIST     other classifications, with commas: icd10 (WHO), ao-ota (local reading, not verified)
  --no-snomed     leave SNOMED CT out: for a site without a licence
  --policy FILE   derive classes with the values of this site policy, and give the codes that it wants (coding.*)
  --progress      say on standard error how far it is
  --schema        print the JSON Schema of an encounter and stop
  --help          print this and stop

A cell of the CSV that a spreadsheet would take as a formula begins with an apostrophe. Exit codes:
  0  every encounter was read; one that cannot be coded says why in "problems" and "gaps"
  1  a fault in the program itself
  2  wrong options, a file that cannot be read, or encounters that cannot be: one line per problem on standard error;
     the other encounters are written all the same
`;
/** The program's own version, as it is stamped on what leaves it. */
const { version: APP_VERSION } = JSON.parse(readFileSync(join(import.meta.dirname, "../../package.json"), "utf8"));

const jsonExport: ExportFormat = {
  extension: "ndjson",
  mediaType: "application/x-ndjson",
  head: "",
  each: (coded) => `${JSON.stringify(coded)}\n`,
  tail: () => "",
};
const META = { appVersion: APP_VERSION, knowledgeVersion: KNOWLEDGE_VERSION };
const FORMATS: { readonly [name: string]: ExportFormat } = {
  json: jsonExport,
  csv: csvExport(META),
  bundle: bundleExport(META),
  ndjson: ndjsonExport(META),
  dg1: dg1Export(META),
};
const ALSO = ["icd10", "ao-ota"];

async function* main(words: readonly string[], problem: (line: string) => void): AsyncGenerator<string> {
  const { values, positionals } = optionsOf(words, {
    format: { type: "string", default: "json" },
    from: { type: "string" },
    to: { type: "string" },
    also: { type: "string" },
    "no-snomed": { type: "boolean" },
    policy: { type: "string" },
    progress: { type: "boolean" },
    schema: { type: "boolean" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return yield HELP;
  const tables = await allTables();
  if (values.schema)
    return yield `${JSON.stringify(z.toJSONSchema(encounterSchema(tables), { io: "input" }), null, 2)}\n`;
  if (positionals.length > 1) throw new BadInput([`options: ${positionals.length} files are named; allowed: one FILE`]);
  const format = FORMATS[values.format];
  if (!format) throw new BadInput([`options: --format ${values.format}; allowed: ${Object.keys(FORMATS).join(", ")}`]);
  for (const day of [values.from, values.to])
    if (day !== undefined && !/^\d{4}-\d{2}-\d{2}$/.test(day))
      throw new BadInput([`options: ${day} is not a day; allowed: yyyy-MM-dd`]);
  const also = values.also === undefined ? [] : values.also.split(",");
  const unknown = also.find((name) => !ALSO.includes(name));
  if (unknown !== undefined) throw new BadInput([`options: --also ${unknown}; allowed: ${ALSO.join(", ")}`]);
  const site = policyFrom(values.policy);
  const wanted = codePolicyOf(site);
  const policy = {
    ...wanted,
    icd10: wanted.icd10 || also.includes("icd10"),
    aoOta: wanted.aoOta || also.includes("ao-ota"),
    snomed: wanted.snomed && !values["no-snomed"],
  };
  const read = encounterReader(tables, pathwayFor(MODULES[0]!, site));
  const [from, to] = [values.from ?? "", values.to ?? "9999-12-31"];

  async function* coded(): AsyncGenerator<CodedEncounter> {
    for await (const { at, json } of records(positionals[0] ?? "-", problem)) {
      const reading = read(json);
      if (!reading.ok) {
        for (const said of reading.problems) problem(`${at}: ${said}`);
        continue;
      }
      const { encounter } = reading;
      if (encounter.date < from || encounter.date > to) continue;
      const table = tables.find((t) => inForce(t.edition, encounter.date));
      yield codeEncounter(encounter, table, { policy, changes: format === jsonExport });
    }
  }
  yield* exported(format, coded(), ({ encounters, codes, notCoded }) => {
    if (values.progress) process.stderr.write(`${encounters} encounters, ${codes} codes, ${notCoded} without a code\n`);
  });
}

/** Each record with the place it stands at. A first line that is whole JSON means one record for each line; else the whole file is one. */
async function* records(
  file: string,
  problem: (line: string) => void,
): AsyncGenerator<{ readonly at: string; readonly json: unknown }> {
  const name = file === "-" ? "standard input" : file;
  const input = file === "-" ? process.stdin : createReadStream(file);
  const failed = new Promise<never>((_, reject) =>
    input.once("error", (error: NodeJS.ErrnoException) =>
      reject(new BadInput([`${name}: cannot be read (${error.code}); allowed: a JSON or NDJSON file, or "-"`])),
    ),
  );
  failed.catch(() => {});
  const lines = createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY })[Symbol.asyncIterator]();
  const next = () => Promise.race([lines.next(), failed]);
  let number = 0;
  const whole: string[] = [];
  let perLine: boolean | undefined;
  for (let line = await next(); !line.done; line = await next()) {
    number++;
    const text = number === 1 ? line.value.replace(/^\uFEFF/, "") : line.value;
    if (perLine === undefined && text.trim() === "") continue;
    perLine ??= parsed(text) !== undefined;
    if (!perLine) {
      whole.push(text);
      continue;
    }
    if (text.trim() === "") continue;
    const json = parsed(text);
    const at = `${name} line ${number}`;
    if (json === undefined) problem(`${at}: is not JSON; allowed: one encounter in each line`);
    else yield { at, json: json.value };
  }
  await Promise.race([failed, Promise.resolve()]);
  if (perLine) return;
  try {
    yield { at: name, json: JSON.parse(whole.join("\n")) };
  } catch (error) {
    throw new BadInput([
      `${name}: is not JSON (${(error as Error).message}); allowed: one encounter, or one in each line`,
    ]);
  }
}
const parsed = (text: string): { readonly value: unknown } | undefined => {
  try {
    return { value: JSON.parse(text) };
  } catch {
    return undefined;
  }
};

runStreaming(main);
