import { useEffect, useId, useMemo, useState } from "react";
import type { EarlierPlan } from "../../../fhir/chart.ts";
import { clinicTold, mayBeTold, messagesAbout, type ToldVisit } from "../../../fhir/clinic-told.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { Session } from "../../../smart/session.ts";
import { sayDay } from "../../say-date.ts";

const words = {
  heading: "What the clinic tells you",
  outside: (when: string, days: string) => `booked for ${when}, outside the days of the plan${days}`,
  missed: (when: string) => `the patient did not come${when}, and the days of the plan are over`,
  days: (from: string, to: string) => ` (${from} to ${to})`,
  why: "Why",
  by: (who: string, when: string) => `Told by ${who}${when}`,
  nobody: "somebody not named",
  silent: "The record holds no message about it.",
  unread: "Who booked it, and when, could not be read.",
  reading: "Who booked it is being read.",
} as const;

interface ClinicToldProps {
  readonly plans: readonly EarlierPlan[];
  /** Without it only what the visits themselves say is shown. */
  readonly session?: Pick<Session, "context" | "fhir" | "can">;
}
/** Visits that the clinic arranged outside the days of a plan, and missed ones whose days are over: why, told by whom, and when. */
export default function ClinicTold({ plans, session }: ClinicToldProps) {
  const id = useId();
  const [messages, setMessages] = useState<readonly unknown[] | "unread">();
  const asks = useMemo(() => mayBeTold(plans), [plans]);
  useEffect(() => {
    if (!session || !asks) return;
    if (!session.can("Communication", "s")) return setMessages("unread");
    let wanted = true;
    const { query, limit } = messagesAbout(session.context.patientId);
    void session.fhir.search(query, { limit }).then((answer) => {
      if (wanted) setMessages(answer.ok ? answer.value.matches : "unread");
    });
    return () => {
      wanted = false;
    };
  }, [session, asks]);
  const told = useMemo(() => clinicTold(plans, Array.isArray(messages) ? messages : []), [plans, messages]);
  if (told.length === 0) return null;
  return (
    <section className="notice clinic-told" aria-labelledby={id}>
      <h2 id={id}>{words.heading}</h2>
      <ul>
        {told.map((visit) => (
          <li key={visit.reference}>
            <b>{plainText(visit.words, 200)}</b>: {whatOf(visit)}.
            {visit.because !== undefined && (
              <>
                {" "}
                {words.why}: <bdi>{plainText(visit.because, 300)}</bdi>
              </>
            )}
            {session && <span className="hint">{byOf(visit, messages)}</span>}
          </li>
        ))}
      </ul>
    </section>
  );
}
function whatOf({ what, start, earliest, latest }: ToldVisit): string {
  if (what === "missed") return words.missed(start ? `, ${sayDay(start)}` : "");
  const days = earliest && latest ? words.days(sayDay(earliest.slice(0, 10)), sayDay(latest.slice(0, 10))) : "";
  return words.outside(sayDay(start), days);
}
function byOf({ by, on }: ToldVisit, messages: readonly unknown[] | "unread" | undefined): string {
  if (messages === undefined) return words.reading;
  if (messages === "unread") return words.unread;
  if (by === undefined && on === undefined) return words.silent;
  return `${words.by(plainText(by ?? words.nobody, 80), on ? `, ${sayDay(on)}` : "")}.`;
}
