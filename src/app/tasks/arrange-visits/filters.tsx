import { useId, useState } from "react";
import type { ListedVisit } from "../../../fhir/listed-visit.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { ClinicSchedule } from "../../../fhir/slot.ts";
import type { ListFilter } from "../../../smart/clinic-list.ts";
import type { Clinic } from "./use-clinic.ts";
import { PURPOSES, words } from "./words.ts";

const say = words.filters;

/** What a list is narrowed to; `clinic` is the reference of a schedule, `clinician` of a person whose schedules count. */
export interface Narrowed extends Omit<ListFilter, "patient" | "name"> {
  readonly clinic?: string;
  readonly clinician?: string;
}
/** Schedules that are meant: of one clinic, of one person; undefined: all of them. */
export function chosenPlaces(
  { clinic, clinician }: Narrowed,
  schedules: readonly ClinicSchedule[],
): readonly ClinicSchedule[] | undefined {
  if (!clinic && !clinician) return undefined;
  return schedules.filter(
    ({ reference, actors }) =>
      (!clinic || reference === clinic) && (!clinician || actors.some((a) => a.reference === clinician)),
  );
}
/** Those who see patients, out of who and what is booked with the schedules. */
const clinicians = (schedules: readonly ClinicSchedule[]): (readonly [string, string])[] => {
  const people = schedules.flatMap(({ actors }) =>
    actors.filter(({ reference }) => /^Practitioner(Role)?\//.test(reference)),
  );
  return [...new Map(people.map(({ reference, display }) => [reference, plainText(display ?? reference)]))].sort(
    ([, a], [, b]) => a.localeCompare(b),
  );
};
interface FiltersProps {
  readonly clinic: Clinic;
  readonly narrowed: Narrowed;
  /** What is shown now: the doctors that can be chosen are those who asked for it. */
  readonly visits: readonly ListedVisit[];
  readonly onNarrow: (narrowed: Narrowed) => void;
}
/** Nothing is narrowed while it is typed: one press of a button asks the server once. */
export function Filters({ clinic, narrowed, visits, onNarrow }: FiltersProps) {
  const id = useId();
  const [entered, setEntered] = useState<Narrowed>(narrowed);
  const [doctors, setDoctors] = useState<ReadonlyMap<string, string>>(new Map());
  const asking = visits.flatMap(({ order }) =>
    order?.requester?.reference && !doctors.has(order.requester.reference)
      ? [[order.requester.reference, order.requester.display ?? order.requester.reference] as const]
      : [],
  );
  if (asking.length > 0) setDoctors(new Map([...doctors, ...asking]));
  const set = (name: keyof Narrowed, value: string) => {
    const { [name]: _old, ...rest } = entered;
    setEntered(value ? { ...rest, [name]: value } : rest);
  };
  const select = (
    name: keyof Narrowed,
    label: string,
    every: string,
    options: readonly (readonly [string, string])[],
  ) => (
    <div className="field">
      <label htmlFor={`${id}-${name}`}>{label}</label>
      <select id={`${id}-${name}`} value={entered[name] ?? ""} onChange={(e) => set(name, e.target.value)}>
        <option value="">{every}</option>
        {options.map(([value, text]) => (
          <option key={value} value={value}>
            {text}
          </option>
        ))}
      </select>
    </div>
  );
  const day = (name: "from" | "to", label: string) => (
    <div className="field">
      <label htmlFor={`${id}-${name}`}>{label}</label>
      <input
        id={`${id}-${name}`}
        type="date"
        autoComplete="off"
        value={entered[name] ?? ""}
        onChange={(e) => set(name, e.target.value)}
      />
    </div>
  );
  const whos = [...new Set(clinic.schedules.flatMap(({ services }) => services))].sort();
  return (
    <details className="filters no-print">
      <summary>{say.heading}</summary>
      <form
        className="in-row"
        onSubmit={(event) => {
          event.preventDefault();
          onNarrow(entered);
        }}
      >
        {select(
          "clinic",
          say.clinic,
          say.everyClinic,
          clinic.schedules.map(({ reference, name }) => [reference, name]),
        )}
        {select(
          "who",
          say.who,
          say.everyone,
          whos.map((who) => [who, who]),
        )}
        {select("clinician", say.clinician, say.everyClinician, clinicians(clinic.schedules))}
        {select("requester", say.requester, say.everyDoctor, [...doctors])}
        {select("purpose", say.purpose, say.everyPurpose, PURPOSES)}
        {day("from", say.from)}
        {day("to", say.to)}
        <div className="act">
          <button type="submit" className="primary">
            {say.apply}
          </button>
          <button
            type="button"
            onClick={() => {
              setEntered({});
              onNarrow({});
            }}
          >
            {say.clear}
          </button>
        </div>
      </form>
    </details>
  );
}
