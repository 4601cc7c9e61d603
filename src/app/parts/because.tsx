import { createContext, type ReactNode, useContext, useEffect, useState } from "react";
import { type Citation, explain, type Facts, type Line, type Pathway, STRENGTH_WORDS } from "../../pathway/index.ts";
import { type CitedSources, loadSources, shortSource } from "../cited-sources.ts";
import { sayValue } from "../which-questions.ts";

interface Ground {
  readonly pathway: Pathway;
  readonly facts: Facts;
}
/** The facts and rules that the lines below it rest on. */
export const GroundContext = createContext<Ground | undefined>(undefined);

const WORDS = {
  why: "Why",
  because: "Because",
  findings: "From these findings",
  sources: "Who says so",
  against: "Who says otherwise",
  rule: "Rule",
} as const;

/** One line of the plan that opens to its reason: findings used, sources, their strength, who disagrees, rule id. */
export function ExplainedLine({ line, children }: { line: Line; children?: ReactNode }) {
  const [open, setOpen] = useState(false);
  return (
    <details className="line" onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>
        {children ?? line.text} <span className="why">{WORDS.why}</span>
      </summary>
      {open && <Because line={line} />}
    </details>
  );
}

export function Because({ line }: { line: Line }) {
  const ground = useContext(GroundContext);
  const used = ground ? usedIn(ground, line.rule) : [];
  const sides = {
    for: line.sources.filter((s) => s.says === "for"),
    against: line.sources.filter((s) => s.says === "against"),
  };
  return (
    <div className="because">
      <p>
        <b>{WORDS.because}:</b> {line.because}
      </p>
      {used.length > 0 ? (
        <>
          <p className="label">{WORDS.findings}</p>
          <ul>
            {used.map((u) => (
              <li key={u}>{u}</li>
            ))}
          </ul>
        </>
      ) : null}
      <div className="sides">
        <Sources title={WORDS.sources} citations={sides.for} />
        {sides.against.length > 0 && <Sources title={WORDS.against} citations={sides.against} />}
      </div>
      <p className="hint">
        {WORDS.rule} {line.rule}
      </p>
    </div>
  );
}

function usedIn({ pathway, facts }: Ground, rule: string): string[] {
  if (!pathway.tables.some((t) => t.rules.some((r) => r.id === rule))) return [];
  const { questions, findings } = pathway.module;
  return explain(pathway, facts, rule).used.map(({ finding, value }) => {
    const question = questions.find((q) => q.finding === finding);
    return `${(question?.wording ?? finding).replace(/\?$/, "")}: ${sayValue(question, findings[finding], value)}`;
  });
}

function Sources({ title, citations }: { title: string; citations: readonly Citation[] }) {
  const [full, setFull] = useState<CitedSources>();
  useEffect(() => {
    let here = true;
    loadSources().then(
      (sources) => here && setFull(() => sources),
      () => undefined, // the short form stays
    );
    return () => {
      here = false;
    };
  }, []);
  return (
    <div>
      <p className="label">{title}</p>
      <ul>
        {citations.map((c) => {
          const record = full?.(c.source);
          return (
            <li key={`${c.source} ${c.at}`}>
              {record ? record.citation : shortSource(c)}
              {record && c.at && ` (${c.at})`}
              <span className="hint">
                {STRENGTH_WORDS[c.strength]}
                {record && `; ${record.read}`}
                {record?.caution && `; ${record.caution}`}
              </span>
              {record?.link?.startsWith("https:") && (
                <a href={record.link} target="_blank" rel="noopener noreferrer">
                  Open the source<span className="said"> {c.source}, in a new window</span>
                </a>
              )}
            </li>
          );
        })}
      </ul>
    </div>
  );
}
