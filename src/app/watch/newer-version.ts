import * as z from "zod/mini";
import type { ServerClock } from "../../smart/server-clock.ts";
import type { Session } from "../../smart/session.ts";
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

/** What is known of a newer program, for every screen of one session. */
class NewerVersion {
  #known = false;
  readonly #listeners = new Set<() => void>();

  readonly known = (): boolean => this.#known;
  readonly onChange = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };
  /** Asks the host; once a newer program is known, it stays known. */
  async look(clock: ServerClock): Promise<void> {
    if (this.#known || !(await isOutdated(clock))) return;
    this.#known = true;
    for (const listener of this.#listeners) listener();
  }
}

const OF = new WeakMap<Session["context"], NewerVersion>();
/** The one of this session. */
export function newerVersionOf(context: Session["context"]): NewerVersion {
  const newer = OF.get(context) ?? new NewerVersion();
  OF.set(context, newer);
  return newer;
}
