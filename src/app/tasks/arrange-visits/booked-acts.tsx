/** Move, call off, came, did not come: each asks what it needs, does nothing before its own button is pressed, and says what became of it. */
import { useEffect, useId, useRef, useState } from "react";
import { type CallingOff, callingOff, came, missing, moving } from "../../../fhir/clinic-act.ts";
import type { BookedVisit } from "../../../fhir/listed-visit.ts";
import type { ClinicTime } from "../../../fhir/slot.ts";
import { type Day, dayAfter } from "../../../scheduling/index.ts";
import { readTime, readTimes } from "../../../smart/clinic-times.ts";
import {
  type Arranging,
  isOutside,
  laterOf,
  offerFor,
  placesFor,
  plannedOf,
  scheduleOf,
  timeAndPlace,
} from "./offers.ts";
import { type Said, SaidList, saidOf } from "./outcome.tsx";
import { nameOf } from "./rows.ts";
import { saveCalendar } from "./save-calendar.ts";
import { TimeChoice } from "./time-choice.tsx";
import { act, type Clinic } from "./use-clinic.ts";
import { words } from "./words.ts";

const say = words.booked;
/** Times are read so many days beyond the last day of the visit. [common practice, no source] */
const BEYOND = 28;

interface ActsProps {
  readonly clinic: Clinic;
  readonly visit: BookedVisit;
  readonly acting: boolean;
  readonly onActing: (visit: BookedVisit | undefined) => void;
  /** Something was written: the list is read again. */
  readonly onDone: () => void;
}
type Kind = "move" | "cancel" | "missed";

export function BookedActs({ clinic, visit, acting, onActing, onDone }: ActsProps) {
  const { session, day } = clinic;
  const [kind, setKind] = useState<Kind>();
  const [said, setSaid] = useState<readonly Said[]>([]);
  const [busy, setBusy] = useState(false);
  const result = useRef<HTMLDivElement>(null);
  const opener = useRef<HTMLButtonElement>(null);
  const whose = <span className="said">{say.fileOf(nameOf(visit))}</span>;
  const begun = Date.parse(visit.start) <= session.clock.now().getTime();
  // What its plan or its patient no longer needs is called off, not moved.
  const ended = visit.recheck?.why === "plan-ended" || visit.recheck?.why === "patient";
  const mayChange = session.can("Appointment", "u") && ["booked", "pending", "waitlist"].includes(visit.status);

  const end = () => {
    setKind(undefined);
    onActing(undefined);
  };
  const finish = (answers: readonly Said[]) => {
    setBusy(false);
    setSaid(answers);
    if (answers.some(({ done }) => done)) {
      setKind(undefined);
      onDone();
    }
    setTimeout(() => result.current?.focus());
  };
  /** Every time that it took, as it stands now. */
  const itsTimes = async () => {
    const times = await Promise.all(visit.slots.map((slot) => readTime(session, slot, day.zone)));
    return times.filter((time) => time !== undefined);
  };
  const cancel = async (how: CallingOff) => {
    setBusy(true);
    const times = await itsTimes();
    const report = await act(clinic, [visit], (staff) => callingOff(visit, times, staff, how));
    finish([saidOf(report, words.outcome.calledOff(visit.words, how.needRemains))]);
  };
  const missedIt = async () => {
    setBusy(true);
    const report = await act(clinic, [visit], (staff) => missing(visit, staff, day.today));
    finish([saidOf(report, words.outcome.missed(visit.words))]);
  };
  const cameToIt = async () => {
    setBusy(true);
    const report = await act(clinic, [visit], (staff) => came(visit, staff));
    finish([saidOf(report, words.outcome.came(visit.words))]);
  };
  const move = async (time: ClinicTime, reason: string) => {
    setBusy(true);
    const from = await itsTimes();
    const place = { time, schedule: scheduleOf(time, clinic.schedules, visit) };
    const report = await act(clinic, [visit], (staff) => moving(visit, from, place, staff, reason));
    finish([saidOf(report, words.outcome.moved(visit.words, timeAndPlace(time, clinic.schedules)))]);
  };
  const begin = (what: Kind, label: string) => (
    <button
      type="button"
      ref={kind === what ? opener : undefined}
      aria-expanded={acting && kind === what}
      onClick={() => {
        setSaid([]);
        setKind(what);
        onActing(visit);
      }}
    >
      {label}
      {whose}
    </button>
  );
  return (
    <div className="no-print">
      <div ref={result} tabIndex={-1} role="status" className="outcomes">
        <SaidList said={said} />
      </div>
      <div className="act">
        {mayChange && !ended && begin("move", say.move)}
        {mayChange && begin("cancel", say.cancel)}
        {mayChange && begun && (
          <button type="button" disabled={busy} onClick={() => void cameToIt()}>
            {say.cameAct}
            {whose}
          </button>
        )}
        {mayChange && begun && begin("missed", say.missed)}
        <button type="button" onClick={() => void saveCalendar([visit], nameOf(visit), session)}>
          {say.oneFile}
          {whose}
        </button>
      </div>
      {acting && kind === "cancel" && <CallOff {...{ visit, busy }} onDo={cancel} onLeave={end} />}
      {acting && kind === "missed" && (
        <Ask>
          <p>{say.missedHint}</p>
          <div className="act">
            <button type="button" className="primary" disabled={busy} onClick={() => void missedIt()}>
              {say.doMissed}
            </button>
            <button type="button" onClick={end}>
              {say.keep}
            </button>
          </div>
        </Ask>
      )}
      {acting && kind === "move" && <Move {...{ clinic, visit, busy }} onDo={move} onLeave={end} />}
    </div>
  );
}

/** The part that opens takes the focus, so that it is read and typed into at once. */
function Ask({ children }: { children: React.ReactNode }) {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => box.current?.focus(), []);
  return (
    <div ref={box} tabIndex={-1} className="ask">
      {children}
    </div>
  );
}

interface CallOffProps {
  readonly visit: BookedVisit;
  readonly busy: boolean;
  readonly onDo: (how: CallingOff) => Promise<void>;
  readonly onLeave: () => void;
}
function CallOff({ visit, busy, onDo, onLeave }: CallOffProps) {
  const id = useId();
  const [by, setBy] = useState<CallingOff["by"]>("patient");
  const [reason, setReason] = useState("");
  // Once the plan or the patient is gone, nobody has to arrange it again.
  const ended = visit.recheck?.why === "plan-ended" || visit.recheck?.why === "patient";
  const [needRemains, setNeedRemains] = useState(!ended);
  const [wrong, setWrong] = useState(false);
  return (
    <Ask>
      <fieldset>
        <legend>{say.by}</legend>
        <div className="options">
          {(["patient", "clinic"] as const).map((who) => (
            <label key={who} className={`option ${by === who ? "chosen" : ""}`}>
              <input type="radio" name={`${id}-by`} checked={by === who} onChange={() => setBy(who)} />
              {say.byWhom[who]}
            </label>
          ))}
        </div>
      </fieldset>
      <div className="field">
        <label htmlFor={`${id}-reason`}>{say.reason}</label>
        <input
          id={`${id}-reason`}
          type="text"
          value={reason}
          aria-invalid={wrong || undefined}
          aria-describedby={`${id}-wrong`}
          onChange={(e) => {
            setReason(e.target.value);
            setWrong(false);
          }}
        />
        <p className="error" id={`${id}-wrong`}>
          {wrong ? say.reasonMissing : ""}
        </p>
      </div>
      <label className="option">
        <input type="checkbox" checked={needRemains} onChange={(e) => setNeedRemains(e.target.checked)} />
        {say.again}
      </label>
      <div className="act">
        <button
          type="button"
          className="primary"
          disabled={busy}
          onClick={() => {
            setWrong(!reason.trim());
            if (reason.trim()) void onDo({ by, reason, needRemains });
            else document.getElementById(`${id}-reason`)?.focus();
          }}
        >
          {say.doCancel}
        </button>
        <button type="button" onClick={onLeave}>
          {say.keep}
        </button>
      </div>
    </Ask>
  );
}

interface MoveProps {
  readonly clinic: Clinic;
  readonly visit: BookedVisit;
  readonly busy: boolean;
  readonly onDo: (time: ClinicTime, reason: string) => Promise<void>;
  readonly onLeave: () => void;
}
function Move({ clinic, visit, busy, onDo, onLeave }: MoveProps) {
  const { session, day, schedules } = clinic;
  const [until, setUntil] = useState<Day>();
  const [times, setTimes] = useState<readonly ClinicTime[]>();
  const [chosen, setChosen] = useState<ClinicTime>();
  const [reason, setReason] = useState("");
  const [error, setError] = useState("");
  const planned = plannedOf(visit);
  const due = planned.due ?? { earliest: day.today, ideal: day.today, latest: dayAfter(day.today, BEYOND) };
  const read = async (to: Day) => {
    const places = placesFor(visit, schedules).map(({ reference }) => reference);
    const answer = await readTimes(session, day, { schedules: places, from: day.today, to, status: "any" });
    setUntil(to);
    setTimes(answer.ok ? answer.value.times : []);
    setError(answer.ok ? "" : answer.problem.title);
  };
  const first = dayAfter(laterOf(due.latest, day.today), BEYOND);
  // biome-ignore lint/correctness/useExhaustiveDependencies: read once when it opens
  useEffect(() => void read(first), []);
  if (!times || !until) return <p role="status">{words.panel.reading}</p>;
  const arranging: Arranging = {
    visit: { ...planned, id: visit.key, parts: [], due, unavailable: [], after: [] },
    parts: [{ ...visit, state: "asked", before: 0 }],
    first: [],
  };
  return (
    <Ask>
      <TimeChoice
        {...{ clinic, arranging, schedules, chosen, reason, until }}
        offer={offerFor(arranging, times, { ...day, now: session.clock.now(), closed: clinic.closed })}
        legend={`${words.panel.choose}: ${visit.words}`}
        error={error || undefined}
        onChoose={setChosen}
        onReason={(text) => {
          setReason(text);
          setError("");
        }}
        onLater={() => void read(dayAfter(until, BEYOND))}
      />
      <div className="act">
        <button
          type="button"
          className="primary"
          disabled={busy}
          onClick={() => {
            if (!chosen) return setError(words.panel.nothingChosen);
            if (isOutside(chosen, [visit]) && !reason.trim()) return setError(words.panel.reasonMissing);
            setError("");
            void onDo(chosen, reason);
          }}
        >
          {say.move}
        </button>
        <button type="button" onClick={onLeave}>
          {say.keep}
        </button>
      </div>
    </Ask>
  );
}
