import { plainText } from "../plain-text.ts";
import { sayShortDay } from "../say-date.ts";
import { words } from "../tasks/confirm-findings/words.ts";
import type { Proposed, ValueState } from "../value-state.ts";

/** Where a value comes from, or what the chart says instead. */
export function ValueNote({ state, say }: { state: ValueState; say: (value: string | number) => string }) {
  if (state.is === "open" || state.proposals.length === 0) return null;
  const from = (p: Proposed) =>
    `${plainText(p.from.label)}${p.from.date ? `, ${sayShortDay(p.from.date)}` : ""}${p.note ? ` (${p.note})` : ""}`;
  switch (state.is) {
    case "from-chart":
      return <p className="source">{state.proposals.map(from).join("; ")}</p>;
    case "confirmed":
      return (
        <p className="source">
          {words.confirmedFrom} {state.proposals.map(from).join("; ")}
        </p>
      );
    case "changed":
      return (
        <p className="source differs">
          {state.proposals.map((p) => `${words.chartSays} ${say(p.value).toLowerCase()}: ${from(p)}`).join("; ")}
        </p>
      );
    case "earlier":
      return (
        <p className="source">
          {state.proposals.map((p) => `${words.earlier} ${say(p.value).toLowerCase()}: ${from(p)}`).join("; ")}.{" "}
          {words.examineAgain}
        </p>
      );
    case "chart-disagrees":
      return (
        <p className="source differs">
          {words.chartDisagrees} {state.proposals.map((p) => `${say(p.value).toLowerCase()} (${from(p)})`).join("; ")}
        </p>
      );
  }
}
