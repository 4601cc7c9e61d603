import * as z from "zod/mini";

/** The parts of R4 that readers look at. Everything else in a resource is dropped unread. */
const string = z.optional(z.string());
export const codingShape = z.object({ system: string, code: string, display: string });
export const conceptShape = z.object({ coding: z.optional(z.array(codingShape)), text: string });
export const periodShape = z.object({ start: string, end: string });
export const extensionShape = z.object({ url: z.string(), valueCode: string });
/** Carrier of extensions of a primitive ("_birthDate"). */
export const primitiveShape = z.object({ extension: z.optional(z.array(extensionShape)) });
export const identifierShape = z.object({ system: string, value: string, type: z.optional(conceptShape), use: string });
export const referenceShape = z.object({
  reference: string,
  display: string,
  type: string,
  identifier: z.catch(z.optional(identifierShape), undefined),
});
export const quantityShape = z.object({
  value: z.optional(z.number()),
  unit: string,
  system: string,
  code: string,
  comparator: string,
});
export type ConceptShape = z.infer<typeof conceptShape>;
export type CodingShape = z.infer<typeof codingShape>;

/** Whether a concept holds a coding of that system with one of the codes. Displays are never compared. */
export const hasCode = (concept: ConceptShape | undefined, system: string, codes: readonly string[]): boolean =>
  (concept?.coding ?? []).some((c) => c.system === system && c.code !== undefined && codes.includes(c.code));
export const firstCode = (concept: ConceptShape | undefined, system: string): string | undefined =>
  concept?.coding?.find((c) => c.system === system)?.code;
/** What a person reads: the text, else a display, else the bare code. */
export const conceptWords = (concept: ConceptShape | undefined): string | undefined =>
  concept?.text ?? concept?.coding?.find((c) => c.display)?.display ?? concept?.coding?.find((c) => c.code)?.code;
/** What a person reads of a reference in any of its forms: its words, else a business identifier, else what it points to. */
export const referenceWords = (reference: z.infer<typeof referenceShape> | undefined): string | undefined =>
  reference?.display ?? reference?.identifier?.value ?? reference?.reference;
/** A value of a table by a word from outside: only what the table itself holds, never what every object inherits ("constructor"). */
export const lookUp = <T>(table: Readonly<Record<string, T>>, word: string | undefined): T | undefined =>
  word !== undefined && Object.hasOwn(table, word) ? table[word] : undefined;
