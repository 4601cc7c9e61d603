/**
 * What the record system says it supports (its CapabilityStatement, read once) and what it refused when it was tried.
 * Absence of a statement means not supported; presence is no guarantee (R4 CapabilityStatement, http.html).
 */
import * as z from "zod/mini";
import type { PatientContext, Session } from "./session.ts";

export interface TypeOffer {
  readonly create: boolean;
  readonly update: boolean;
  readonly search: boolean;
  readonly conditionalCreate: boolean;
}
/** A refusal met while writing; it counts from then on, whatever the statement says. */
export type Refusal =
  | { readonly what: "transaction" | "conditional-create" }
  | { readonly what: "create" | "update"; readonly type: string; readonly said?: string | undefined }
  /** One resource as it was, not its type: another wording may be taken. */
  | { readonly what: "item"; readonly key: string; readonly content: string; readonly said?: string | undefined };

export interface Capabilities {
  /** False when the statement could not be read: then nothing is known, and everything is tried. */
  readonly known: boolean;
  readonly transaction: boolean;
  offers(type: string): TypeOffer;
  readonly refusals: readonly Refusal[];
}

const MOST_TYPES = 1000;
const code = z.object({ code: z.optional(z.string()) });
const codes = z.catch(z.optional(z.array(code)), undefined);
const typeStatement = z.object({
  type: z.string(),
  interaction: codes,
  conditionalCreate: z.catch(z.optional(z.boolean()), undefined),
});
const statement = z.object({
  resourceType: z.literal("CapabilityStatement"),
  rest: z.array(
    z.object({
      mode: z.catch(z.optional(z.string()), undefined),
      interaction: codes,
      resource: z.catch(z.array(z.unknown()), []),
    }),
  ),
});

const ANYTHING: TypeOffer = { create: true, update: true, search: true, conditionalCreate: true };
const NOTHING: TypeOffer = { create: false, update: false, search: false, conditionalCreate: false };
/** Nothing is known: everything is tried, and refusals teach. */
export const UNKNOWN: Capabilities = { known: false, transaction: true, offers: () => ANYTHING, refusals: [] };

/** What a CapabilityStatement offers; `UNKNOWN` when it cannot be read as one. Resources that cannot be read are not offered. */
export function capabilitiesIn(json: unknown): Capabilities {
  const read = statement.safeParse(json);
  if (!read.success) return UNKNOWN;
  const server = read.data.rest.filter(({ mode }) => mode !== "client");
  if (server.length === 0) return UNKNOWN;
  const has = (list: z.output<typeof codes>, wanted: string) => list?.some((one) => one.code === wanted) ?? false;
  const types = new Map<string, TypeOffer>();
  for (const one of server.flatMap(({ resource }) => resource).slice(0, MOST_TYPES)) {
    const type = typeStatement.safeParse(one);
    if (!type.success) continue;
    const { interaction, conditionalCreate } = type.data;
    types.set(type.data.type, {
      create: has(interaction, "create"),
      update: has(interaction, "update"),
      search: has(interaction, "search-type"),
      conditionalCreate: conditionalCreate === true,
    });
  }
  return {
    known: true,
    transaction: server.some(({ interaction }) => has(interaction, "transaction")),
    offers: (type) => types.get(type) ?? NOTHING,
    refusals: [],
  };
}

/** What is offered once the refusals are taken off. */
export function lessRefused(offered: Capabilities, refusals: readonly Refusal[]): Capabilities {
  if (refusals.length === 0) return offered;
  const of = (what: "create" | "update", type: string) =>
    refusals.some((one) => one.what === what && one.type === type);
  const conditional = !refusals.some(({ what }) => what === "conditional-create");
  return {
    known: offered.known,
    transaction: offered.transaction && !refusals.some(({ what }) => what === "transaction"),
    offers(type) {
      const offer = offered.offers(type);
      return {
        ...offer,
        create: offer.create && !of("create", type),
        update: offer.update && !of("update", type),
        conditionalCreate: offer.conditionalCreate && conditional,
      };
    },
    refusals,
  };
}

type Asking = Pick<Session, "context" | "fhir">;
const STATED = new WeakMap<PatientContext, Promise<Capabilities>>();
const REFUSED = new WeakMap<PatientContext, Refusal[]>();

/** What the record system of this session takes. Its statement is read once; a statement that cannot be read is asked for again. */
export async function capabilitiesOf({ context, fhir }: Asking): Promise<Capabilities> {
  let reading = STATED.get(context);
  if (!reading) {
    reading = fhir
      .read("metadata", { mayBeKept: true })
      .then((answer) => (answer.ok ? capabilitiesIn(answer.value) : UNKNOWN));
    STATED.set(context, reading);
  }
  const stated = await reading;
  if (!stated.known) STATED.delete(context);
  return lessRefused(stated, REFUSED.get(context) ?? []);
}

/** Keeps in mind, for this session, what the record system refused. */
export function learn(context: PatientContext, refusal: Refusal): void {
  const known = REFUSED.get(context) ?? [];
  const isSame = (one: Refusal) => JSON.stringify(one) === JSON.stringify(refusal);
  if (!known.some(isSame)) REFUSED.set(context, [...known, refusal]);
}
/** Everything is tried once more, as the statement says. */
export function forgetRefusals(context: PatientContext): void {
  REFUSED.delete(context);
}
