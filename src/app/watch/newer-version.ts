import * as z from "zod/mini";
import type { ServerClock } from "../../smart/server-clock.ts";

/** Set by the build; absent where the source runs as it is. */
declare const __BUILD__: string | undefined;
/** Names this build: the same sources give the same name. */
export const BUILD = typeof __BUILD__ === "string" ? __BUILD__ : undefined;

const deployed = z.object({ build: z.string() });

/**
 * Whether the host serves another build than the one that runs; false when it does not say. Where the record system tells no
 * time, the host's own clock is heard.
 */
export async function isOutdated(clock: ServerClock, build: string | undefined = BUILD): Promise<boolean> {
  try {
    const answer = await fetch(new URL("version.json", document.baseURI), {
      cache: "no-store",
      credentials: "omit",
      signal: AbortSignal.timeout(10_000),
    });
    if (!clock.heard) clock.hear(answer.headers.get("date"));
    const read = deployed.safeParse(answer.ok ? await answer.json() : undefined);
    return read.success && build !== undefined && read.data.build !== build;
  } catch {
    return false;
  }
}
