/** The whole knowledge as one document for a clinical reviewer. For commands only: nothing that a browser loads comes here. */
import { MODULES, POLICY_DEFINITIONS } from "../modules.ts";
import { checkSitePolicy } from "../policy/site-policy.ts";
import { SAFETY_FILE, safetyProblems } from "../safety/index.ts";
import { KNOWLEDGE_VERSION } from "../version.ts";
import type { Book } from "./blocks.ts";
import { type BookInput, bookOf } from "./book.ts";
import { snapshotOf } from "./changes.ts";
import { bookProblems } from "./check.ts";
import { type Knowledge, knowledgeOf } from "./knowledge.ts";
import { speakerFor } from "./words.ts";

export type { Book } from "./blocks.ts";
export type { BookInput, CoveringTest } from "./book.ts";
export { toHtml } from "./html.ts";
export { toMarkdown } from "./markdown.ts";

export type BookParts = Pick<BookInput, "changeLog" | "released"> & {
  /** The tests of each rule, by id. */
  readonly tests: (ids: readonly string[]) => BookInput["tests"];
  /** Another set of modules and values than the shipped one, for a test of the book itself. */
  readonly modules?: typeof MODULES;
  readonly definitions?: typeof POLICY_DEFINITIONS;
};
export interface MadeBook {
  readonly book: Book;
  readonly knowledge: Knowledge;
  /** What keeps it from being complete and readable; empty when it is good. */
  readonly problems: readonly string[];
  /** Everything known as data, to keep beside a released version. */
  readonly snapshot: string;
}

/** Makes the book and checks it. Takes some two seconds: every rule is looked at under every choice and number of a site. */
export function makeBook({
  modules = MODULES,
  definitions = POLICY_DEFINITIONS,
  tests,
  ...parts
}: BookParts): MadeBook {
  const read = checkSitePolicy(definitions, undefined);
  if (!read.ok) throw new Error("the default policy is refused");
  const knowledge = knowledgeOf(modules, definitions);
  const speaker = speakerFor(knowledge, read.policy);
  // What an older version said may lack words today; that is no fault of this book.
  const ids = [...knowledge.tables.flatMap((t) => t.rules), ...knowledge.figures].map((r) => r.id);
  const input = { ...parts, tests: tests(ids), knowledge, policy: read.policy };
  const book = bookOf(input, speaker, speakerFor(knowledge, read.policy));
  return {
    book,
    knowledge,
    problems: [...bookProblems(book, knowledge, speaker, modules, definitions), ...safetyProblems(SAFETY_FILE)],
    snapshot: snapshotOf(knowledge, KNOWLEDGE_VERSION),
  };
}
