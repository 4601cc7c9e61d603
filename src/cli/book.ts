/** `npm run -s book`: the whole knowledge as one document for a clinical reviewer, written from the rules. */
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { makeBook, toHtml, toMarkdown } from "../pathway/book/index.ts";
import { BadInput, optionsOf, run } from "./command.ts";
import { testsOfRules } from "./rule-tests.ts";

const HELP = `Write the pathway book: every rule, its reason, its sources, who disagrees, and the tests that cover it.

  npm run -s book -- [options]

  --out FOLDER       where pathway-book.html and pathway-book.md go (default book)
  --check            write nothing; say whether the book is complete and readable
  --snapshot FILE    write what is known now as data, to compare later versions with
  --help             print this and stop

Exit codes:
  0  written, or good
  1  a fault in the program itself
  2  wrong options, a folder that cannot be written, or an incomplete book: one line per problem on standard error
`;

const RULES = join(import.meta.dirname, "../pathway");
/** The released version that changes are counted from. */
const RELEASED = join(RULES, "book/released-0.1.0.jsonl");

function main(words: readonly string[]): string {
  const { values, positionals } = optionsOf(words, {
    out: { type: "string", default: "book" },
    check: { type: "boolean" },
    snapshot: { type: "string" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return HELP;
  if (positionals.length) throw new BadInput([`options: "${positionals[0]}" is not an option; allowed: see --help`]);
  const { book, problems, snapshot } = makeBook({
    changeLog: readFileSync(join(RULES, "CHANGES.md"), "utf8"),
    ...(existsSync(RELEASED) ? { released: readFileSync(RELEASED, "utf8") } : {}),
    tests: testsOfRules,
  });
  if (problems.length) throw new BadInput(problems);
  if (values.snapshot !== undefined) {
    write(values.snapshot, snapshot);
    return `${values.snapshot}\n`;
  }
  const files = { "pathway-book.html": toHtml(book), "pathway-book.md": toMarkdown(book) };
  if (values.check)
    return "The book is complete: each rule, sign, question, class, source and site value stands once.\n";
  return Object.entries(files)
    .map(([name, text]) => {
      const path = join(values.out, name);
      write(path, text, values.out);
      return `${path}\n`;
    })
    .join("");
}

function write(path: string, text: string, folder?: string): void {
  try {
    if (folder !== undefined) mkdirSync(folder, { recursive: true });
    writeFileSync(path, text);
  } catch (error) {
    throw new BadInput([
      `${path}: cannot be written (${(error as NodeJS.ErrnoException).code}); allowed: a folder you may write to`,
    ]);
  }
}

run(main);
