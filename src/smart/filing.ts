/**
 * What becomes of each item of a plan on this record system, told before anyone signs: an entry of its own, part of the
 * plan's document, or something to enter by hand; and whether all goes in one step or one by one.
 */
import { type Act, type DraftItem, planDocument, type Readable, readableOf, removeDraft } from "../fhir/drafts.ts";
import { reasonInWords, visitAsOrder } from "../fhir/stand-ins.ts";
import type { Capabilities } from "./capabilities.ts";
import type { ScopeLetter } from "./scopes.ts";

export type Lane = "filed" | "in-document" | "by-hand";
export interface Placed {
  readonly lane: Lane;
  /** Why it is not an entry of its own kind; absent when it is. */
  readonly reason?: string;
  /** What happens instead; stands with every reason. */
  readonly instead?: string;
  /** Filed as something else: a visit as an order. */
  readonly as?: "order";
}
export interface Filing {
  /** All in one step, one by one, or nothing at all. */
  readonly way: "transaction" | "single" | "nothing";
  /** By item key; items that were left out have none. */
  readonly lanes: ReadonlyMap<string, Placed>;
  /** A document of the plan is filed. */
  readonly document: boolean;
  /** What the clinician should know of the way, in sentences. */
  readonly warnings: readonly string[];
  readonly capabilities: Capabilities;
}

type Can = (resource: string, letter: ScopeLetter) => boolean;

/** Type in words: one of them, and all of them. */
const NAMES: Readonly<Record<string, readonly [one: string, all: string]>> = {
  Condition: ["this diagnosis", "diagnoses"],
  CarePlan: ["this care plan", "care plans"],
  ServiceRequest: ["this order", "orders"],
  Appointment: ["this visit", "visits to be booked"],
  QuestionnaireResponse: ["the findings", "recorded findings"],
  Provenance: ["the record of who did what", "records of who did what"],
  DocumentReference: ["the document", "documents"],
};
const DOCUMENT = "DocumentReference";
const ORDER = "ServiceRequest";

/** Kinds whose every version is a new resource: nothing of them is ever changed. */
export const isNewEachTime = (item: Pick<DraftItem, "kind">): boolean =>
  item.kind === "provenance" || item.kind === "document";

/**
 * Where each item goes. An item is an entry of its own when the record system takes its type and the clinician's sign-in
 * may write it. One by one it must also be possible to change it: only so can it be made to count last, and be taken back.
 *
 * @param stored type of what is stored already, by item key: it is changed rather than created
 * @param changes whether the same act changes an earlier plan: then there is something to file, whatever becomes of the items
 */
export function filingOf(
  items: readonly DraftItem[],
  capabilities: Capabilities,
  can: Can,
  { stored = new Map(), changes = false }: { stored?: ReadonlyMap<string, string>; changes?: boolean } = {},
): Filing {
  const kept = items.filter((item) => !item.removed && !item.stands);
  const single = !capabilities.transaction;
  const noType = (type: string, changes: boolean, exists: boolean): string | undefined => {
    const [one, all] = NAMES[type] ?? [type, type];
    const offer = capabilities.offers(type);
    const refused = capabilities.refusals.find((r) => (r.what === "create" || r.what === "update") && r.type === type);
    if (!exists) {
      if (!can(type, "c")) return `Your sign-in may not file ${all} here.`;
      if (refused?.what === "create") return refusedWords(one, refused);
      if (!offer.create) return `The record system takes no ${all} from other programs.`;
    }
    // What cannot be looked for could be filed twice, and never be called saved.
    if (!(offer.search && can(type, "s")) && type !== "Provenance")
      return `The record system does not let anyone look for ${all}, so it could not be checked that this one was stored.`;
    if (!exists && !(changes && single)) return undefined;
    if (can(type, "u") && offer.update) return undefined;
    if (!exists)
      return `The record system lets nobody change ${all}, so this one could not be taken back if the rest of the plan failed.`;
    return refused?.what === "update"
      ? refusedWords(one, refused)
      : "It is stored as a draft that cannot be changed from here.";
  };
  const notAsItself = (item: DraftItem): string | undefined => {
    const own = capabilities.refusals.find(
      (r) => r.what === "item" && r.key === item.key && r.content === contentOf(item),
    );
    const { resourceType } = item.resource;
    if (own) return refusedWords(NAMES[resourceType]?.[0] ?? "this item", own as { said?: string });
    const reason = noType(resourceType, !isNewEachTime(item), stored.has(item.key) || item.refines !== undefined);
    return reason && item.refines && !stored.has(item.key) ? NOT_REFINED : reason;
  };
  // A document holds items of a plan: a record of who did what alone makes none.
  const document = noType(DOCUMENT, false, false) === undefined && kept.some((item) => item.kind !== "provenance");
  const otherwise = (item: DraftItem, reason: string): Placed => {
    const stays = stored.has(item.key) ? " What is stored of it already stays as it is." : "";
    if (document) return { lane: "in-document", reason, instead: `It is filed in the plan's document.${stays}` };
    const instead =
      item.kind === "provenance"
        ? "Who wrote it and when stands in each entry and in the text to copy."
        : `Enter it by hand; its words are kept for you to copy.${stays}`;
    return { lane: "by-hand", reason, instead };
  };
  const lanes = new Map(
    kept.map((item): [string, Placed] => {
      const isOrder = item.kind === "visit" && stored.get(item.key) === ORDER;
      const reason = isOrder ? "It is stored as an order already." : notAsItself(item);
      if (reason === undefined) return [item.key, { lane: "filed" }];
      const asOrder =
        item.kind === "visit" && (isOrder || !stored.has(item.key)) && noType(ORDER, true, isOrder) === undefined;
      return [
        item.key,
        asOrder
          ? { lane: "filed", as: "order", reason, instead: "It is filed as an order with its window." }
          : otherwise(item, reason),
      ];
    }),
  );
  const inLane = (lane: Lane) => kept.filter((item) => lanes.get(item.key)?.lane === lane);
  const inDocument = inLane("in-document").length > 0;
  const filed = inLane("filed");
  const nothing = !changes && !inDocument && filed.every((item) => item.kind === "provenance");
  if (nothing)
    for (const item of filed)
      lanes.set(item.key, otherwise(item, "There is nothing in the record that it could stand beside."));
  const typeOf = (item: DraftItem) => (lanes.get(item.key)?.as === "order" ? ORDER : item.resource.resourceType);
  const doubled = [...filed.map(typeOf), ...(inDocument ? [DOCUMENT] : [])].some(
    (type) => !capabilities.offers(type).conditionalCreate,
  );
  return {
    way: nothing ? "nothing" : single ? "single" : "transaction",
    lanes,
    document: inDocument,
    warnings: nothing
      ? []
      : [
          ...(single
            ? [
                "The record system takes one item at a time. Everything is first stored as a draft and counts only once all of it is there.",
              ]
            : []),
          ...(doubled
            ? [
                "The record system does not itself prevent a second copy. Fingerpost looks before it writes; do not sign this plan in two windows.",
              ]
            : []),
          ...(capabilities.known ? [] : ["The record system does not say what it takes. What it refuses is told."]),
        ],
    capabilities,
  };
}

const NOT_REFINED = "The entry of the chart that it would go over cannot be changed from here.";
const refusedWords = (one: string, { said }: { readonly said?: string | undefined }): string =>
  `The record system refused ${one} when it was tried${said ? `: “${said}”` : ""}.`;

/** By which a refused item is known again until it is changed. */
export const contentOf = ({ resource }: Pick<DraftItem, "resource">): string => JSON.stringify(resource);

export interface ActedOn {
  readonly act: Act;
  readonly signer: { readonly reference: string; readonly display?: string };
  readonly at: string;
}

/**
 * The items as they are filed: visits as orders where need be, what is not filed left out with its reason, and the plan's
 * document where there is one. Same input: same items.
 *
 * @param replaces earlier documents of the same plan or injury
 */
export function filedItems(
  items: readonly DraftItem[],
  filing: Filing,
  acting: ActedOn,
  replaces: readonly string[] = [],
): DraftItem[] {
  const laneOf = (item: DraftItem) => filing.lanes.get(item.key);
  // What stands in the record already is pointed to, never written.
  const isFiled = (item: DraftItem) => !item.removed && (item.stands !== undefined || laneOf(item)?.lane === "filed");
  const notFiled = items.filter((item) => !item.removed && !isFiled(item));
  const filed = items.map((item): DraftItem => {
    if (item.removed) return item;
    const { reason = "", instead = "" } = laneOf(item) ?? {};
    if (!isFiled(item)) return removeDraft(item, `${reason} ${instead}`.trim());
    return reasonInWords(laneOf(item)?.as === "order" ? visitAsOrder(item, items) : item, notFiled);
  });
  if (!filing.document) return filed;
  const document = planDocument(items, acting, {
    where: new Map(
      items.map((item) => [
        item.key,
        isFiled(item) ? "Also an entry of its own in the record." : "Stands in this document only.",
      ]),
    ),
    related: filed.filter((item) => isFiled(item) && item.kind !== "provenance").map((item) => item.urn),
    replaces,
  });
  const record = filed.findIndex((item) => item.kind === "provenance");
  const at = record < 0 ? filed.length : record;
  return [...filed.slice(0, at), document, ...filed.slice(at)];
}

/** What has to be entered by hand, in words with author and time; undefined when nothing has. */
export function byHand(items: readonly DraftItem[], filing: Filing, acting: ActedOn): Readable | undefined {
  const mine = new Set([...filing.lanes].flatMap(([key, { lane }]) => (lane === "by-hand" ? [key] : [])));
  if (mine.size === 0) return undefined;
  const all = readableOf(items, acting);
  const parts = all.parts.filter(({ key }) => mine.has(key));
  return { ...all, title: `NOT FILED in the record system: ${all.title}`, parts };
}
