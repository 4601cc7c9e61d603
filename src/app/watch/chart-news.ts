/**
 * What came into the chart after the clinician was shown it. It stays "unseen" until the clinician reads the chart again or
 * says to have seen it; until then nothing may be written over it.
 */
import { CHART_PARTS } from "../../fhir/searches.ts";
import { type ChartChange, countAsSeen, differences, lookAgain, withOwnWriting } from "../../smart/chart-changed.ts";
import type { Problem } from "../../smart/problem.ts";
import type { Parts } from "../../smart/read-chart.ts";
import type { PatientContext, Session } from "../../smart/session.ts";
import type { ChartReading } from "../reading.ts";
import { words } from "./words.ts";

/** What was taken over from the chart, and what the plan said before. */
export interface TakenOver {
  readonly changes: readonly ChartChange[];
  readonly adviceBefore: string;
}

export class ChartNews {
  #seen: Parts = {};
  #found: Parts = {};
  #accepted: ReadonlySet<string> = new Set();
  #unseen: readonly ChartChange[] = [];
  #taken: TakenOver | undefined;
  #looked = false;
  readonly #listeners = new Set<() => void>();
  readonly #session: Session;
  readonly #reading: ChartReading;

  constructor(session: Session, reading: ChartReading) {
    this.#session = session;
    this.#reading = reading;
    this.#settle();
    reading.onPart(() => this.#settle());
  }

  /** Each part counts as seen as it was first shown; later readings of it have to be told. A part that failed is shown anew. */
  #settle(): void {
    const parts = this.#reading.parts();
    const seen = { ...this.#seen };
    for (const part of CHART_PARTS) {
      const now = parts[part];
      if (!now || now.state === "reading") continue;
      if (seen[part]?.state !== "found" && seen[part]?.state !== "empty") seen[part] = now;
    }
    this.#seen = withOwnWriting(this.#session, seen, parts);
    this.#compare();
  }
  #compare(): void {
    const parts = this.#reading.parts();
    const now = { ...this.#found };
    // What the screens hold already is news as well, when it was read again behind the clinician's back.
    for (const part of CHART_PARTS) if (parts[part] && parts[part].state !== "reading") now[part] ??= parts[part];
    this.#unseen = differences(this.#session, this.#seen, now).filter((change) => !this.#accepted.has(change.key));
    this.#tell();
  }
  #tell(): void {
    for (const listener of this.#listeners) listener();
  }

  readonly onChange = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };
  readonly unseen = (): readonly ChartChange[] => this.#unseen;
  readonly taken = (): TakenOver | undefined => this.#taken;
  /** True once the chart was compared. */
  readonly looked = (): boolean => this.#looked;

  /** Reads the chart afresh and compares. */
  async look(): Promise<readonly ChartChange[]> {
    this.#found = await lookAgain(this.#session);
    this.#looked = true;
    this.#compare();
    return this.#unseen;
  }

  /** For the moment before sending: looks once more, and says why nothing may be sent over what is unseen. */
  readonly beforeSending = async (): Promise<Problem | undefined> => {
    if ((await this.look()).length === 0) return undefined;
    return {
      kind: "chart-changed",
      title: words.news.changed,
      what: words.news.changedWhat,
      next: words.news.changedNext,
    };
  };

  /**
   * The clinician has read what is new: it comes into the screens, as proposals where it answers a question, and the rules run
   * again over what is then confirmed. `advice` is the plan in words as it was until now.
   */
  accept(advice: string): void {
    const changes = this.#unseen;
    const answered = Object.fromEntries(
      Object.entries(this.#found).filter(([, part]) => part?.state === "found" || part?.state === "empty"),
    ) as Parts;
    this.#accepted = new Set([...this.#accepted, ...changes.map((change) => change.key)]);
    this.#taken = {
      changes: [...(this.#taken?.changes ?? []), ...changes],
      adviceBefore: this.#taken?.adviceBefore ?? advice,
    };
    countAsSeen(this.#session, answered);
    this.#seen = { ...this.#seen, ...this.#reading.parts(), ...answered };
    this.#found = {};
    this.#reading.adopt(answered);
    this.#compare();
  }
}

const NEWS = new WeakMap<PatientContext, ChartNews>();
/** The one of this session. */
export function newsOf(session: Session, reading: ChartReading): ChartNews {
  const news = NEWS.get(session.context) ?? new ChartNews(session, reading);
  NEWS.set(session.context, news);
  return news;
}

/** Lines of advice that came and went between two plans in words; their headings stand before them. */
export function adviceDifference(before: string, after: string): { readonly came: string[]; readonly went: string[] } {
  const [old, now] = [linesOf(before), linesOf(after)];
  return { came: now.filter((line) => !old.includes(line)), went: old.filter((line) => !now.includes(line)) };
}
/** Only what is advised: the head of the text tells patient, times and versions. */
function linesOf(plan: string): string[] {
  let heading = "";
  return plan.split("\n").flatMap((line) => {
    if (line.startsWith("Urgency: ")) return [line];
    if (!line.startsWith("- ")) {
      heading = line;
      return [];
    }
    return [`${heading}: ${line.slice(2)}`];
  });
}
