/** What the granted scopes allow. */

/** create, read, update, delete, search: the letters of SMART App Launch 2.2, in their order. */
export type ScopeLetter = "c" | "r" | "u" | "d" | "s";

/** `patient/Condition.rs`, `user/*.read`, `patient/Observation.rs?category=…` */
const GRANT = /^(?:patient|user)\/(\*|[A-Z][A-Za-z]+)\.(c?r?u?d?s?|read|write|\*)(?:\?.*)?$/;

const LETTERS_OF: Record<string, string> = { read: "rs", write: "cud", "*": "cruds" };

/** Whether the granted scopes cover one action on one resource type (v1 and v2 syntax). */
export function covers(granted: readonly string[], resource: string, letter: ScopeLetter): boolean {
  return granted.some((scope) => {
    const [, type, action] = GRANT.exec(scope) ?? [];
    if (!action || (type !== "*" && type !== resource)) return false;
    return (LETTERS_OF[action] ?? action).includes(letter);
  });
}
