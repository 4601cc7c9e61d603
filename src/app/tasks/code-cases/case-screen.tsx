import { useCallback, useEffect, useMemo, useState } from "react";
import { ENCOUNTER_KINDS, type EncounterKind } from "../../../coding/encounter.ts";
import type { Gap } from "../../../coding/gaps.ts";
import { codePolicyOf } from "../../../coding/other-systems.ts";
import type { CodingCase, SentQuery } from "../../../fhir/coding-case.ts";
import { diagnosisDifferences, differenceWords, isChanged } from "../../../fhir/coding-signing.ts";
import { digitWords } from "../../../fhir/codings.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { ask, type OpenedCase, openCase, type SendReport, signCodes, takeBack } from "../../../smart/coding-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import { sayDay } from "../../say-date.ts";
import { AddCode, AddedLine } from "./add-code.tsx";
import { CodeLineView } from "./code-line.tsx";
import { Facts } from "./facts.tsx";
import { Gaps } from "./gaps.tsx";
import { type Edits, editedLines, editKey, editsFrom, movedUp } from "./lines.ts";
import { type Coded, codeCase, type Desk, META, nowOf } from "./use-coding.ts";
import { WhoCodes } from "./who-codes.tsx";
import { KIND_WORDS, words } from "./words.ts";

interface CaseScreenProps {
  readonly desk: Desk;
  readonly of: CodingCase;
  readonly onBack: () => void;
  readonly onChanged: (now: CodingCase) => void;
  readonly onNext: (() => void) | undefined;
}
type Shown = Pick<Problem, "title" | "what" | "next">;

/** One record: what was confirmed on one side, the codes that follow on the other. */
export function CaseScreen({ desk, of: listed, onBack, onChanged, onNext }: CaseScreenProps) {
  const { session, day } = desk;
  const [opened, setOpened] = useState<OpenedCase>();
  const [kind, setKind] = useState<EncounterKind>();
  const [coded, setCoded] = useState<Coded>();
  const [edits, setEdits] = useState<Edits>();
  const [problem, setProblem] = useState<Shown>();
  const [differences, setDifferences] = useState<readonly string[]>([]);
  const [busy, setBusy] = useState(false);
  const [signed, setSigned] = useState(false);

  // biome-ignore lint/correctness/useExhaustiveDependencies: the record that was chosen, not how the list draws it
  const read = useCallback(async () => {
    const answer = await openCase(session, day, listed);
    if (!answer.ok) {
      setProblem(answer.problem);
      return undefined;
    }
    setOpened(answer.value);
    setEdits((before) => before ?? editsFrom(answer.value.of.signings[0]));
    setKind((before) => before ?? answer.value.of.encounter.kind);
    onChanged(answer.value.of);
    return answer.value;
  }, [session, day, listed.record.reference]);
  useEffect(() => {
    void read();
  }, [read]);
  const of = opened?.of;
  useEffect(() => {
    if (!of || !kind) return;
    let wanted = true;
    codeCase(desk, of, kind).then(
      (now) => {
        if (wanted) setCoded(now);
      },
      () => {
        if (wanted) setProblem(words.noTables);
      },
    );
    return () => {
      wanted = false;
    };
  }, [desk, of, kind]);
  const lines = useMemo(() => (coded && edits ? editedLines(coded.coded, edits) : []), [coded, edits]);

  const head = (
    <>
      <p>
        <button type="button" className="quiet" onClick={onBack}>
          {words.back}
        </button>
      </p>
      <h1 tabIndex={-1}>
        <bdi>{plainText(listed.patient.name)}</bdi>, {listed.digits}, {sayDay(listed.day)}
      </h1>
    </>
  );
  const told = problem && (
    <section className="obstacles" role="alert">
      <p>
        {problem.title} {problem.what} {problem.next}
      </p>
      {differences.length > 0 && (
        <>
          <h2>{words.differs}</h2>
          <ul>
            {differences.map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
  if (!of || !coded || !kind || !opened || !edits)
    return (
      <>
        {head}
        {told ?? <p role="status">{words.opening}</p>}
      </>
    );

  const act = async (deed: () => Promise<void>) => {
    setBusy(true);
    setProblem(undefined);
    setDifferences([]);
    await deed();
    setBusy(false);
  };
  const after = async (report: SendReport) => {
    if (report.outcome !== "done") setProblem(report.problem);
    await read();
  };
  const send = (gap: Gap) => act(async () => after(await ask(session, of, gap, coded.coded.encounter, nowOf(session))));
  const withdraw = (one: SentQuery) => act(async () => after(await takeBack(session, one, nowOf(session))));
  const sign = () =>
    act(async () => {
      const report = await signCodes(session, opened, coded.coded, lines, { ...META, at: nowOf(session) });
      if (report.outcome !== "done") setProblem(report.problem);
      const now = await read();
      if (report.outcome === "changed" && now)
        setDifferences([
          ...(now.of.record.version === of.record.version ? [] : ["The signed findings were changed."]),
          ...diagnosisDifferences(opened.conditions, now.conditions),
        ]);
      setSigned(report.outcome === "done");
    });
  const change = (part: Partial<Edits>) => {
    setSigned(false);
    setEdits({ ...edits, ...part });
  };
  const { coded: result, table, toRead } = coded;
  const { digits } = of.encounter.record;
  const digitNames = digits.length > 1 ? digits.map((d) => digitWords(d.digit, d.side)) : [];
  return (
    <>
      {head}
      {told}
      {opened.problems.map((one) => (
        <p key={one} className="error">
          {one}
        </p>
      ))}
      <div className="coder-case">
        <Facts desk={desk} of={of} coded={result} />
        <section aria-labelledby="codes">
          <h2 id="codes">{words.codes}</h2>
          <div className="field">
            <label htmlFor="kind">{words.kind}</label>
            <select id="kind" value={kind} onChange={({ target }) => setKind(target.value as EncounterKind)}>
              {ENCOUNTER_KINDS.map((one) => (
                <option key={one} value={one}>
                  {KIND_WORDS[one]}
                </option>
              ))}
            </select>
            {kind === of.encounter.kind && <span className="hint">{of.kindBecause}</span>}
          </div>
          {result.problems.map((one) => (
            <p key={one} className="error">
              {one}
            </p>
          ))}
          <ol className="coder-codes">
            {lines.map((kept, at) => {
              const line = result.codes.find((c) => c.key === kept.key && c.code === kept.proposed?.code);
              const order = movedUp(lines, at);
              const onUp = order && (() => change({ order }));
              return line ? (
                <CodeLineView
                  key={editKey(kept)}
                  line={line}
                  kept={kept}
                  table={table}
                  onUp={onUp}
                  onEdit={(edit) => change({ lines: { ...edits.lines, [editKey(kept)]: edit } })}
                />
              ) : (
                <AddedLine
                  key={editKey(kept)}
                  line={kept}
                  onUp={onUp}
                  onTakeOut={() => change({ added: edits.added.filter((one) => one.key !== kept.key) })}
                />
              );
            })}
          </ol>
          {!result.edition && codePolicyOf(desk.pathway.policy).icd10 && (
            <WhoCodes others={result.others} digits={digitNames} />
          )}
          {table && result.edition && (
            <AddCode
              table={table}
              digits={digits.map((d) => digitWords(d.digit, d.side))}
              lines={lines}
              onAdd={(line) => change({ added: [...edits.added, line] })}
            />
          )}
          {result.leftOut.length > 0 && (
            <details>
              <summary>{words.leftOut}</summary>
              <ul>
                {result.leftOut.map((one) => (
                  <li key={one.key}>
                    {one.code} {one.display}: {one.because} ({one.beside})
                    <span className="hint">{one.guidelines.map((g) => `${g.section}: ${g.says}`).join("; ")}</span>
                  </li>
                ))}
              </ul>
            </details>
          )}
          <Gaps
            digits={digitNames}
            gaps={result.gaps}
            queries={of.queries}
            toRead={toRead}
            clinician={of.signedBy}
            busy={busy}
            maySend={session.can("Task", "c")}
            onAsk={send}
            onTakeBack={withdraw}
          />
          {result.edition && (
            <p className="hint">
              {words.edition(result.edition.name, sayDay(result.edition.from), sayDay(result.edition.to))}
            </p>
          )}
          <p className="act">
            <button
              type="button"
              className="primary"
              disabled={busy || lines.length === 0 || kind === "not-stated"}
              onClick={() => void sign()}
            >
              {words.sign}
            </button>
            {onNext && (
              <button type="button" onClick={onNext}>
                {words.next}
              </button>
            )}
          </p>
          <p role="status">{signed ? words.signedNow : ""}</p>
          <h2>{words.history}</h2>
          {of.signings.length === 0 && <p>{of.before.length > 0 ? words.codedBefore : words.noHistory}</p>}
          <ul>
            {[...of.signings, ...of.before].map((signing) => (
              <li key={signing.reference}>
                {sayDay(signing.at.slice(0, 16))}, <bdi>{plainText(signing.by)}</bdi>:{" "}
                {signing.lines.flatMap((l) => l.kept?.code ?? []).join(", ")}.
                <span className="hint">
                  {signing.lines.some(isChanged)
                    ? signing.lines.filter(isChanged).map(differenceWords).join(" ")
                    : signing.lines.map((l) => l.key).join() === result.codes.map((c) => c.key).join()
                      ? words.asProposed
                      : words.otherOrder}
                </span>
              </li>
            ))}
          </ul>
        </section>
      </div>
    </>
  );
}
