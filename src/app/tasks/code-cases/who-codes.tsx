import { ICD10_WHO, type OtherCode } from "../../../coding/other-systems.ts";
import { words } from "./words.ts";

interface WhoCodesProps {
  readonly others: readonly OtherCode[];
  /** What each digit of the record is called; empty where there is one. */
  readonly digits: readonly string[];
}
/**
 * Codes of WHO ICD-10 where the site codes by it instead of ICD-10-CM. They are shown, not signed: of that classification only these titles are
 * checked, and neither its whole table nor its order, its causes and its days.
 */
export function WhoCodes({ others, digits }: WhoCodesProps) {
  const who = others.filter(({ system }) => system === ICD10_WHO);
  return (
    <>
      {who.length > 0 ? (
        <ul className="coder-codes">
          {who.map(({ code, display, digit, note, rule }) => (
            <li key={`${rule} ${digit}`}>
              <p>
                <span className="coder-code">{code}</span> {display}
              </p>
              {digit !== undefined && digits[digit] && <p className="hint">{digits[digit]}</p>}
              {note && <p className="hint">{note}</p>}
            </li>
          ))}
        </ul>
      ) : (
        <p>{words.whoNone}</p>
      )}
      <p className="hint">{words.whoEdition}</p>
      <p>{words.whoLimits}</p>
    </>
  );
}
