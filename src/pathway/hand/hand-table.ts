import type { Table } from "../reasoning/table.ts";
import type { Effect } from "./effects.ts";
import type { HandRecord } from "./signs.ts";

/** A table that any hand module may include: it reads hand findings and signs, and the signs a module provides. */
export type HandTable = Table<HandRecord, readonly Effect[]> & { readonly gate?: true; readonly ordinary?: true };
