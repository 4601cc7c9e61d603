import type { CodedEncounter } from "../../../coding/encounter.ts";
import { type CodingCase, type Source, sayFinding } from "../../../fhir/coding-case.ts";
import { digitWords } from "../../../fhir/codings.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { type Answers, isAbsent } from "../../../pathway/index.ts";
import { sayDay } from "../../say-date.ts";
import { upper } from "../../words.ts";
import type { Desk } from "./use-coding.ts";
import { valueWords, words } from "./words.ts";

interface FactsProps {
  readonly desk: Desk;
  readonly of: CodingCase;
  readonly coded: CodedEncounter;
}
/** What the record says, each answer with who confirmed it and from what; first what the codes rest on. */
export function Facts({ desk, of, coded }: FactsProps) {
  const say = sayFinding(desk.pathway.module);
  const { digits, injury } = of.encounter.record;
  const { patient } = of.encounter.record as { patient?: Answers };
  const restsOn = new Set(
    coded.codes.flatMap((line) =>
      line.used.flatMap((u) => u.findings.map(({ finding }) => `${line.digit ?? 0} ${finding}`)),
    ),
  );
  const stated = coded.codes.flatMap((line) =>
    line.used.flatMap((u) => (u.from === "stated" && u.fact !== "phase" ? [`${u.words}: ${valueWords(u.value)}`] : [])),
  );
  const groups = [
    ...digits.map((answers, at) => ({
      path: `digit.${at}`,
      title: upper(digitWords(answers.digit, answers.side)),
      answers,
      used: (finding: string) => restsOn.has(`${at} ${finding}`),
    })),
    {
      path: "injury",
      title: "The accident",
      answers: injury,
      used: (finding: string) => digits.some((_, at) => restsOn.has(`${at} ${finding}`)),
    },
    { path: "patient", title: "The patient", answers: patient ?? {}, used: () => false },
  ];
  const linesOf = (answers: Answers, path: string, wanted: (finding: string) => boolean) =>
    Object.entries(answers).flatMap(([finding, value]) =>
      wanted(finding)
        ? [
            <li key={finding}>
              {isAbsent(value) ? say({ finding, value: "cannot tell" }) : say({ finding, value })}
              <SourceWords source={of.sources.get(`${path}.${finding}`)} />
            </li>,
          ]
        : [],
    );
  return (
    <section aria-labelledby="facts">
      <h2 id="facts">{words.facts}</h2>
      <p>{words.confirmed(plainText(of.signedBy), sayDay(of.signedAt))}</p>
      <p className="hint">{words.ofRecord(of.record.reference, of.record.version)}</p>
      <h3>{words.restsOn}</h3>
      {groups.map(({ path, title, answers, used }) => {
        const lines = linesOf(answers, path, used);
        return (
          lines.length > 0 && (
            <div key={path}>
              <p className="label">{title}</p>
              <ul>{lines}</ul>
            </div>
          )
        );
      })}
      {stated.length > 0 && (
        <>
          <h3>{words.stated}</h3>
          <ul>
            {[...new Set(stated)].map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        </>
      )}
      <details>
        <summary>{words.allAnswers}</summary>
        {groups.map(({ path, title, answers }) => (
          <div key={path}>
            <p className="label">{title}</p>
            <ul>{linesOf(answers, path, () => true)}</ul>
          </div>
        ))}
      </details>
    </section>
  );
}
function SourceWords({ source }: { source: Source | undefined }) {
  if (!source?.words && !source?.entry) return null;
  return (
    <span className="hint">
      {source.words}
      {source.label ? `: ${plainText(source.label)}` : ""}
      {source.entry ? ` (${plainText(source.entry)})` : ""}
    </span>
  );
}
