import { type Dispatch, useRef } from "react";
import { plainText } from "../../fhir/plain-text.ts";
import type { AskedInjury, Facts, Question } from "../../pathway/asked.ts";
import type { CaseAction } from "../case-state.ts";
import type { Proposals } from "../proposals.ts";
import { sayValue } from "../which-questions.ts";
import type { TakenOver } from "./chart-news.ts";
import { words } from "./words.ts";

interface TakenOverNoticeProps {
  readonly taken: TakenOver | undefined;
  /** False on steps where it would only be in the way. */
  readonly shown: boolean;
  readonly module: AskedInjury;
  /** Facts of each digit, by its place. */
  readonly facts: readonly Facts[];
  readonly proposals: Proposals;
  readonly dispatch: Dispatch<CaseAction>;
}
/**
 * What came into the chart meanwhile, and which answers it puts in question. No answer changes by itself: the clinician takes
 * it back, and the question stands open again beside what the chart now says.
 */
export function TakenOverNotice({ taken, shown, module, facts, proposals, dispatch }: TakenOverNoticeProps) {
  // As proposed before anything was taken over.
  const before = useRef(proposals);
  if (!taken) before.current = proposals;
  if (!taken || !shown) return null;
  const inQuestion = facts.flatMap((known, digit) =>
    module.questions
      .filter((question) => digit === 0 || question.scope === "digit")
      .filter((question) => isInQuestion(question, known, digit, before.current, proposals))
      .map((question) => ({ question, digit, answer: known[question.finding]! })),
  );
  return (
    <section className="notice" aria-labelledby="taken-over">
      <h2 id="taken-over">{words.news.taken}</h2>
      <ul>
        {taken.changes.map((change) => (
          <li key={change.key}>
            <bdi>{plainText(words.news.say(change), 300)}</bdi>
          </li>
        ))}
      </ul>
      {inQuestion.length === 0 ? (
        <p className="hint">{words.news.bearsOnNothing}</p>
      ) : (
        <>
          <p>{words.news.bearsOn}</p>
          <ul>
            {inQuestion.map(({ question, digit, answer }) => {
              const definition = module.findings[question.finding];
              return (
                <li key={`${question.finding} ${digit}`}>
                  {question.wording} {definition && words.news.answered(sayValue(question, definition, answer))}{" "}
                  <button
                    type="button"
                    className="quiet"
                    onClick={() => dispatch({ act: "clear", finding: question.finding, scope: question.scope, digit })}
                  >
                    {words.news.answerAgain}
                    <span className="said">, {question.wording}</span>
                  </button>
                </li>
              );
            })}
          </ul>
        </>
      )}
    </section>
  );
}

/** The chart now says something of an answered question that it did not say before, and that does not agree with the answer. */
function isInQuestion(question: Question, facts: Facts, digit: number, before: Proposals, now: Proposals): boolean {
  const { finding } = question;
  const answer = facts[finding];
  if (answer === undefined) return false;
  const known = before.bearing(finding);
  if (now.bearing(finding).some((word) => !known.includes(word))) return true;
  const said = before.of(finding, digit).map((proposed) => proposed.value);
  return now.of(finding, digit).some(({ value }) => value !== answer && !said.includes(value));
}
