import { useEffect, useMemo, useState } from "react";
import { asNote, asPage, type Readable } from "../../../fhir/drafts.ts";
import { CopyText } from "../../parts/copy-text.tsx";
import { words } from "./words.ts";

/** A file that is made here and leaves only by the clinician's own press. */
function useFile(content: string | undefined, type: string): string | undefined {
  const url = useMemo(
    () => (content === undefined ? undefined : URL.createObjectURL(new Blob([content], { type }))),
    [content, type],
  );
  useEffect(() => () => void (url && URL.revokeObjectURL(url)), [url]);
  return url;
}
const save = (url: string, name: string) => {
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
};
const PAGE = "plan-not-filed.html";
const BUNDLE = "plan-bundle.json";

/** Bundle of the plan, to copy and to download. */
export function TakeBundle({ label, json }: { label: string; json: string }) {
  const url = useFile(json, "application/fhir+json");
  return (
    <>
      <CopyText label={label} text={json} rows={8} />
      <p>
        <a href={url} download={BUNDLE}>
          {words.download}
        </a>{" "}
        <span className="hint">{words.downloadHint}</span>
      </p>
    </>
  );
}

/** What is entered by hand: as text for a note, and as a page to print. It says of itself that it is not filed, by whom and when. */
export function ByHand({ readable }: { readable: Readable }) {
  const note = asNote(readable);
  const url = useFile(asPage(readable), "text/html");
  return (
    <section className="by-hand notice" aria-labelledby="by-hand">
      <h2 id="by-hand">{words.byHandTitle}</h2>
      <p>{words.byHandHint}</p>
      <CopyText label={words.byHandText} text={note} rows={8} />
      <p>
        <a href={url} download={PAGE}>
          {words.downloadPage}
        </a>
      </p>
    </section>
  );
}

interface NotFiledProps {
  readonly readable: Readable;
  /** Absent where nobody is known to answer for it. */
  readonly json: string | undefined;
}
/** Where nothing can be filed: the plan is taken along, and everything about it says so. */
export function NotFiled({ readable, json }: NotFiledProps) {
  const note = asNote(readable);
  const page = useFile(asPage(readable), "text/html");
  const bundle = useFile(json, "application/fhir+json");
  const [taken, setTaken] = useState("");
  const take = async () => {
    if (bundle) save(bundle, BUNDLE);
    if (page) save(page, PAGE);
    try {
      await navigator.clipboard.writeText(note);
      setTaken(words.taken);
    } catch {
      setTaken(words.takenNotCopied);
    }
  };
  return (
    <section className="confirm not-filed" aria-labelledby="not-filed">
      <h2 id="not-filed">{words.notFiledTitle}</h2>
      <p id="not-filed-what">{words.notFiledWhat}</p>
      <button type="button" className="primary" aria-describedby="not-filed-what" onClick={take}>
        {words.takeGo}
      </button>
      <p role="status">{taken}</p>
      <CopyText label={words.byHandText} text={note} rows={10} />
      <p>
        <a href={page} download={PAGE}>
          {words.downloadPage}
        </a>
        {bundle && (
          <>
            {" · "}
            <a href={bundle} download={BUNDLE}>
              {words.download}
            </a>
          </>
        )}{" "}
        <span className="hint">{words.downloadHint}</span>
      </p>
    </section>
  );
}
