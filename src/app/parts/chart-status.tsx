import type { Chart, ChartPartName, PartState } from "../../fhir/chart.ts";
import { plainText } from "../../fhir/plain-text.ts";
import { sayAllergy } from "../say-allergy.ts";
import { sayShortDay } from "../say-date.ts";
import { PART_WORDS } from "./chart-progress.ts";
import { sayImaging } from "./opened-imaging.tsx";

const STATE_WORDS: { readonly [S in PartState]: string } = {
  reading: "being read",
  found: "read",
  empty: "not in the chart",
  refused: "refused by the record system",
  unsupported: "not held by this record system",
  failed: "could not be read",
  "not-allowed": "no permission given",
};
const AGAIN: readonly PartState[] = ["failed", "refused"];
const parts = (chart: Chart) => Object.entries(chart.parts) as [ChartPartName, Chart["parts"][ChartPartName]][];

/** All that was read, refused, dropped or broken, in plain words. */
export function ChartDetails({ chart, onRetry }: { chart: Chart; onRetry: (parts: ChartPartName[]) => void }) {
  const failed = parts(chart).filter(([, p]) => p.inPart || AGAIN.includes(p.state));
  return (
    <details className="chart" id="chart">
      <summary>What the chart holds</summary>
      <ul className="parts">
        {parts(chart).map(([name, part]) => (
          <li key={name} className={part.state}>
            <b>{PART_WORDS[name]}:</b> {STATE_WORDS[part.state]}
            {part.state === "found" && ` (${part.count}${part.more ? ", there are more" : ""})`}
            {part.note && `. ${plainText(part.note, 300)}`}
          </li>
        ))}
      </ul>
      {failed.length > 0 && (
        <button type="button" onClick={() => onRetry(failed.map(([name]) => name))}>
          Read these again: {failed.map(([name]) => PART_WORDS[name].toLowerCase()).join(", ")}
        </button>
      )}
      <Lines title="Allergies" lines={chart.allergies.map(sayAllergy)} />
      <Lines
        title="Imaging"
        lines={chart.imaging.map((i) =>
          [sayImaging(i), i.opened ? "open in the chart when you started" : ""].filter(Boolean).join(", "),
        )}
      />
      <Lines
        title="Conditions"
        lines={chart.conditions.map((c) =>
          [plainText(c.text), c.status, c.unconfirmed ? "unconfirmed" : "", sayShortDay(c.onset)]
            .filter(Boolean)
            .join(", "),
        )}
      />
      <Lines title="Medicines" lines={chart.medications.map((m) => `${plainText(m.text)}, ${m.status}`)} />
      <Lines title="Could not be used" lines={chart.problems.map((p) => plainText(p.say, 300))} />
    </details>
  );
}
function Lines({ title, lines }: { title: string; lines: readonly string[] }) {
  if (lines.length === 0) return null;
  return (
    <>
      <h3>{title}</h3>
      <ul>
        {lines.map((line, i) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: plain lines of text in a fixed order
          <li key={i}>
            <bdi>{line}</bdi>
          </li>
        ))}
      </ul>
    </>
  );
}
