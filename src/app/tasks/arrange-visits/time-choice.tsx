import { useId, useState } from "react";
import type { ClinicSchedule, ClinicTime } from "../../../fhir/slot.ts";
import { type Day, dayWords } from "../../../scheduling/index.ts";
import { type Arranging, agreedTime, freeDays, isOutside, type Offer, timeAndPlace } from "./offers.ts";
import type { Clinic } from "./use-clinic.ts";
import { words } from "./words.ts";

const say = words.panel;

interface TimeChoiceProps {
  readonly clinic: Clinic;
  readonly arranging: Pick<Arranging, "parts"> & { readonly visit: { readonly due: { readonly ideal: Day } } };
  readonly offer: Offer;
  readonly schedules: readonly ClinicSchedule[];
  /** What the group of times is for, said to those who do not see it. */
  readonly legend: string;
  readonly chosen: ClinicTime | undefined;
  readonly reason: string;
  readonly error: string | undefined;
  /** The last day whose times were read. */
  readonly until: Day;
  readonly onChoose: (time: ClinicTime) => void;
  readonly onReason: (reason: string) => void;
  readonly onLater: () => void;
}

/** One time out of those that suit: three suggestions, any other free time, or one that was agreed elsewhere. */
export function TimeChoice({
  clinic,
  arranging,
  offer,
  schedules,
  legend,
  chosen,
  reason,
  error,
  until,
  onChoose,
  onReason,
  onLater,
}: TimeChoiceProps) {
  const id = useId();
  const [day, setDay] = useState<Day>();
  const { days } = arranging.parts[0]!;
  const all = freeDays(offer.free, days, clinic.closed);
  const closedHint = ({ schedule, day: on }: ClinicTime) => {
    const why = clinic.closed(schedule, on);
    return why === undefined ? "" : words.closed.that(why);
  };
  const ofDay = all.find((one) => one.day === day)?.times ?? [];
  const first =
    offer.suggested.length > 0
      ? offer.suggested.map((time) => ({ time, hint: "" }))
      : offer.leastBad.map(({ time, words: hint }) => ({ time, hint }));
  const shown = new Set([...first.map(({ time }) => time.reference), ...ofDay.map((time) => time.reference)]);
  const option = (time: ClinicTime, hint: string, short = false) => (
    <label key={time.reference} className={`option ${same(time, chosen) ? "chosen" : ""}`}>
      <input
        type="radio"
        name={`${id}-time`}
        checked={same(time, chosen)}
        onChange={() => onChoose(time)}
        aria-describedby={hint ? `${id}-${time.reference}` : undefined}
      />
      <span>
        {short ? timeAndPlace(time, schedules).slice(dayWords(time.day).length + 2) : timeAndPlace(time, schedules)}
        {hint && (
          <span className="hint" id={`${id}-${time.reference}`}>
            {hint}
          </span>
        )}
      </span>
    </label>
  );
  const outside = chosen !== undefined && isOutside(chosen, arranging.parts);
  return (
    <>
      {offer.bounds.length > 0 && <p className="hint">{offer.bounds.join(" ")}</p>}
      {offer.suggested.length === 0 && (
        <div className="no-fit">
          <p>
            <b>{say.none}</b> {offer.obstacles.join(" ")}
          </p>
          <p>{offer.leastBad.length > 0 ? `${say.leastBad}:` : offer.free.length > 0 ? say.noChoice : say.noSlots}</p>
        </div>
      )}
      <fieldset className="times">
        <legend className="said">{legend}</legend>
        <div className="options">
          {first.map(({ time, hint }, i) => option(time, hint || (i === 0 ? say.best : "")))}
          {chosen && !shown.has(chosen.reference) && option(chosen, say.chosen)}
        </div>
      </fieldset>
      <details>
        <summary>{say.moreTimes}</summary>
        <div className="more-times">
          {all.length > 0 && (
            <div className="field">
              <label htmlFor={`${id}-day`}>{say.day}</label>
              <select id={`${id}-day`} value={day ?? ""} onChange={(e) => setDay(e.target.value || undefined)}>
                <option value="">{say.chooseDay}</option>
                {all.map((one) => (
                  <option key={one.day} value={one.day}>
                    {one.words}
                  </option>
                ))}
              </select>
            </div>
          )}
          {ofDay.length > 0 && (
            <fieldset className="times">
              <legend>{say.time}</legend>
              <div className="options">
                {ofDay
                  .filter((time) => !first.some((one) => one.time.reference === time.reference))
                  .map((time) => option(time, closedHint(time), true))}
              </div>
            </fieldset>
          )}
          <p className="hint">{say.readUntil(dayWords(until))}</p>
          <button type="button" onClick={onLater}>
            {say.laterDays}
          </button>
        </div>
        <AgreedTime clinic={clinic} onUse={onChoose} />
      </details>
      {outside && (
        <div className="field reason">
          <label htmlFor={`${id}-reason`}>{say.reason}</label>
          <span className="hint" id={`${id}-hint`}>
            {say.reasonHint}
          </span>
          <input
            id={`${id}-reason`}
            type="text"
            value={reason}
            aria-describedby={`${id}-hint ${id}-error`}
            aria-invalid={error ? true : undefined}
            onChange={(e) => onReason(e.target.value)}
          />
        </div>
      )}
      <p className="error" id={`${id}-error`}>
        {error}
      </p>
    </>
  );
}
const same = (a: ClinicTime, b: ClinicTime | undefined) => a.reference === b?.reference && a.start === b.start;

/** Date and time as agreed, where no schedule of the record system holds it. */
function AgreedTime({ clinic, onUse }: { clinic: Clinic; onUse: (time: ClinicTime) => void }) {
  const id = useId();
  const [entered, setEntered] = useState({ day: "", clock: "", minutes: "15" });
  const [bad, setBad] = useState(false);
  const field = (name: keyof typeof entered, type: string, label: string) => (
    <div className="field">
      <label htmlFor={`${id}-${name}`}>{label}</label>
      <input
        id={`${id}-${name}`}
        type={type}
        value={entered[name]}
        aria-describedby={bad ? `${id}-bad` : undefined}
        aria-invalid={bad || undefined}
        onChange={(e) => setEntered({ ...entered, [name]: e.target.value })}
      />
    </div>
  );
  return (
    <fieldset className="agreed">
      <legend>{say.free}</legend>
      <p className="hint">{say.freeHint}</p>
      <div className="in-row">
        {field("day", "date", say.date)}
        {field("clock", "time", say.clock)}
        {field("minutes", "number", say.minutes)}
        <button
          type="button"
          onClick={() => {
            const { session, day } = clinic;
            const time = agreedTime(entered.day, entered.clock.slice(0, 5), Number(entered.minutes), {
              now: session.clock.now(),
              zone: day.zone,
            });
            setBad(time === undefined);
            if (time) onUse(time);
          }}
        >
          {say.use}
        </button>
      </div>
      <p className="error" id={`${id}-bad`}>
        {bad ? say.badTime : ""}
      </p>
    </fieldset>
  );
}
