import { useState } from "react";
import type { AskedInjury } from "../../../pathway/asked.ts";
import type { CaseAssessment, DigitAssessment } from "../../../pathway/index.ts";
import { few, STATE_WORDS } from "../../words.ts";
import { words } from "./words.ts";

interface AssessmentSoFarProps {
  readonly module: AskedInjury;
  readonly assessment: CaseAssessment;
  readonly digit: DigitAssessment;
  /** Which finger is on the screen; undefined while there is only one. */
  readonly finger: string | undefined;
  /** Findings to answer next, most decisive first. */
  readonly next: readonly string[];
  readonly onGoTo: (finding: string) => void;
}
const SHOWN_NEXT = 3;

/** Urgency and what to do now, while the findings are still being entered. Beside the questions on a wide screen; below, folded, on a narrow one. */
export function AssessmentSoFar({ module, assessment, digit, finger, next, onGoTo }: AssessmentSoFarProps) {
  const [unfolded, setUnfolded] = useState(false);
  const { urgency } = assessment;
  const { level, words: said } = urgency;
  const goNow = digit.exits.find((e) => e.effect.urgency === "NOW");
  const wording = (finding: string) => module.questions.find((q) => q.finding === finding)?.wording ?? finding;
  return (
    <aside className={`so-far${unfolded ? " unfolded" : ""}`} aria-label={words.panel}>
      <div className="headline">
        <h2>
          <span className="panel">
            {words.panel}
            {finger && ": "}
          </span>
          {finger && <span className="finger">{finger}</span>}
        </h2>
        <p className={`urgency ${level ?? "waiting"}`}>
          <span className="what">{words.urgency}</span> <b>{said?.title ?? words.urgencyUnset}</b>
        </p>
        <button
          type="button"
          className="fold"
          aria-expanded={unfolded}
          aria-controls="so-far-body"
          onClick={() => setUnfolded(!unfolded)}
        >
          {unfolded ? words.panelHide : words.panelShow}
        </button>
      </div>
      <p className="first-act">
        {goNow ? `${words.goNow}: ${goNow.effect.title}` : words.toDoNow(digit.today.map((t) => t.text))}
      </p>
      <div className="body" id="so-far-body">
        {goNow && (
          <section className="go-now" aria-label={words.goNow}>
            <h3>
              {words.goNow}: {goNow.effect.title}
            </h3>
            <p>{goNow.text}</p>
            <p>
              {words.sendTo}: {goNow.effect.sendTo}
            </p>
          </section>
        )}
        <p>{said ? (urgency.open ? words.urgencyOpen : said.means) : words.urgencyWaits}</p>
        {next.length > 0 ? (
          <>
            <h3>{words.next}</h3>
            <ul className="next">
              {next.slice(0, SHOWN_NEXT).map((finding) => (
                <li key={finding}>
                  <button type="button" className="quiet" onClick={() => onGoTo(finding)}>
                    {wording(finding)}
                  </button>
                </li>
              ))}
            </ul>
            <p className="hint">{words.openCount(next.length)}</p>
          </>
        ) : (
          <p className="hint">{words.noneLeft}</p>
        )}
        <h3>{words.todayTitle}</h3>
        {digit.exits.length + digit.today.length === 0 ? (
          <p>{words.todayNone}</p>
        ) : (
          <ul>
            {digit.exits
              .filter((e) => e !== goNow)
              .map((e) => (
                <li key={e.rule}>
                  <b>{e.effect.title}:</b> {e.text}
                </li>
              ))}
            {digit.today.map((t) => (
              <li key={t.rule + t.text}>{t.text}</li>
            ))}
          </ul>
        )}
        <h3>{words.classTitle}</h3>
        <p>
          {digit.classes.length > 0 ? digit.classes.map((c) => c.name).join(" · ") : words.classNone}
          {digit.possibleClasses.length > 0 && (
            <span className="hint">
              {words.classPossible}: {few(digit.possibleClasses.map((c) => c.name))}
            </span>
          )}
        </p>
        <p className="hint">{STATE_WORDS[digit.state]}</p>
      </div>
    </aside>
  );
}
