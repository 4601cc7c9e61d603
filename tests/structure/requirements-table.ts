/** `npm run -s requirements`: which test covers which requirement, as Markdown; exit code 1 when one has none. */
import { type Covered, counted, coverage } from "./requirements-covered.ts";
import { allTestTitles, bareTitle, type TestTitle } from "./test-titles.ts";

const TESTS_SHOWN = 4;
const escaped = (text: string) => text.replace(/[\\`*_{}[\]<>|#~]/g, (c) => `\\${c}`);
const named = ({ file, title, within }: TestTitle) =>
  `${escaped([...within.slice(-1), title].map(bareTitle).join(": "))} (\`${file.replace(/^tests\//, "")}\`)`;
function row({ number, says, standing, missing, notApplicable, tests }: Covered): string {
  const rest = tests.length - TESTS_SHOWN;
  const shown = [...tests.slice(0, TESTS_SHOWN).map(named), ...(rest > 0 ? [`and ${rest} more`] : [])];
  const why = missing ?? notApplicable;
  return `| ${[number, escaped(says), standing + (why ? `: ${escaped(why)}` : ""), shown.join("<br>")].join(" | ")} |`;
}

const { rows, problems } = coverage(allTestTitles());
const lines = [
  "# Requirements and the tests that show them",
  "",
  counted(rows),
  "",
  "| Number | Requirement | Standing | Tests |",
  "| --- | --- | --- | --- |",
  ...rows.map(row),
];
process.stdout.write(`${lines.join("\n")}\n`);
for (const problem of problems) process.stderr.write(`${problem}\n`);
process.exitCode = problems.length ? 1 : 0;
