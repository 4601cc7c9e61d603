import { isValid, parseISO } from "date-fns";
import * as z from "zod/mini";
import { type InputProblem, inputProblems, list } from "../input-problem.ts";
import type { PolicyDefinitions, PolicyValue, SitePolicy } from "./policy-value.ts";

export type PolicyProblem = InputProblem;
export type PolicyReading =
  | { readonly ok: true; readonly policy: SitePolicy }
  | { readonly ok: false; readonly problems: readonly PolicyProblem[] };

/** The policy of a site that shipped none. */
export const DEFAULT_SITE = "Default policy, not approved by a site";

/**
 * Checks a site's policy file: values only, partial, under known keys and inside their bounds. One fault and nothing is
 * taken over: there is no half-merged policy.
 *
 * @param json the parsed file: { site, approvedBy, approvedOn (yyyy-MM-dd), values }; undefined when the site ships none
 */
export function checkSitePolicy(definitions: PolicyDefinitions, json: unknown): PolicyReading {
  const defaults = Object.fromEntries(Object.entries(definitions).map(([key, d]) => [key, d.value]));
  if (json === undefined)
    return { ok: true, policy: { site: DEFAULT_SITE, approvedBy: "", approvedOn: "", values: defaults } };
  const read = schemaOf(definitions).safeParse(json, { reportInput: true });
  if (!read.success) return { ok: false, problems: inputProblems(read.error, (path) => allowedAt(definitions, path)) };
  // Optional keys of zod's output are "value or undefined"; JSON has no undefined.
  const values = { ...defaults, ...(read.data.values as Record<string, number | string>) };
  const problems = outOfOrder(definitions, values);
  if (problems.length > 0) return { ok: false, problems };
  const { site, approvedBy, approvedOn } = read.data;
  return { ok: true, policy: { site, approvedBy, approvedOn, values } };
}

/** What a policy file must look like; the order between two values is checked after it. */
export const schemaOf = (definitions: PolicyDefinitions) =>
  z.strictObject({
    site: z.string().check(z.minLength(1)),
    approvedBy: z.string().check(z.minLength(1)),
    approvedOn: z
      .string()
      .check(z.refine((day) => /^\d{4}-\d{2}-\d{2}$/.test(day) && isValid(parseISO(day)), { error: "is not a date" })),
    values: z.strictObject(
      Object.fromEntries(Object.entries(definitions).map(([key, d]) => [key, z.optional(valueSchema(d))])),
    ),
  });

const valueSchema = (definition: PolicyValue) =>
  definition.type === "number"
    ? z.number().check(z.gte(definition.min), z.lte(definition.max))
    : z.enum(definition.options as readonly [string, ...string[]]);

function allowedAt(definitions: PolicyDefinitions, path: readonly PropertyKey[]): string | undefined {
  const [part, key] = path.map(String);
  // Only what the schema knows is looked into, so a key is one of the definitions; an unknown one is said of "values" itself.
  if (part === "values") return key === undefined ? list(Object.keys(definitions)) : allowedFor(definitions[key]!);
  if (part === "approvedOn") return "a date yyyy-MM-dd";
  if (part === undefined) return "an object with site, approvedBy, approvedOn and values";
  return "a text that is not empty";
}

/** What a site may enter for one value, in words. */
export const allowedFor = (definition: PolicyValue): string =>
  definition.type === "number" ? `${definition.min} to ${definition.max} ${definition.unit}` : list(definition.options);

function outOfOrder(definitions: PolicyDefinitions, values: SitePolicy["values"]): PolicyProblem[] {
  return Object.entries(definitions).flatMap(([key, d]) => {
    if (d.type !== "number" || d.notAbove === undefined) return [];
    const value = values[key] as number;
    const limit = values[d.notAbove] as number | undefined;
    if (limit === undefined || value <= limit) return [];
    return [
      {
        path: `values.${key}`,
        problem: `${value} is above ${d.notAbove} (${limit})`,
        allowed: `at most the value of ${d.notAbove}`,
      },
    ];
  });
}
