import type { Gap } from "../../../coding/gaps.ts";
import type { SentQuery } from "../../../fhir/coding-case.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { sayDay } from "../../say-date.ts";
import { words } from "./words.ts";

interface GapsProps {
  /** What each digit is called; empty when there is only one. */
  readonly digits: readonly string[];
  readonly gaps: readonly Gap[];
  readonly queries: readonly SentQuery[];
  readonly toRead: readonly SentQuery[];
  readonly clinician: string;
  readonly busy: boolean;
  readonly maySend: boolean;
  readonly onAsk: (gap: Gap) => void;
  readonly onTakeBack: (query: SentQuery) => void;
}
/** What is missing for a more specific code: a neutral question in one press, followed until it is answered. */
export function Gaps({ digits, gaps, queries, toRead, clinician, busy, maySend, onAsk, onTakeBack }: GapsProps) {
  const asked = gaps.filter((gap) => gap.channel === "query");
  const intake = gaps.filter((gap) => gap.channel === "intake");
  const openOf = (gap: Gap) => queries.find((q) => q.gap === gap.key && q.state === "open");
  const answered = queries.filter((q) => q.answer);
  return (
    <>
      {(asked.length > 0 || answered.length > 0) && <h2>{words.gaps}</h2>}
      {asked.length > 0 && (
        <ul>
          {asked.map((gap) => {
            const open = openOf(gap);
            const where = gap.digit === undefined ? undefined : digits[gap.digit];
            const title = where ? `${gap.title}, ${where}` : gap.title;
            return (
              <li key={gap.key}>
                <b>{title}</b>: <bdi>{plainText(gap.text, 600)}</bdi>
                <span className="hint">{gap.meanwhile}</span>
                {open ? (
                  <p>
                    {words.asked}, {sayDay(open.askedOn)}
                    {open.to && <bdi>, {plainText(open.to)}</bdi>}.{" "}
                    <button type="button" className="quiet" disabled={busy} onClick={() => onTakeBack(open)}>
                      {words.takeBack}
                    </button>
                  </p>
                ) : (
                  maySend &&
                  !toRead.some((q) => q.gap === gap.key) && (
                    <p>
                      <button
                        type="button"
                        disabled={busy}
                        aria-label={`${words.ask(plainText(clinician))}: ${title}`}
                        onClick={() => onAsk(gap)}
                      >
                        {words.ask(plainText(clinician))}
                      </button>
                    </p>
                  )
                )}
              </li>
            );
          })}
        </ul>
      )}
      {answered.length > 0 && (
        <ul>
          {answered.map((one) => (
            <li key={one.held.reference}>
              <b>{plainText(one.title)}</b>. {words.answeredWith(plainText(one.answer!.words, 600))}
              <span className="hint">
                <bdi>{plainText(one.to ?? "")}</bdi>, {sayDay(one.answer!.at)}
                {toRead.includes(one) && `. ${words.toRead}.`}
              </span>
            </li>
          ))}
        </ul>
      )}
      {intake.length > 0 && (
        <p className="hint">
          {words.intake}: {intake.map((gap) => gap.title.toLowerCase()).join(", ")}.
        </p>
      )}
    </>
  );
}
