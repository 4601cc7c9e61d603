/**
 * `npm run -s policy -- check FILE`: is this site policy good, and if not, what is wrong and where. `show` prints what a
 * site may set. Same check as the one the plugin starts with.
 */
import * as z from "zod/mini";
import {
  allowedFor,
  type PolicyProblem,
  type PolicyValue,
  readSitePolicy,
  SITE_DEFINITIONS,
  type SitePolicy,
  sitePolicySchema,
} from "../pathway/index.ts";
import { BadInput, optionsOf, readJson, run } from "./command.ts";
import { jsonPlaces } from "./json-places.ts";
import { citationWords } from "./report.ts";

const HELP = `Check the policy of a site, or show what a site may set.

  npm run -s policy -- check FILE    what is wrong, where, and what is allowed; "-" reads standard input
  npm run -s policy -- show [FILE]   every value with its default, unit, bounds and sources; with FILE also what it sets

  --schema   print the JSON Schema of a site policy and stop
  --help     print this and stop

A good file: one line on standard output says what differs from the defaults. Exit codes:
  0  good
  1  a fault in the program itself
  2  wrong options, a file that cannot be read, or a bad policy: one line per problem on standard error
`;

function main(words: readonly string[]): string {
  const { values, positionals } = optionsOf(words, {
    schema: { type: "boolean" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return HELP;
  if (values.schema) return `${JSON.stringify(schemaWithWords(), null, 2)}\n`;
  const [command, file, ...rest] = positionals;
  if (command === "check" && file !== undefined && rest.length === 0) return good(file, checked(file));
  if (command === "show" && rest.length === 0) return shown(file === undefined ? undefined : checked(file));
  throw new BadInput([
    `options: ${command === undefined ? "no command" : `"${positionals.join(" ")}" is not a command`}; allowed: check FILE, show [FILE], --schema, --help`,
  ]);
}

const DEFINITIONS: readonly (readonly [string, PolicyValue])[] = Object.entries(SITE_DEFINITIONS);

/** @throws BadInput with every problem of the file, each with its place and what is allowed there */
function checked(file: string): SitePolicy {
  const { name, text, json } = readJson(file, "a site policy in JSON, see --schema");
  const places = jsonPlaces(text);
  const read = readSitePolicy(json);
  const problems = [
    ...places.twice.map((path) => ({ path, words: `${path}: is named twice; allowed: each name once` })),
    ...(read.ok ? [] : read.problems.map((p) => ({ path: p.path, words: problemWords(p) }))),
  ];
  if (problems.length > 0 || !read.ok)
    throw new BadInput(problems.map(({ path, words }) => `${name}:${places.at(path)}: ${words}`));
  return read.policy;
}

function problemWords({ path, problem, allowed }: PolicyProblem): string {
  const definition = SITE_DEFINITIONS[path.replace(/^values\./, "")];
  const said = `${path || "the file"}: ${problem}; allowed: ${allowed}`;
  if (!path.startsWith("values.")) return said;
  if (definition) return `${said}; source: ${sourceWords(definition).join("; ")}`;
  const meant = nearest(path.replace(/^values\./, ""));
  return meant === undefined
    ? said
    : `${path}: ${problem}; did you mean ${meant}? allowed: the names that "show" lists`;
}
const sourceWords = (definition: PolicyValue) =>
  definition.sources.map((c) => `${c.says === "against" ? "dissent: " : ""}${citationWords(c)}`);

/** The known key that shares the most letter pairs with a mistyped one; none when hardly any are shared. */
function nearest(typed: string): string | undefined {
  const pairs = (text: string) =>
    new Set(Array.from({ length: text.length - 1 }, (_, i) => text.slice(i, i + 2).toLowerCase()));
  const own = pairs(typed);
  const likeness = (key: string) => {
    const theirs = pairs(key);
    return (2 * [...own].filter((p) => theirs.has(p)).length) / (own.size + theirs.size);
  };
  const [best] = DEFINITIONS.map(([key]) => ({ key, like: likeness(key) })).sort((a, b) => b.like - a.like);
  return best && best.like > LIKE_ENOUGH ? best.key : undefined;
}
const LIKE_ENOUGH = 0.7;

const withUnit = (definition: PolicyValue, value: number | string | undefined) =>
  definition.type === "number" ? `${value} ${definition.unit}` : String(value);

function good(file: string, { site, approvedBy, approvedOn, values }: SitePolicy): string {
  const differs = DEFINITIONS.filter(([key, d]) => values[key] !== d.value).map(
    ([key, d]) => `${key} ${withUnit(d, values[key])} (default ${withUnit(d, d.value)})`,
  );
  const name = file === "-" ? "standard input" : file;
  const what = differs.length
    ? `differs from the defaults in ${differs.length}: ${differs.join(", ")}`
    : "sets nothing but defaults";
  return `${name}: good; ${site}, approved by ${approvedBy} on ${approvedOn}; ${what}\n`;
}

function shown(policy: SitePolicy | undefined): string {
  const blocks = DEFINITIONS.map(([key, d]) =>
    [
      key,
      `  ${d.note}`,
      ...(policy ? [`  set:     ${withUnit(d, policy.values[key])}`] : []),
      `  default: ${withUnit(d, d.value)}`,
      `  allowed: ${allowedFor(d)}${d.type === "number" && d.notAbove ? `, never above ${d.notAbove}` : ""}`,
      ...sourceWords(d).map((words) => (words.startsWith("dissent: ") ? `  ${words}` : `  source:  ${words}`)),
    ].join("\n"),
  );
  const head = policy
    ? `${policy.site}, approved by ${policy.approvedBy} on ${policy.approvedOn}`
    : "Defaults; no site policy";
  return `${[head, ...blocks].join("\n\n")}\n`;
}

/** The schema that a file is checked with, with the note, unit and default of each value. */
function schemaWithWords(): object {
  const schema = z.toJSONSchema(sitePolicySchema(), { io: "input" });
  const values = schema.properties?.values;
  for (const [key, definition] of DEFINITIONS) {
    const property = typeof values === "object" ? values.properties?.[key] : undefined;
    if (typeof property !== "object") continue;
    property.description = `${definition.note}${definition.type === "number" ? ` [${definition.unit}]` : ""}`;
    property.default = definition.value;
  }
  return { title: "Policy of a site", ...schema };
}

run(main);
