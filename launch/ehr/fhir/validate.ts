/**
 * Whether a resource is a valid R4 resource.
 * Cardinality, types, unknown elements and invariants: `validateResource` of @medplum/core on the R4 definitions.
 * Here on top: required bindings by the official expansions, reference targets, formats, empties and choices.
 */
import {
  getDataType,
  type InternalSchemaElement,
  isDataTypeLoaded,
  OperationOutcomeError,
  validateResource,
} from "@medplum/core";
import type { Resource as MedplumResource } from "@medplum/fhirtypes";
import { codesOf, loadDefinitions } from "./definitions.ts";
import type { Issue, Resource } from "./exchange.ts";
import { dateRange } from "./search-values.ts";

const DEEPEST = 60;

/** Problems of severity error; an empty list means valid. Warnings are left out. */
export function problemsOf(resource: unknown): Issue[] {
  loadDefinitions();
  if (resource === null || typeof resource !== "object" || Array.isArray(resource))
    return [problem("structure", "", "A resource is a JSON object.")];
  const { resourceType } = resource as Resource;
  if (typeof resourceType !== "string" || !isDataTypeLoaded(resourceType)) {
    return [problem("structure", "", `resourceType “${String(resourceType)}” is not one that this server knows.`)];
  }
  const own: Issue[] = [];
  checkObject(resource as Record<string, unknown>, resourceType, resourceType, own, 0);
  return [...structureProblems(resource as Resource), ...own];
}

/** What was found valid, its ids numbered as they come: the definitions look at the form of an id and at which of them are the same. */
const foundValid = new Set<string>();
const MOST_REMEMBERED = 500;
const UUID = /[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}/g;
function shapeOf(resource: Resource): string {
  const numbers = new Map<string, string>();
  return JSON.stringify(resource).replaceAll(UUID, (id) => {
    if (!numbers.has(id)) numbers.set(id, `00000000-0000-4000-8000-${String(numbers.size).padStart(12, "0")}`);
    return numbers.get(id) as string;
  });
}

function structureProblems(resource: Resource): Issue[] {
  const shape = shapeOf(resource);
  if (foundValid.has(shape)) return [];
  try {
    validateResource(resource as unknown as MedplumResource);
    if (foundValid.size >= MOST_REMEMBERED) foundValid.clear();
    foundValid.add(shape);
    return [];
  } catch (error) {
    if (!(error instanceof OperationOutcomeError))
      return [problem("structure", resource.resourceType, `cannot be read as R4: ${String(error)}`)];
    return (error.outcome.issue ?? [])
      .filter(({ severity }) => severity === "error" || severity === "fatal")
      .map(({ code, details, diagnostics, expression }) => ({
        severity: "error" as const,
        code: code ?? "invalid",
        diagnostics: details?.text ?? diagnostics ?? "invalid",
        ...(expression ? { expression } : {}),
      }));
  }
}

const problem = (code: string, path: string, diagnostics: string): Issue => ({
  severity: "error",
  code,
  diagnostics: path ? `${path}: ${diagnostics}` : diagnostics,
  ...(path ? { expression: [path] } : {}),
});

function checkObject(
  object: Record<string, unknown>,
  typeName: string,
  path: string,
  issues: Issue[],
  depth: number,
): void {
  if (depth > DEEPEST) {
    issues.push(problem("too-long", path, `nested deeper than ${DEEPEST} levels.`));
    return;
  }
  if (!isDataTypeLoaded(typeName)) {
    issues.push(problem("structure", path, `type “${typeName}” is not known here.`));
    return;
  }
  const { elements } = getDataType(typeName);
  const chosen = new Map<string, string>();
  for (const [key, value] of Object.entries(object)) {
    const at = `${path}.${key}`;
    checkEmpty(value, at, issues);
    // the definitions give a resource's id as plain text, without its pattern
    const wrongId = key === "id" && typeof object.resourceType === "string" ? FORMATS.id?.(value) : undefined;
    if (wrongId) issues.push(problem("value", at, wrongId));
    const found = elementFor(elements, key.replace(/^_/, ""));
    if (!found) continue; // an unknown element is reported by validateResource
    const { name, element, type } = found;
    if (name.endsWith("[x]")) {
      const before = chosen.get(name);
      const now = key.replace(/^_/, "");
      if (before && before !== now)
        issues.push(problem("structure", at, `only one of ${name} is allowed, ${before} is there too.`));
      chosen.set(name, now);
    }
    if (key.startsWith("_")) continue;
    for (const [i, item] of (Array.isArray(value) ? value : [value]).entries()) {
      checkValue(item, type, element, Array.isArray(value) ? `${at}[${i}]` : at, issues, depth);
    }
  }
}

/** Empty strings, arrays and objects do not exist in FHIR JSON (R4 json.html); null only beside a primitive's extension. */
function checkEmpty(value: unknown, path: string, issues: Issue[]): void {
  if (value === "") issues.push(problem("value", path, "an empty string is not allowed."));
  else if (Array.isArray(value) && value.length === 0)
    issues.push(problem("structure", path, "an empty array is not allowed."));
  else if (value !== null && typeof value === "object" && !Array.isArray(value) && Object.keys(value).length === 0) {
    issues.push(problem("structure", path, "an empty object is not allowed."));
  } else if (Array.isArray(value)) {
    for (const [i, item] of value.entries()) if (item !== null) checkEmpty(item, `${path}[${i}]`, issues);
  }
}

function elementFor(elements: Record<string, InternalSchemaElement>, key: string) {
  const exact = elements[key];
  if (exact) return { name: key, element: exact, type: exact.type[0]?.code ?? "" };
  for (const [name, element] of Object.entries(elements)) {
    if (!name.endsWith("[x]") || !key.startsWith(name.slice(0, -3))) continue;
    const suffix = key.slice(name.length - 3);
    const type = element.type.find(({ code }) => code.charAt(0).toUpperCase() + code.slice(1) === suffix);
    if (type) return { name, element, type: type.code };
  }
  return undefined;
}

function checkValue(
  value: unknown,
  type: string,
  element: InternalSchemaElement,
  path: string,
  issues: Issue[],
  depth: number,
): void {
  if (value === null || value === undefined) return;
  const format = FORMATS[type];
  if (format) {
    const wrong = format(value);
    if (wrong) issues.push(problem("value", path, wrong));
  }
  checkBinding(value, type, element, path, issues);
  if (typeof value !== "object") return;
  if (type === "Reference") checkTarget(value as { reference?: unknown }, element, path, issues);
  const inner = type === "Resource" ? String((value as Resource).resourceType) : type;
  checkObject(value as Record<string, unknown>, inner, path, issues, depth + 1);
}

interface CodingLike {
  system?: string;
  code?: string;
}
function checkBinding(
  value: unknown,
  type: string,
  { binding }: InternalSchemaElement,
  path: string,
  issues: Issue[],
): void {
  if (binding?.strength !== "required" || !binding.valueSet) return;
  const codes = codesOf(binding.valueSet);
  if (!codes) return; // too large to enumerate (languages, media types, units)
  const isIn = ({ system, code }: CodingLike) =>
    code !== undefined && codes.has(system === undefined ? code : `${system}|${code}`);
  const where = `${binding.valueSet.split("|")[0]} (required binding)`;
  if (type === "code" && typeof value === "string" && !codes.has(value)) {
    issues.push(problem("code-invalid", path, `“${value}” is not in ${where}.`));
  } else if (type === "Coding" && !isIn(value as CodingLike)) {
    issues.push(problem("code-invalid", path, `the coding is not in ${where}.`));
  } else if (type === "CodeableConcept") {
    const coding = (value as { coding?: CodingLike[] }).coding;
    if (!Array.isArray(coding) || !coding.some(isIn))
      issues.push(problem("code-invalid", path, `no coding is from ${where}.`));
  }
}

function checkTarget(
  { reference }: { reference?: unknown },
  { type }: InternalSchemaElement,
  path: string,
  issues: Issue[],
): void {
  if (typeof reference !== "string" || reference.startsWith("#") || reference.startsWith("urn:")) return;
  const allowed = type
    .find(({ code }) => code === "Reference")
    ?.targetProfile?.map((profile) => profile.split("/").pop() ?? "");
  if (!allowed || allowed.length === 0 || allowed.includes("Resource")) return;
  const target = /(?:^|\/)([A-Z][A-Za-z]+)(?:\/[A-Za-z0-9\-.]{1,64}(?:\/_history\/[A-Za-z0-9\-.]{1,64})?|\?.*)$/.exec(
    reference,
  )?.[1];
  if (target && !allowed.includes(target)) {
    issues.push(problem("structure", path, `points to a ${target}; allowed: ${allowed.join(", ")}.`));
  }
}

type Format = (value: unknown) => string | undefined;
const text =
  (pattern: RegExp, what: string): Format =>
  (value) =>
    typeof value !== "string"
      ? `should be a text (${what}).`
      : pattern.test(value)
        ? undefined
        : `“${value.slice(0, 60)}” is not ${what}.`;
const DATE = /^\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?$/;
const TIME = "T([01]\\d|2[0-3]):[0-5]\\d:([0-5]\\d|60)(\\.\\d+)?(Z|[+-]((0\\d|1[0-3]):[0-5]\\d|14:00))";
const DATE_TIME = new RegExp(`^\\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\\d|3[01])(${TIME})?)?)?$`);
const INSTANT = new RegExp(`^\\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\\d|3[01])${TIME}$`);
/** The day exists: 30 February passes every pattern and still does not. */
const onCalendar =
  (check: Format): Format =>
  (value) => {
    const wrong = check(value);
    if (wrong) return wrong;
    const [, y, m, d] = /^(\d{4})-(\d{2})-(\d{2})/.exec(value as string) ?? [];
    if (!d) return dateRange(value as string) ? undefined : "is not a date.";
    return new Date(Date.UTC(Number(y), Number(m) - 1, Number(d))).getUTCDate() === Number(d)
      ? undefined
      : `“${String(value)}” is not a day of the calendar.`;
  };
const whole =
  (least: number, what: string): Format =>
  (value) =>
    Number.isInteger(value) && (value as number) >= least && (value as number) <= 2_147_483_647
      ? undefined
      : `should be ${what}.`;
const FORMATS: Record<string, Format> = {
  date: onCalendar(text(DATE, "a date (YYYY, YYYY-MM or YYYY-MM-DD)")),
  dateTime: onCalendar(text(DATE_TIME, "a dateTime (a time needs seconds and a zone)")),
  instant: onCalendar(text(INSTANT, "an instant (full date, time with seconds, zone)")),
  time: text(/^([01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(\.\d+)?$/, "a time hh:mm:ss"),
  id: text(/^[A-Za-z0-9\-.]{1,64}$/, "an id (letters, digits, - and ., at most 64)"),
  "http://hl7.org/fhirpath/System.String": text(/^[\s\S]+$/, "a text"),
  uri: text(/^\S+$/, "a uri (no spaces)"),
  url: text(/^\S+$/, "a url (no spaces)"),
  canonical: text(/^\S+$/, "a canonical address (no spaces)"),
  oid: text(/^urn:oid:[0-2](\.(0|[1-9]\d*))+$/, "an OID (urn:oid:…)"),
  uuid: text(/^urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/, "a UUID (urn:uuid:…, lower case)"),
  code: text(/^\S+( \S+)*$/, "a code (no leading, trailing or double spaces)"),
  base64Binary: text(/^(\s*([0-9A-Za-z+/=]){4}\s*)+$/, "base64"),
  positiveInt: whole(1, "a whole number from 1"),
  unsignedInt: whole(0, "a whole number from 0"),
  integer: whole(-2_147_483_648, "a whole number"),
  xhtml: (value) =>
    typeof value === "string" &&
    /^\s*(<\?xml[^>]*>)?\s*<div[\s>]/.test(value) &&
    !/<(script|iframe|object|embed|form)\b/i.test(value)
      ? undefined
      : "narrative must be one <div> of plain XHTML without scripts, frames or forms.",
};
