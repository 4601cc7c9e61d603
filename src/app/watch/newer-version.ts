import * as z from "zod/mini";
import type { ServerClock } from "../../smart/server-clock.ts";
import { BUILD } from "../build.ts";

const deployed = z.object({ build: z.string() });

/**
 * Whether the host serves another build than the one that runs; false when it does not say. Where the record system tells no
 * time, the host's own clock is heard.
 */
export async function isOutdated(clock: ServerClock, build: string | undefined = BUILD): Promise<boolean> {
  // Source that runs as it is has no name, and no host that could have a newer one.
  if (build === undefined) return false;
  try {
    const answer = await fetch(new URL("version.json", document.baseURI), {
      cache: "no-store",
      credentials: "omit",
      signal: AbortSignal.timeout(10_000),
    });
    if (!clock.heard) clock.hear(answer.headers.get("date"));
    const read = deployed.safeParse(answer.ok ? await answer.json() : undefined);
    return read.success && read.data.build !== build;
  } catch {
    return false;
  }
}
