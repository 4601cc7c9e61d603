/** Deeper than any resource is built (each level of a resource takes two or three). [common practice, no source] */
const DEEPEST = 64;
/** Keys that mean something to a program, and that no FHIR element is called. */
const KEYS = ["__proto__", "constructor", "prototype"];

/** False for a value that is nested too deep to be walked safely, or that carries the keys with which objects are tampered with. */
export const isPlainJson = (value: unknown, levels = DEEPEST): boolean =>
  typeof value !== "object" ||
  value === null ||
  (levels > 0 &&
    !KEYS.some((key) => Object.hasOwn(value, key)) &&
    Object.values(value).every((inner) => isPlainJson(inner, levels - 1)));
