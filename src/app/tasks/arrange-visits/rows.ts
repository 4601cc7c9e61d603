/** What one line of the clinic's lists says, and how pages and a fresh look at the server become one list. Pure. */
import type { BookedVisit, DaysAsked, ListedVisit } from "../../../fhir/listed-visit.ts";
import { byDays } from "../../../fhir/listed-visit.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { PURPOSE_WORDS, type VisitPurpose } from "../../../pathway/index.ts";
import { type Day, daysFrom, dayWords } from "../../../scheduling/index.ts";
import { sayShortDay } from "../../say-date.ts";

export type Lateness = "overdue" | "last-day" | "soon" | "later" | "unknown";
/** So many days before its last one a visit is told as pressing. [common practice, no source] */
const SOON = 3;
const count = (n: number, one: string, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;

/** How much time is left, in words and as a kind that a mark can be drawn for. */
export function timeLeft({ latest }: DaysAsked, today: Day): { readonly kind: Lateness; readonly words: string } {
  if (latest === undefined) return { kind: "unknown", words: "No last day" };
  const days = daysFrom(today, latest);
  if (days < 0) return { kind: "overdue", words: `Overdue by ${count(-days, "day")}` };
  if (days === 0) return { kind: "last-day", words: "Last day is today" };
  return { kind: days <= SOON ? "soon" : "later", words: `${count(days, "day")} left` };
}

/** "Mon 30 November 2026 to Thu 3 December 2026, best on Tue 1 December 2026"; how it is counted where there are no days yet. */
export function windowWords({
  days: { earliest, ideal, latest },
  afterOperation,
}: Pick<ListedVisit, "days" | "afterOperation">): string {
  if (!earliest && !latest && !ideal)
    return afterOperation
      ? `${afterOperation.earliest} to ${count(afterOperation.latest, "day")} after the operation, best ${afterOperation.ideal}; its date is not known yet`
      : "No days given";
  const best = ideal && ideal !== earliest && ideal !== latest ? `, best on ${dayWords(ideal)}` : "";
  const atEnd =
    ideal === undefined || ideal === "" ? "" : ideal === earliest ? ", best at the start" : ", best at the end";
  if (earliest && earliest === latest) return `Only ${dayWords(earliest)}`;
  if (!earliest) return `Until ${dayWords(latest ?? ideal!)}${best}`;
  if (!latest) return `From ${dayWords(earliest)}${best}`;
  return `${dayWords(earliest)} to ${dayWords(latest)}${best || atEnd}`;
}

const DEED: { readonly [P in VisitPurpose]?: string } = {
  "stitches-out": "after the stitches are out",
  "wire-out": "after the wire is out",
  film: "after the check film",
  "film-true-lateral": "after the true lateral film",
  "physis-film": "after the growth plate film",
};
/** "after the wire is out". */
export const dependsWords = (after: VisitPurpose | undefined): string | undefined =>
  after && (DEED[after] ?? `after the ${PURPOSE_WORDS[after].toLowerCase()}`);

const IN_SPLINT = "Comes in the splint, and brings any spare one";
/** What the patient is told to bring. [common practice, no source] */
const BRING: { readonly [P in VisitPurpose]?: string } = {
  film: "A film is taken on the day",
  "film-true-lateral": "A film is taken on the day; comes in the splint",
  "physis-film": "A film is taken on the day",
  "splint-review": IN_SPLINT,
  therapy: IN_SPLINT,
};
export const bringWords = (purpose: VisitPurpose | undefined, who = ""): string | undefined =>
  purpose && !/\bby phone\b/.test(who) ? BRING[purpose] : undefined;

/** R4 request-priority in words; routine is not said. */
const PRIORITY: Readonly<Record<string, string>> = {
  urgent: "Urgent",
  asap: "As soon as possible",
  stat: "At once",
};
export interface Row {
  readonly key: string;
  readonly name: string;
  /** "born 3 May 1988, 38 years" */
  readonly born: string;
  /** "left ring finger", or that it is not recorded. */
  readonly what: string;
  readonly purpose: string;
  readonly who: string;
  readonly window: string;
  readonly left: ReturnType<typeof timeLeft>;
  readonly depends?: string | undefined;
  readonly urgency?: string | undefined;
  readonly bring?: string | undefined;
  readonly check?: string | undefined;
  readonly contact: string;
  /** "Did not come once before" */
  readonly history?: string | undefined;
  readonly stop?: string | undefined;
  /** That the patient has another address than when the visit was ordered. */
  readonly moved?: string | undefined;
}

const movedWords = (since: Day | undefined, ordered: Day | undefined): string | undefined =>
  since && ordered && since >= ordered
    ? `New address since ${sayShortDay(since)}, after the visit was ordered: ask whether they can still come here.`
    : undefined;

type AnyVisit = Omit<ListedVisit, "state" | "before"> & Partial<Pick<ListedVisit, "state" | "before">>;
export const nameOf = ({ patient }: Pick<AnyVisit, "patient">): string => plainText(patient.name);
export function bornWords({ summary }: AnyVisit["patient"]): string {
  const { birthDate, birthDateNote, age } = summary ?? {};
  if (birthDate) return `born ${sayShortDay(birthDate)}, ${age}`;
  return birthDateNote ? plainText(birthDateNote) : "birth date not recorded";
}

export function rowOf(visit: AnyVisit, today: Day): Row {
  const { state, before = 0, patient, order } = visit;
  const history = [
    ...(state === "missed" ? ["The patient did not come"] : state === "called-off" ? ["Was called off"] : []),
    ...(before > (state === "asked" ? 0 : 1) ? [`arranged ${count(before, "time")} before without taking place`] : []),
  ].join("; ");
  return {
    key: visit.key,
    name: nameOf(visit),
    born: bornWords(patient),
    what: plainText(visit.diagnosis ?? (visit.digits || "Finger not recorded"), 200),
    purpose: plainText(visit.words),
    who: plainText(visit.who) || "Not said with whom",
    window: windowWords(visit),
    left: timeLeft(visit.days, today),
    depends: dependsWords(visit.after),
    urgency: PRIORITY[order?.priority ?? ""],
    bring: bringWords(visit.purpose, visit.who),
    check: visit.check && plainText(visit.check, 300),
    contact: patient.contact.map((one) => plainText(one)).join(", ") || "No phone number or address recorded",
    history: history && history.charAt(0).toUpperCase() + history.slice(1),
    stop: patient.stop,
    moved: movedWords(patient.addressSince, order?.orderedOn),
  };
}

/** Pages one after the other as one list, each visit once, the last days first to come. A later page has the later word. */
export function merged(pages: readonly (readonly ListedVisit[])[]): ListedVisit[] {
  const byKey = new Map(pages.flat().map((visit) => [visit.key, visit]));
  return [...byKey.values()].sort(byDays);
}

/** What differs between the list on the screen and a fresh one, by key; what only this screen did is given in `own`. */
export function changesBetween(
  shown: readonly ListedVisit[],
  fresh: readonly ListedVisit[],
  own: ReadonlySet<string> = new Set(),
): { readonly gone: readonly string[]; readonly added: readonly string[]; readonly changed: readonly string[] } {
  const before = new Map(shown.map((v) => [v.key, v]));
  const after = new Map(fresh.map((v) => [v.key, v]));
  const others = (keys: string[]) => keys.filter((key) => !own.has(key));
  return {
    gone: others([...before.keys()].filter((key) => !after.has(key))),
    added: others([...after.keys()].filter((key) => !before.has(key))),
    changed: others(
      [...after].flatMap(([key, { entry }]) => {
        const old = before.get(key);
        return old && old.entry.version !== entry.version ? [key] : [];
      }),
    ),
  };
}
/** One sentence for all of it; undefined when nothing changed. */
export function changeWords({ gone, added, changed }: ReturnType<typeof changesBetween>): string | undefined {
  const parts = [
    ...(gone.length ? [`${count(gone.length, "visit")} no longer to arrange`] : []),
    ...(added.length ? [`${count(added.length, "new visit")}`] : []),
    ...(changed.length ? [`${count(changed.length, "visit")} changed`] : []),
  ];
  return parts.length ? `The list was brought up to date: ${parts.join(", ")}.` : undefined;
}

/** "09:15 to 09:30" of the clinic's clock. */
export function timeWords({ at, start, end }: Pick<BookedVisit, "at" | "start" | "end">): string {
  if (!end) return at.slice(11);
  const minutes = (Date.parse(end) - Date.parse(start)) / 60_000 + Number(at.slice(11, 13)) * 60 + Number(at.slice(14));
  const two = (n: number) => String(n).padStart(2, "0");
  return `${at.slice(11)} to ${two(Math.floor(minutes / 60) % 24)}:${two(minutes % 60)}`;
}
/** Booked visits by day, in the order of their time. */
export function byDay(visits: readonly BookedVisit[]): [day: Day, visits: BookedVisit[]][] {
  const days = new Map<Day, BookedVisit[]>();
  for (const visit of visits) {
    const day = visit.at.slice(0, 10);
    days.set(day, [...(days.get(day) ?? []), visit]);
  }
  return [...days].sort(([a], [b]) => a.localeCompare(b));
}
