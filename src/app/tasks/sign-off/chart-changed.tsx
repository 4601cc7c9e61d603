import { useEffect, useMemo, useState, useSyncExternalStore } from "react";
import type { DraftInput } from "../../../fhir/drafts.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { Problem } from "../../../smart/problem.ts";
import type { Session } from "../../../smart/session.ts";
import type { ChartReading } from "../../reading.ts";
import { adviceDifference, type ChartNews, newsOf } from "../../watch/chart-news.ts";
import { newerVersionOf } from "../../watch/newer-version.ts";
import { oneWindowOf } from "../../watch/one-window.ts";
import { words as watched } from "../../watch/words.ts";

import { words as signing } from "./words.ts";

const words = watched.news;

export interface ChartWatch {
  readonly news: ChartNews;
  /** Why signing has to wait; empty when nothing stands in the way. */
  readonly obstacles: readonly string[];
  /** What the clinician said to have seen, to be kept with the signature. */
  readonly acknowledged: Pick<DraftInput, "seenNews" | "olderProgram">;
  /** A newer program is installed: whether this one shall sign all the same. */
  readonly older: { readonly known: boolean; readonly anyway: boolean; readonly choose: (anyway: boolean) => void };
  /** False until the chart was compared for the first time. */
  readonly looked: boolean;
  /** Asked right before anything is sent. */
  readonly beforeSending: () => Promise<Problem | undefined>;
  /** Compares once more, such as after a refused writing. */
  readonly look: () => void;
}

/** Compares the chart with what was read when the clinician comes to sign, and once more before anything is sent. */
export function useChartWatch(session: Session, reading: ChartReading): ChartWatch {
  const news = newsOf(session, reading);
  const windows = oneWindowOf(session.context);
  const newer = newerVersionOf(session.context);
  const unseen = useSyncExternalStore(news.onChange, news.unseen);
  const taken = useSyncExternalStore(news.onChange, news.taken);
  const known = useSyncExternalStore(newer.onChange, newer.known);
  const [anyway, choose] = useState(false);
  const acknowledged = useMemo(
    () => ({
      seenNews: (taken?.changes ?? []).map((change) => ({
        words: plainText(`${words.kind[change.kind]}: ${words.say(change)}`, 300),
        references: change.references,
      })),
      olderProgram: known && anyway,
    }),
    [taken, known, anyway],
  );
  const looked = useSyncExternalStore(news.onChange, news.looked);
  const aside = useSyncExternalStore(windows.onChange, windows.aside);
  const look = () => void news.look();
  useEffect(() => void news.look(), [news]);
  return {
    news,
    acknowledged,
    older: { known, anyway, choose },
    obstacles: [
      ...(unseen.length > 0 ? [words.obstacle] : []),
      ...(known && !anyway ? [signing.olderProgram] : []),
      ...(aside ? [watched.aside.title[aside.by]] : []),
    ],
    looked,
    look,
    beforeSending: async () => windows.problem() ?? (await news.beforeSending()) ?? windows.problem(),
  };
}

interface ChartChangedProps {
  readonly watch: ChartWatch;
  /** The plan in words, as it is now. */
  readonly text: string;
  readonly onReadAgain: () => void;
}
/** What is new in the chart, as a difference in words, and the two ways on; then what it changed in the advice. */
export function ChartChanged({ watch: { news, looked, older }, text, onReadAgain }: ChartChangedProps) {
  const unseen = useSyncExternalStore(news.onChange, news.unseen);
  const taken = useSyncExternalStore(news.onChange, news.taken);
  const mustRead = unseen.some((change) => change.mustRead);
  return (
    <>
      {older.known && (
        <label className="look">
          <input type="checkbox" checked={older.anyway} onChange={(e) => older.choose(e.target.checked)} />{" "}
          {signing.olderAnyway}
        </label>
      )}
      <p role="status" className="progress">
        {unseen.length > 0 ? words.found(unseen.length) : looked ? "" : words.looking}
      </p>
      {unseen.length > 0 && (
        <section className="obstacles" aria-labelledby="chart-changed">
          <h2 id="chart-changed">{words.heading}</h2>
          <ul>
            {unseen.map((change) => (
              <li key={change.key}>
                <b>{words.kind[change.kind]}:</b> <bdi>{plainText(words.say(change), 300)}</bdi>
              </li>
            ))}
          </ul>
          <p>{words.before}</p>
          <div className="act">
            <button
              type="button"
              className="primary"
              onClick={() => {
                news.accept(text);
                onReadAgain();
              }}
            >
              {words.readAgain}
            </button>
            <span className="hint">{words.readAgainHint}</span>
          </div>
          {mustRead ? (
            <p>{words.mustRead}</p>
          ) : (
            <div className="act">
              <button type="button" onClick={() => news.accept(text)}>
                {words.seen}
              </button>
              <span className="hint">{words.seenHint}</span>
            </div>
          )}
        </section>
      )}
      {taken && unseen.length === 0 && <Advice taken={taken} text={text} />}
    </>
  );
}

function Advice({ taken, text }: { taken: NonNullable<ReturnType<ChartNews["taken"]>>; text: string }) {
  const { came, went } = adviceDifference(taken.adviceBefore, text);
  return (
    <section className="notice" aria-labelledby="advice-changed">
      <h2 id="advice-changed">{came.length + went.length > 0 ? words.otherAdvice : words.taken}</h2>
      <ul>
        {taken.changes.map((change) => (
          <li key={change.key}>
            <bdi>{plainText(words.say(change), 300)}</bdi>
          </li>
        ))}
      </ul>
      {came.length + went.length === 0 ? (
        <p>{words.sameAdvice}</p>
      ) : (
        <ul>
          {came.map((line) => (
            <li key={line}>
              <b>{words.came}:</b> <bdi>{line}</bdi>
            </li>
          ))}
          {went.map((line) => (
            <li key={line}>
              <b>{words.went}:</b>{" "}
              <del>
                <bdi>{line}</bdi>
              </del>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
