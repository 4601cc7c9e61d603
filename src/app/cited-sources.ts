import type { Citation } from "../pathway/index.ts";

export interface CitedSource {
  readonly citation: string;
  readonly link?: string;
  readonly caution?: string;
  readonly read: string;
}
export type CitedSources = (id: string) => CitedSource | undefined;

let asked: Promise<CitedSources> | undefined;
/** Full citations come in a chunk of their own: nobody needs them before a line is opened. */
export const loadSources = (): Promise<CitedSources> =>
  (asked ??= import("../pathway/evidence/sources.ts").then(({ SOURCES, READ_WORDS }) => {
    const byId = new Map(
      Object.entries(
        SOURCES as Record<string, { citation: string; read: keyof typeof READ_WORDS; link?: string; caution?: string }>,
      ),
    );
    return (id) => {
      const source = byId.get(id);
      return source && { ...source, read: READ_WORDS[source.read] };
    };
  }));

/** The short form of a citation, before or without its full text. */
export function shortSource({ source, at }: Citation): string {
  const name = source === "COMMON-PRACTICE" ? "Common practice" : source === "FROM-MEMORY" ? "Not looked up" : source;
  return at ? `${name}, ${at}` : name;
}
