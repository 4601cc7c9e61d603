import { REQUIREMENTS, type Requirement } from "./requirements.ts";
import { numbersOf, strayNumbers, type TestTitle } from "./test-titles.ts";

export type Standing = "covered" | "part" | "open" | "not applicable" | "without test";
export interface Covered extends Requirement {
  readonly number: string;
  readonly standing: Standing;
  /** Tests whose title, one of whose cases, or a group around which begins with the number. */
  readonly tests: readonly TestTitle[];
}

/**
 * What the tests say of each requirement.
 *
 * @returns each requirement with its tests, and what is wrong: a number that nobody knows, one that stands where it does
 *   not count, a requirement that should be covered and has no test, one that does not apply and has
 */
export function coverage(
  titles: readonly TestTitle[],
  requirements: Readonly<Record<string, Requirement>> = REQUIREMENTS,
): { readonly rows: readonly Covered[]; readonly problems: readonly string[] } {
  const tests = new Map<string, TestTitle[]>();
  const problems: string[] = [];
  for (const test of titles) {
    const named = [test.title, ...test.within, ...test.cases];
    for (const number of new Set(named.flatMap(numbersOf))) {
      if (!Object.hasOwn(requirements, number))
        problems.push(`${test.file}: "${test.title}": there is no requirement ${number}`);
      tests.set(number, [...(tests.get(number) ?? []), test]);
    }
    for (const number of named.flatMap(strayNumbers))
      problems.push(`${test.file}: "${test.title}": ${number} counts at the beginning of a title only`);
  }
  const rows = Object.entries(requirements).map(([number, requirement]): Covered => {
    const own = tests.get(number) ?? [];
    return { number, ...requirement, tests: own, standing: standingOf(requirement, own.length) };
  });
  for (const { number, standing, tests: own } of rows) {
    if (standing === "without test") problems.push(`${number}: no test names it, and no word on what is missing`);
    if (standing === "not applicable" && own.length)
      problems.push(`${number}: is said not to apply, yet ${own.length} tests name it`);
  }
  return { rows, problems: [...new Set(problems)] };
}

function standingOf({ missing, notApplicable }: Requirement, tests: number): Standing {
  if (notApplicable !== undefined) return "not applicable";
  if (tests === 0) return missing === undefined ? "without test" : "open";
  return missing === undefined ? "covered" : "part";
}

/** "98 covered, 20 in part, …" */
export function counted(rows: readonly Covered[]): string {
  const of = (standing: Standing) => rows.filter((r) => r.standing === standing).length;
  const parts = [
    `${of("covered")} covered`,
    `${of("part")} covered in part`,
    `${of("open")} open`,
    `${of("not applicable")} not applicable`,
  ];
  return `${rows.length} requirements: ${[...parts, ...(of("without test") ? [`${of("without test")} without test`] : [])].join(", ")}`;
}
