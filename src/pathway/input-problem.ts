import type * as z from "zod/mini";

/** What is wrong with one part of an input, where, and what is allowed there. */
export interface InputProblem {
  /** Dotted path from the root of the input; "" is the input itself. */
  readonly path: string;
  readonly problem: string;
  readonly allowed: string;
}

/**
 * One plain problem per fault that the schema found.
 *
 * @param allowedAt says what is allowed at a path, for the parts the schema was generated for
 */
export function inputProblems(
  error: z.core.$ZodError,
  allowedAt: (path: readonly PropertyKey[]) => string | undefined,
): InputProblem[] {
  return error.issues.flatMap((issue) => problemOf(issue, allowedAt));
}

const SHOWN = 6;
const show = (value: unknown) =>
  value === undefined ? "nothing" : (JSON.stringify(value) ?? String(value)).slice(0, 60);

function problemOf(
  issue: z.core.$ZodIssue,
  allowedAt: (path: readonly PropertyKey[]) => string | undefined,
): InputProblem[] {
  const allowed = allowedAt(issue.path);
  const at = (problem: string, otherwise: string): InputProblem => ({
    path: issue.path.map(String).join("."),
    problem,
    allowed: allowed ?? otherwise,
  });
  switch (issue.code) {
    case "unrecognized_keys":
      return issue.keys.map((key) => ({
        path: [...issue.path, key].map(String).join("."),
        problem: `"${key}" is not known here`,
        allowed: allowed ?? "leave it out",
      }));
    case "invalid_type":
      return issue.input === undefined
        ? [at("is missing", `a ${issue.expected}`)]
        : [at(`${show(issue.input)} has the wrong type`, `a ${issue.expected}`)];
    case "too_small":
      return [
        at(issue.origin === "number" ? `${show(issue.input)} is too small` : "is empty", `at least ${issue.minimum}`),
      ];
    case "too_big":
      return [at(`${show(issue.input)} is too large`, `at most ${issue.maximum}`)];
    case "invalid_value":
      return [at(`${show(issue.input)} is not an allowed value`, list(issue.values.map(String)))];
    case "invalid_union":
      return [at(`${show(issue.input)} is not allowed`, "see the schema")];
    case "custom":
      return [at(issue.message, "see the schema")];
    default:
      return [at(`${show(issue.input)} has the wrong form`, "see the schema")];
  }
}

/** Allowed values in one line. */
export const list = (values: readonly string[]) =>
  values.length > SHOWN * 3 ? `one of ${values.slice(0, SHOWN * 3).join(", ")} …` : `one of ${values.join(", ")}`;
