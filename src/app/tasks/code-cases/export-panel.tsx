import { useEffect, useId, useRef, useState } from "react";
import type { CodedEncounter } from "../../../coding/encounter.ts";
import { csvExport, dg1Export, type ExportFormat, exported } from "../../../coding/export.ts";
import { bundleExport, ndjsonExport } from "../../../fhir/coded-encounter.ts";
import { asKept } from "../../../fhir/coding-signing.ts";
import { type CaseFilter, readCases } from "../../../smart/coding-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import { DayFields } from "./case-list.tsx";
import { codeCase, type Desk, META } from "./use-coding.ts";
import { FORMATS, type FormatName, words } from "./words.ts";

const FORMAT_OF: { readonly [F in FormatName]: ExportFormat } = {
  csv: csvExport(META),
  bundle: bundleExport(META),
  ndjson: ndjsonExport(META),
  dg1: dg1Export(META),
};
const PAGE = 100;
/** Signed records of one file; a longer period is exported from the command line. [common practice, no source] */
const MOST = 100_000;
/** Characters that are held as text before they are handed to the browser, which keeps large files on its disk. [common practice, no source] */
const HELD = 1 << 20;
type Told = Pick<Problem, "title" | "what" | "next">;
class NotRead extends Error {
  readonly problem: Told;
  constructor(problem: Told) {
    super(problem.title);
    this.problem = problem;
  }
}

/** A file made piece by piece, of which little is held as text. */
class FileInParts {
  private readonly done: Blob[] = [];
  private text: string[] = [];
  private length = 0;
  add(piece: string): void {
    this.text.push(piece);
    this.length += piece.length;
    if (this.length >= HELD) this.put();
  }
  whole(type: string): Blob {
    this.put();
    return new Blob(this.done, { type });
  }
  private put(): void {
    this.done.push(new Blob(this.text));
    this.text = [];
    this.length = 0;
  }
}

type Progress =
  | { readonly is: "idle" | "stopped" }
  | { readonly is: "running"; readonly read: number; readonly total: number | undefined }
  | { readonly is: "failed"; readonly problem: Told }
  | {
      readonly is: "ready";
      readonly href: string;
      readonly name: string;
      readonly encounters: number;
      readonly codes: number;
      readonly problems: readonly string[];
    };

interface ExportPanelProps {
  readonly desk: Desk;
  readonly filter: CaseFilter;
  readonly onFilter: (filter: CaseFilter) => void;
}
/** The codes of a period as a file: what coders kept; on wish also what nobody has signed yet. */
export function ExportPanel({ desk, filter, onFilter }: ExportPanelProps) {
  const id = useId();
  const [format, setFormat] = useState<FormatName>("csv");
  const [unsigned, setUnsigned] = useState(false);
  const [progress, setProgress] = useState<Progress>({ is: "idle" });
  const stopping = useRef<AbortController>(undefined);
  const href = progress.is === "ready" ? progress.href : undefined;
  useEffect(() => () => void (href && URL.revokeObjectURL(href)), [href]);
  useEffect(() => () => stopping.current?.abort(), []);

  async function run(): Promise<void> {
    const stop = new AbortController();
    stopping.current = stop;
    setProgress({ is: "running", read: 0, total: undefined });
    const problems = new Set<string>();
    let read = 0;
    async function* encounters(): AsyncGenerator<CodedEncounter> {
      let next: string | undefined;
      do {
        const page = await readCases(desk.session, desk.day, {
          filter: { from: filter.from, to: filter.to },
          size: PAGE,
          signal: stop.signal,
          ...(next ? { next } : {}),
        });
        if (!page.ok) throw new NotRead(page.problem);
        if ((page.value.total ?? read) > MOST) throw new NotRead(words.tooMany(MOST));
        for (const problem of page.value.problems) problems.add(problem);
        for (const of of page.value.cases) {
          if (stop.signal.aborted) return;
          const [signing] = of.signings;
          if (!signing && !unsigned) continue;
          yield asKept((await codeCase(desk, of, signing?.kind, { changes: false })).coded, signing);
        }
        read += page.value.cases.length;
        setProgress({ is: "running", read, total: page.value.total });
        next = page.value.next;
      } while (next !== undefined && !stop.signal.aborted);
    }
    try {
      const file = new FileInParts();
      let counts = { encounters: 0, codes: 0 };
      const { extension, mediaType } = FORMAT_OF[format];
      for await (const piece of exported(FORMAT_OF[format], encounters(), (now) => {
        counts = now;
      }))
        file.add(piece);
      if (stop.signal.aborted) return setProgress({ is: "stopped" });
      setProgress({
        is: "ready",
        href: URL.createObjectURL(file.whole(mediaType)),
        name: `codes-${filter.from ?? "first"}-to-${filter.to ?? "last"}.${extension}`,
        ...counts,
        problems: [...problems],
      });
    } catch (error) {
      if (stop.signal.aborted) return setProgress({ is: "stopped" });
      if (!(error instanceof NotRead)) throw error;
      setProgress({ is: "failed", problem: error.problem });
    }
  }

  return (
    <>
      <h1 tabIndex={-1}>{words.export}</h1>
      <div className="coder-filter">
        <DayFields filter={filter} onFilter={onFilter} />
        <div className="field">
          <label htmlFor={`${id}-format`}>{words.format}</label>
          <select id={`${id}-format`} value={format} onChange={({ target }) => setFormat(target.value as FormatName)}>
            {Object.entries(FORMATS).map(([name, said]) => (
              <option key={name} value={name}>
                {said}
              </option>
            ))}
          </select>
        </div>
      </div>
      <p>
        <label>
          <input type="checkbox" checked={unsigned} onChange={({ target }) => setUnsigned(target.checked)} />{" "}
          {words.unsigned}
        </label>
      </p>
      <p className="act">
        <button type="button" className="primary" disabled={progress.is === "running"} onClick={() => void run()}>
          {words.start}
        </button>
        {progress.is === "running" && (
          <button type="button" onClick={() => stopping.current?.abort()}>
            {words.stop}
          </button>
        )}
      </p>
      <div role="status">
        {progress.is === "running" && <p>{words.progress(progress.read, progress.total)}</p>}
        {progress.is === "stopped" && <p>{words.stopped}</p>}
        {progress.is === "ready" && (
          <>
            <p>{words.ready(progress.encounters, progress.codes)}</p>
            {progress.problems.map((problem) => (
              <p key={problem} className="error">
                {problem}
              </p>
            ))}
          </>
        )}
      </div>
      {progress.is === "failed" && (
        <p className="error" role="alert">
          {progress.problem.title} {progress.problem.what} {progress.problem.next}
        </p>
      )}
      {progress.is === "ready" && (
        <p className="act">
          <a className="button primary" href={progress.href} download={progress.name}>
            {words.save}
          </a>
          <span className="hint">{words.notKept}</span>
        </p>
      )}
    </>
  );
}
