/** Search values on both sides of a comparison: what a resource holds and what a query asks for (R4 search.html, parameter types). */
import {
  convertToSearchableNumbers,
  convertToSearchableQuantities,
  convertToSearchableTokens,
  convertToSearchableUris,
  evalFhirPathTyped,
  getSearchParameterDetails,
  type TypedValue,
  toTypedValue,
} from "@medplum/core";
import type { SearchParameter } from "@medplum/fhirtypes";
import type { StoredResource } from "./exchange.ts";
import type { Version } from "./store.ts";

/** Milliseconds since the epoch, both ends included; open ends are infinite. */
export interface Range {
  readonly from: number;
  readonly to: number;
}
export interface Token {
  readonly system: string | undefined;
  readonly code: string;
  /** The element is of type `code`: its system is implied by the binding. */
  readonly impliedSystem: boolean;
}
export interface Referred {
  readonly reference: string | undefined;
  readonly identifier: { system?: string; value?: string } | undefined;
}
export interface Values {
  readonly tokens: Token[];
  readonly texts: string[];
  readonly references: Referred[];
  readonly ranges: Range[];
  readonly numbers: Range[];
  readonly quantities: { value?: number; unit?: string; system?: string; code?: string }[];
  readonly uris: string[];
  readonly present: boolean;
}

/** Values of one search parameter in one stored version; worked out once per version. */
export function valuesOf(version: Version, param: SearchParameter): Values {
  const known = version.values.get(param.code);
  if (known) return known as Values;
  const typed = version.resource ? typedValues(version.type, version.resource, param) : [];
  const values = convert(typed, param.type);
  version.values.set(param.code, values);
  return values;
}

function typedValues(type: string, resource: StoredResource, param: SearchParameter): TypedValue[] {
  const step = ONE_STEP[param.expression ?? ""];
  if (step) {
    const found = step.elements.flatMap((name) => resource[name] ?? []);
    return found.map((value) => ({ type: step.type, value }));
  }
  return evalFhirPathTyped(getSearchParameterDetails(type, param).parsedExpression, [toTypedValue(resource)]);
}
const elements = (type: string, ...elements: string[]) => ({ type, elements });
/** What the long lists of a clinic are searched and sorted by: one step down, not worth interpreting an expression ten thousand times. */
const ONE_STEP: Readonly<Record<string, { readonly type: string; readonly elements: readonly string[] }>> = {
  "Appointment.status": elements("code", "status"),
  "Appointment.identifier": elements("Identifier", "identifier"),
  "Appointment.basedOn": elements("Reference", "basedOn"),
  "Appointment.slot": elements("Reference", "slot"),
  "Appointment.start": elements("instant", "start"),
  "ServiceRequest.status": elements("code", "status"),
  "ServiceRequest.intent": elements("code", "intent"),
  "ServiceRequest.identifier": elements("Identifier", "identifier"),
  "ServiceRequest.subject": elements("Reference", "subject"),
  "ServiceRequest.occurrence": elements("Period", "occurrencePeriod", "occurrenceDateTime", "occurrenceTiming"),
  "Slot.status": elements("code", "status"),
  "Slot.schedule": elements("Reference", "schedule"),
  "Slot.start": elements("instant", "start"),
};

const NONE: Values = {
  tokens: [],
  texts: [],
  references: [],
  ranges: [],
  numbers: [],
  quantities: [],
  uris: [],
  present: false,
};
function convert(typed: TypedValue[], kind: string): Values {
  const present = typed.some(({ value }) => value !== undefined && value !== null);
  if (!present) return NONE;
  switch (kind) {
    case "token": {
      const implied = new Set(typed.filter(({ type }) => type === "code").map(({ value }) => String(value)));
      const all = convertToSearchableTokens(typed, { textSearchSystem: TEXT });
      return {
        ...NONE,
        present,
        tokens: all.flatMap(({ system, value }) =>
          system === TEXT || value === undefined
            ? []
            : [{ system, code: value.toLowerCase(), impliedSystem: system === undefined && implied.has(value) }],
        ),
        texts: all.flatMap(({ system, value }) => (system === TEXT && value ? [plain(value)] : [])),
      };
    }
    case "reference":
      return {
        ...NONE,
        present,
        references: typed.map(({ value }) =>
          typeof value === "string"
            ? { reference: value, identifier: undefined }
            : { reference: value?.reference as string | undefined, identifier: value?.identifier },
        ),
      };
    case "date":
      return { ...NONE, present, ranges: typed.flatMap(({ value }) => rangesIn(value)) };
    case "number":
      return {
        ...NONE,
        present,
        numbers: convertToSearchableNumbers(typed).map(([from = -Infinity, to = Infinity]) => ({ from, to })),
      };
    case "quantity":
      return { ...NONE, present, quantities: convertToSearchableQuantities(typed) as Values["quantities"] };
    case "string":
      return { ...NONE, present, texts: typed.flatMap(({ value }) => stringsIn(value)).map(plain) };
    case "uri":
      return { ...NONE, present, uris: convertToSearchableUris(typed) };
    default:
      return { ...NONE, present };
  }
}
const TEXT = "urn:practice:display-text";

/** Case and accents do not matter in a string search. */
export const plain = (text: string) =>
  text
    .normalize("NFD")
    .replace(/\p{Diacritic}/gu, "")
    .toLowerCase();

/** All strings in a HumanName, Address or plain value. */
function stringsIn(value: unknown): string[] {
  if (typeof value === "string") return [value];
  if (Array.isArray(value)) return value.flatMap(stringsIn);
  if (value === null || typeof value !== "object") return [];
  return Object.entries(value).flatMap(([key, part]) => (NAME_PARTS.has(key) ? stringsIn(part) : []));
}
const NAME_PARTS = new Set([
  "text",
  "family",
  "given",
  "prefix",
  "suffix",
  "line",
  "city",
  "district",
  "state",
  "postalCode",
  "country",
]);

/** date, dateTime, instant, Period or Timing. */
function rangesIn(value: unknown): Range[] {
  if (typeof value === "string") {
    const range = dateRange(value);
    return range ? [range] : [];
  }
  if (value === null || typeof value !== "object") return [];
  const { start, end, event, repeat } = value as {
    start?: string;
    end?: string;
    event?: string[];
    repeat?: { boundsPeriod?: unknown };
  };
  if (start !== undefined || end !== undefined) {
    return [{ from: (start && dateRange(start)?.from) || -Infinity, to: (end && dateRange(end)?.to) || Infinity }];
  }
  return [...(event ?? []), ...(repeat?.boundsPeriod ? [repeat.boundsPeriod] : [])].flatMap(rangesIn);
}

/**
 * The span of a partial date: "2026" is the whole year. Without a zone the server's own zone is meant.
 * Undefined when it is not an R4 date, dateTime or instant.
 */
export function dateRange(text: string): Range | undefined {
  const match =
    /^(\d{4})(?:-(\d{2})(?:-(\d{2})(?:T(\d{2}):(\d{2})(?::(\d{2})(\.\d+)?)?(Z|[+-]\d{2}:\d{2})?)?)?)?$/.exec(
      text.trim(),
    );
  if (!match) return undefined;
  const [, y, m, d, hour, minute, second, fraction, zone] = match;
  const year = Number(y);
  const month = m ? Number(m) - 1 : 0;
  if (month > 11 || (d && (Number(d) < 1 || Number(d) > 31))) return undefined;
  if (hour === undefined) {
    const from = new Date(year, month, d ? Number(d) : 1);
    const next = d ? new Date(year, month, Number(d) + 1) : m ? new Date(year, month + 1, 1) : new Date(year + 1, 0, 1);
    return { from: from.getTime(), to: next.getTime() - 1 };
  }
  const from = Date.parse(
    `${y}-${m}-${d}T${hour}:${minute}:${second ?? "00"}${(fraction ?? "").slice(0, 4)}${zone ?? ""}`,
  );
  if (Number.isNaN(from)) return undefined;
  return { from, to: from + (second === undefined ? 59_999 : fraction === undefined ? 999 : 0) };
}

/** A number stands for the span its last digit leaves open: 5.4 means 5.35 to 5.45 (R4 search.html#number). */
export function numberRange(text: string): Range | undefined {
  if (!/^[+-]?\d+(\.\d+)?([eE][+-]?\d+)?$/.test(text)) return undefined;
  const value = Number(text);
  const decimals = /\.(\d+)/.exec(text)?.[1]?.length ?? 0;
  const half = /[eE]/.test(text) ? Math.abs(value) * 0.05 : 0.5 * 10 ** -decimals;
  return { from: value - half, to: value + half };
}

export type Prefix = "eq" | "ne" | "gt" | "lt" | "ge" | "le" | "sa" | "eb" | "ap";
/** "ge2026-01-01" -> ["ge", "2026-01-01"] */
export function splitPrefix(text: string): [Prefix, string] {
  const match = /^(eq|ne|gt|lt|ge|le|sa|eb|ap)(?=[\d+-])(.*)$/.exec(text);
  return match ? [match[1] as Prefix, match[2] ?? ""] : ["eq", text];
}
/** R4 search.html#prefix, for a span held by the resource and a span asked for. */
export function compareRanges(prefix: Prefix, held: Range, asked: Range): boolean {
  const within = asked.from <= held.from && held.to <= asked.to;
  switch (prefix) {
    case "eq":
      return within;
    case "ne":
      return !within;
    case "gt":
      return held.to > asked.to;
    case "lt":
      return held.from < asked.from;
    case "ge":
      return held.to > asked.to || within;
    case "le":
      return held.from < asked.from || within;
    case "sa":
      return held.from > asked.to;
    case "eb":
      return held.to < asked.from;
    case "ap": {
      const slack = Math.max(asked.to - asked.from, 1) * 0.1;
      return held.to >= asked.from - slack && held.from <= asked.to + slack;
    }
  }
}
