import { KNOWLEDGE_VERSION } from "../pathway/index.ts";
import { metaOf } from "./codings.ts";
import { type DraftItem, fingerprint } from "./draft-item.ts";
import { assembledBy } from "./provenance.ts";

/** The record of who took a plan back; nothing else of a plan is written with it. */
export function withdrawalRecord(planId: string, appVersion: string): DraftItem {
  const key = "provenance";
  return {
    key,
    kind: "provenance",
    title: "Who withdrew it, and why",
    words: [],
    resource: {
      ...assembledBy(appVersion, KNOWLEDGE_VERSION),
      meta: metaOf(planId, key, KNOWLEDGE_VERSION, appVersion),
    },
    urn: `urn:uuid:${planId.slice(0, 24)}${fingerprint(key)}`,
    edits: [],
    changes: [],
  };
}
