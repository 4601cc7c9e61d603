import { useCallback, useEffect, useId, useState } from "react";
import type { SentQuery } from "../../../fhir/coding-case.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { answerQuery, openQueries } from "../../../smart/coding-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import type { Session } from "../../../smart/session.ts";
import { sayDay } from "../../say-date.ts";

const words = {
  heading: (n: number) =>
    n === 1 ? "A coder asks about a signed record" : `Coders ask ${n} things about signed records`,
  by: "Asked by",
  own: "Answer in your own words",
  answer: "Sign this answer",
  none: "Choose or write an answer.",
  done: "Answered. The coder sees it.",
} as const;

/** The small list of a coder's open questions about this patient, for whoever has the chart open; nothing is answered in advance. */
export default function OpenQueries({ session }: { session: Session }) {
  const [queries, setQueries] = useState<readonly SentQuery[]>([]);
  const [failed, setFailed] = useState<Problem>();
  const [done, setDone] = useState(false);
  const { patientId } = session.context;
  const read = useCallback(async () => {
    const answer = await openQueries(session, patientId);
    // A record system that keeps no questions has none.
    if (answer.ok) setQueries(answer.value);
  }, [session, patientId]);
  useEffect(() => {
    void read();
  }, [read]);
  if (queries.length === 0) return done ? <p role="status">{words.done}</p> : null;
  const answer = async (one: SentQuery, said: string) => {
    setFailed(undefined);
    const report = await answerQuery(session, one, said, session.clock.now().toISOString());
    if (report.outcome !== "done") setFailed(report.problem);
    else setDone(true);
    await read();
  };
  return (
    <details className="notice coder-asks">
      <summary>{words.heading(queries.length)}</summary>
      {failed && (
        <p className="error" role="alert">
          {failed.title} {failed.what} {failed.next}
        </p>
      )}
      {queries.map((one) => (
        <Question key={one.held.reference} one={one} onAnswer={(said) => answer(one, said)} />
      ))}
      <p role="status">{done ? words.done : ""}</p>
    </details>
  );
}

function Question({ one, onAnswer }: { one: SentQuery; onAnswer: (said: string) => Promise<void> }) {
  const id = useId();
  const [chosen, setChosen] = useState("");
  const [own, setOwn] = useState("");
  const [error, setError] = useState("");
  const [busy, setBusy] = useState(false);
  const said = own.trim() || chosen;
  return (
    <form
      onSubmit={async (event) => {
        event.preventDefault();
        if (!said) return setError(words.none);
        setError("");
        setBusy(true);
        await onAnswer(said);
        setBusy(false);
      }}
    >
      <fieldset>
        <legend>
          <b>{plainText(one.title)}</b>: <bdi>{plainText(one.text, 600)}</bdi>
          <span className="hint">
            {words.by} <bdi>{plainText(one.askedBy ?? "")}</bdi>, {sayDay(one.askedOn)}
          </span>
        </legend>
        {one.options.map((option) => (
          <p key={option.value}>
            <label>
              <input
                type="radio"
                name={id}
                checked={chosen === option.words}
                onChange={() => setChosen(option.words)}
              />{" "}
              {plainText(option.words)}
            </label>
          </p>
        ))}
        <div className="field">
          <label htmlFor={`${id}-own`}>{words.own}</label>
          <input id={`${id}-own`} value={own} maxLength={300} onChange={({ target }) => setOwn(target.value)} />
        </div>
        <p className="error" role="alert">
          {error}
        </p>
        <button type="submit" disabled={busy}>
          {words.answer}
        </button>
      </fieldset>
    </form>
  );
}
