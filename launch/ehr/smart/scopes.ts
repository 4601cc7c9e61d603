/** Scopes of SMART App Launch 2.2: reading them, granting a subset, asking what they allow. v1 and v2 syntax. */
import { type Person, WRITABLE_TYPES } from "./people.ts";

export interface ResourceScope {
  readonly level: "patient" | "user";
  /** A resource type or "*". */
  readonly type: string;
  /** In-order subset of "cruds". */
  readonly letters: string;
  /** Finer condition, e.g. category=laboratory. */
  readonly query?: string;
}

const OTHER_SCOPES = new Set([
  "openid",
  "fhirUser",
  "profile",
  "launch",
  "launch/patient",
  "launch/encounter",
  "offline_access",
  "online_access",
]);
const V1: Record<string, string> = { read: "rs", write: "cud", "*": "cruds" };

/** Undefined for anything that is not a resource scope in v1 or v2 form. `system/` scopes are not for this server. */
export function readScope(scope: string): ResourceScope | undefined {
  const match = /^(patient|user)\/(\*|[A-Z][A-Za-z]+)\.([a-z]+|\*)(?:\?(.+))?$/.exec(scope);
  const [, level, type, action = "", query] = match ?? [];
  if (!level || !type) return undefined;
  const letters = V1[action] ?? (/^c?r?u?d?s?$/.test(action) && action !== "" ? action : undefined);
  if (!letters || (query && action in V1)) return undefined;
  return { level: level as "patient" | "user", type, letters, ...(query ? { query } : {}) };
}

const only = (letters: string, allowed: string) => [...letters].filter((letter) => allowed.includes(letter)).join("");

/**
 * What is granted of what was asked: never more than the person may do, less where the practice switches take something away.
 * @param denied scopes to withhold: "patient/CarePlan.c" one letter, "patient/CarePlan" a whole type, "online_access" by name
 */
export function grantScopes(
  asked: readonly string[],
  person: Person,
  denied: readonly string[],
  launched: boolean,
): string[] {
  const granted: string[] = [];
  for (const scope of new Set(asked)) {
    if (OTHER_SCOPES.has(scope)) {
      if (!denied.includes(scope) && (scope !== "launch" || launched)) granted.push(scope);
      continue;
    }
    const read = readScope(scope);
    if (!read) continue;
    const isV1 = /\.(read|write|\*)$/.test(scope);
    const types = read.type === "*" ? ["*", ...WRITABLE_TYPES] : [read.type];
    let everywhere = "";
    for (const type of types) {
      // a type that nobody may write stands for the wildcard
      const allowed = only(person.may(type === "*" ? "Patient" : type), withheld(denied, read.level, type));
      const letters = only(read.letters, allowed);
      if (type === "*") everywhere = letters;
      const extra =
        type === read.type
          ? letters
          : only(letters, [..."cruds"].filter((letter) => !everywhere.includes(letter)).join(""));
      if (extra)
        granted.push(
          ...(isV1
            ? inV1(read.level, type, extra)
            : [`${read.level}/${type}.${extra}${read.query ? `?${read.query}` : ""}`]),
        );
    }
  }
  return [...new Set(granted)];
}

/** Letters that the switches leave for a type. */
function withheld(denied: readonly string[], level: string, type: string): string {
  let left = "cruds";
  for (const entry of denied) {
    const [name = "", letters] = entry.split(".");
    if (name === `${level}/${type}` || name === type)
      left = letters ? [...left].filter((letter) => !letters.includes(letter)).join("") : "";
  }
  return left;
}
/** v1 has no single letters: `.read` needs both of rs, `.write` all of cud. */
function inV1(level: string, type: string, letters: string): string[] {
  const has = (all: string) => [...all].every((letter) => letters.includes(letter));
  return [...(has("rs") ? [`${level}/${type}.read`] : []), ...(has("cud") ? [`${level}/${type}.write`] : [])];
}

export interface Permission {
  /** "all": any patient (user/ scopes); "patient": only the patient in context. */
  readonly reach: "all" | "patient";
  /** When every covering scope has a condition, a resource must meet one of them. */
  readonly queries: readonly string[];
}
/** Whether the granted scopes allow one interaction letter (c, r, u, d, s) on a type, and how far. */
export function permissionFor(granted: readonly string[], type: string, letter: string): Permission | undefined {
  const covering = granted.flatMap((scope) => {
    const read = readScope(scope);
    return read && (read.type === "*" || read.type === type) && read.letters.includes(letter) ? [read] : [];
  });
  if (covering.length === 0) return undefined;
  const user = covering.filter(({ level }) => level === "user");
  const deciding = user.length > 0 ? user : covering;
  const free = deciding.some(({ query }) => query === undefined);
  return {
    reach: user.length > 0 ? "all" : "patient",
    queries: free ? [] : deciding.flatMap(({ query }) => query ?? []),
  };
}
