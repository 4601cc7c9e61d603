import type { ReactNode } from "react";
import type { Facts, Question } from "../../../pathway/index.ts";
import type { Proposals } from "../../proposals.ts";
import { type QuickOffer, quickOffers } from "../../quick-answers.ts";
import { PICTURED, type ShownGroup } from "../../which-questions.ts";
import { words } from "./words.ts";

interface GroupProps {
  readonly shown: ShownGroup;
  readonly facts: Facts;
  readonly proposals: Proposals;
  readonly digit: number;
  /** Its turn has come: questions without a quick answer stand open. */
  readonly current: boolean;
  /** Opened by the clinician: each question stands open. */
  readonly unfolded: boolean;
  readonly onUnfold: (unfolded: boolean) => void;
  readonly onQuick: (offer: QuickOffer) => void;
  readonly wording: (finding: string) => string;
  readonly field: (question: Question) => ReactNode;
}
/** One group of questions: what it asks as a list to look through, a quick answer where there is one, and the single questions. */
export function Group({
  shown: { group, questions, open },
  facts,
  proposals,
  digit,
  current,
  unfolded,
  onUnfold,
  onQuick,
  wording,
  field,
}: GroupProps) {
  const offers = quickOffers(group, facts, proposals, digit);
  const given = offers.find((o) => o.is === "given");
  // What every quick answer of the group settles need not stand open; of the rest, the next one does.
  const covered = (finding: string) => offers.length > 0 && offers.every((o) => finding in o.quick.sets);
  const byGiven = new Set(given?.sets.map(([finding]) => finding));
  const upNext = questions.find((q) => facts[q.finding] === undefined && !covered(q.finding));
  const stands = (q: Question) => {
    if (unfolded) return true;
    if (facts[q.finding] !== undefined) return !byGiven.has(q.finding);
    if (proposals.of(q.finding, digit).some((p) => !p.onlyShown) || proposals.bearing(q.finding).length > 0)
      return true;
    return PICTURED.includes(q.finding) || (current && q === upNext);
  };
  const standing = questions.filter(stands);
  const folded = questions.filter((q) => !stands(q));
  const checklist = folded.filter((q) => facts[q.finding] === undefined);
  return (
    <section aria-labelledby={`g-${group.id}`} className={`group${open === 0 ? " complete" : ""}`}>
      <h2 id={`g-${group.id}`}>
        {group.title}
        <span className="count">{open > 0 ? words.openIn(open) : words.complete}</span>
      </h2>
      {group.hint && open > 0 && <p className="hint">{group.hint}</p>}
      {checklist.length > 0 && (
        <p className="checklist">{checklist.map((q) => q.wording.replace(/\?$/, "")).join(" · ")}</p>
      )}
      {(offers.length > 0 || folded.length > 0) && (
        <ul className="quick">
          {offers.map((offer) => (
            <li key={offer.quick.label}>
              <button
                type="button"
                aria-pressed={offer.is === "given"}
                disabled={offer.is === "contradicted"}
                onClick={() => onQuick(offer)}
              >
                {offer.quick.label}
                {offer.is === "contradicted" && <span className="hint"> ({words.quickContradicted})</span>}
                {offer.except.length > 0 && (
                  <span className="hint">
                    {" "}
                    ({words.quickExcept} {offer.except.map(wording).join(", ")})
                  </span>
                )}
              </button>
            </li>
          ))}
          {(folded.length > 0 || unfolded) && (
            <li>
              <button type="button" className="quiet" aria-expanded={unfolded} onClick={() => onUnfold(!unfolded)}>
                {unfolded ? words.foldAway : words.oneByOne(folded.length)}
                <span className="said">, {group.title}</span>
              </button>
            </li>
          )}
        </ul>
      )}
      <div className="fields">{standing.map(field)}</div>
    </section>
  );
}
