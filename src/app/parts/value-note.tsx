import { plainText } from "../../fhir/plain-text.ts";
import { sayShortDay } from "../say-date.ts";
import { words } from "../tasks/confirm-findings/late-words.ts";
import { type Proposed, type ValueState, whoseIs } from "../value-state.ts";

/** "Condition: Broken ring finger, 10 Mar 2026 (not confirmed in the chart)". */
export const sayOrigin = ({ from, note }: Proposed): string =>
  `${plainText(from.label)}${from.date ? `, ${sayShortDay(from.date)}` : ""}${note ? ` (${note})` : ""}`;
/** The same within a sentence, for what was written here before: "your saved draft, 10 Mar 2026", "the draft by Dr Okafor, 10 Mar 2026". */
function withinSentence(proposed: Proposed): string {
  const origin = sayOrigin(proposed);
  return `${whoseIs(proposed) === "others-draft" ? "the " : ""}${origin.charAt(0).toLowerCase()}${origin.slice(1)}`;
}

/** Where a value comes from, or what the chart says instead. */
export function ValueNote({ state, say }: { state: ValueState; say: (value: string | number) => string }) {
  if (state.is === "open" || state.proposals.length === 0) return null;
  const answered = (p: Proposed) => `${say(p.value).toLowerCase()}: ${sayOrigin(p)}`;
  const chart = state.proposals.filter((p) => whoseIs(p) === "chart");
  const own = state.proposals.filter((p) => whoseIs(p) !== "chart");
  switch (state.is) {
    case "from-chart":
      return <p className="source">{state.proposals.map(sayOrigin).join("; ")}</p>;
    case "confirmed":
      return (
        <>
          {chart.length > 0 && (
            <p className="source">
              {words.confirmedFrom} {chart.map(sayOrigin).join("; ")}
            </p>
          )}
          {own.length > 0 && (
            <p className="source">
              {words.asIn} {own.map(withinSentence).join("; ")}
            </p>
          )}
        </>
      );
    case "changed":
      return (
        <p className="source differs">
          {[
            ...chart.map((p) => `${words.chartSays} ${answered(p)}`),
            ...own.map((p) => `${sayOrigin(p)}: ${say(p.value).toLowerCase()}`),
          ].join("; ")}
        </p>
      );
    case "earlier":
      return (
        <p className="source">
          {state.proposals.map((p) => `${words.earlier} ${answered(p)}`).join("; ")}. {words.examineAgain}
        </p>
      );
    case "chart-disagrees":
      return (
        <p className="source differs">
          {own.length > 0 ? words.recordsDisagree : words.chartDisagrees} {state.proposals.map(answered).join("; ")}
        </p>
      );
  }
}
