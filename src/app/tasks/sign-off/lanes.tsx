import type { DraftItem } from "../../../fhir/drafts.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { Filing, Placed } from "../../../smart/filing.ts";
import { words } from "./words.ts";

/** What will become of one item, on its card. */
export function LaneNote({ placed }: { placed: Placed | undefined }) {
  if (!placed?.reason) return null;
  return (
    <p className={`lane ${placed.lane}`}>
      {plainText(placed.reason, 400)} <b>{placed.instead}</b>
    </p>
  );
}
/** The same in two words, for the line above the title. */
export const laneName = (placed: Placed | undefined): string => (placed ? words.lane[placed.as ?? placed.lane] : "");

interface LanesProps {
  readonly items: readonly DraftItem[];
  readonly filing: Filing;
  /** Everything is tried once more, after refusals. */
  readonly onTryAll: () => void;
}
/** Before anyone signs: how much will be filed, what will not be and why, and what happens instead. */
export function Lanes({ items, filing, onTryAll }: LanesProps) {
  const kept = items.filter((item) => filing.lanes.has(item.key));
  const of = (wanted: Placed["lane"]) => kept.filter((item) => filing.lanes.get(item.key)?.lane === wanted);
  const elsewhere = kept.filter((item) => filing.lanes.get(item.key)?.reason);
  const isPlain = elsewhere.length === 0 && filing.warnings.length === 0;
  // What has the same reason is said once.
  const groups = new Map<string, { titles: string[]; placed: Placed }>();
  for (const item of elsewhere) {
    const placed = filing.lanes.get(item.key)!;
    const group = groups.get(`${placed.reason} ${placed.instead}`) ?? { titles: [], placed };
    groups.set(`${placed.reason} ${placed.instead}`, { ...group, titles: [...group.titles, item.title] });
  }
  return (
    <section className={isPlain ? "lanes" : "lanes notice"} aria-labelledby="lanes">
      <h2 id="lanes" tabIndex={-1}>
        {words.lanesTitle}
      </h2>
      <p>{words.lanesCount(of("filed").length, of("in-document").length, of("by-hand").length)}</p>
      {groups.size > 0 && (
        <ul>
          {[...groups].map(([said, { titles, placed }]) => (
            <li key={said}>
              <b>{titles.join("; ")}.</b> {plainText(placed.reason ?? "", 400)} {placed.instead}
            </li>
          ))}
        </ul>
      )}
      {filing.warnings.map((warning) => (
        <p key={warning}>{warning}</p>
      ))}
      {filing.capabilities.refusals.length > 0 && (
        <button type="button" className="quiet" onClick={onTryAll}>
          {words.tryAll}
        </button>
      )}
    </section>
  );
}
