import type { Chart, ImagingLine } from "../../fhir/chart.ts";
import { plainText } from "../../fhir/plain-text.ts";
import { sayShortDay } from "../say-date.ts";

/** A film or report in one line. */
export const sayImaging = ({ title, date, side, preliminary, conclusion }: ImagingLine): string =>
  [
    plainText(title),
    sayShortDay(date),
    side,
    preliminary ? "preliminary" : "",
    conclusion ? plainText(conclusion, 400) : "",
  ]
    .filter(Boolean)
    .join(", ");

/** The film or report that the clinician was just looking at comes before all else that is read. */
export function OpenedImaging({ chart }: { chart: Chart }) {
  const opened = chart.imaging.filter((i) => i.opened);
  if (opened.length === 0) return null;
  return (
    <section className="notice" aria-labelledby="opened-imaging">
      <h2 id="opened-imaging">Open in the chart when you started</h2>
      <ul>
        {opened.map((i) => (
          <li key={i.from.reference}>
            {i.kind === "study" ? "Film" : "Report"}: <bdi>{sayImaging(i)}</bdi>
          </li>
        ))}
      </ul>
    </section>
  );
}
