/** What all of the clinic's screens share: who is signed in, what day it is there, its schedules, and how an act is carried out. */
import { formatISO } from "date-fns";
import { useEffect, useRef, useState } from "react";
import type { ActAnswer, ActingStaff } from "../../../fhir/clinic-act.ts";
import type { ClinicSchedule } from "../../../fhir/slot.ts";
import type { WhyClosed } from "../../../scheduling/index.ts";
import { type ActReport, carryOut } from "../../../smart/booking.ts";
import type { ClinicDay } from "../../../smart/clinic-list.ts";
import type { ClinicSession } from "../../../smart/session.ts";
import { localTime } from "../../say-date.ts";
import { APP_VERSION } from "../../version.ts";

export interface Clinic {
  readonly session: ClinicSession;
  readonly day: ClinicDay;
  readonly schedules: readonly ClinicSchedule[];
  /** Why a schedule (its reference) is closed on a day. */
  readonly closed: WhyClosed;
}
/** The clinic's zone is the one of the computer that stands in it, unless the settings name another. */
export const zoneOf = (_session: ClinicSession): string => Intl.DateTimeFormat().resolvedOptions().timeZone;
export const dayOf = (session: ClinicSession): ClinicDay => ({
  today: localTime(session.clock.now()).slice(0, 10),
  zone: zoneOf(session),
});

/** Does one act with the time of the server and the name of this program. */
export const act = (
  { session }: Pick<Clinic, "session">,
  visits: Parameters<typeof carryOut>[1],
  make: (staff: ActingStaff) => ActAnswer,
): Promise<ActReport> =>
  carryOut(session, visits, make, { at: formatISO(session.clock.now()), appVersion: APP_VERSION });

/** Seconds between two looks at the server: somebody else's act is seen within 30. [ux: live list] */
const EVERY_SECONDS = 25;
/** Calls `look` again and again while the page is seen, never two at once; and at once when it comes back into sight. */
export function useLive(look: () => Promise<void>, paused: boolean): void {
  const latest = useRef(look);
  latest.current = look;
  useEffect(() => {
    if (paused) return;
    let running = false;
    const now = () => {
      if (running || document.visibilityState === "hidden") return;
      running = true;
      void latest.current().finally(() => {
        running = false;
      });
    };
    const timer = setInterval(now, EVERY_SECONDS * 1000);
    document.addEventListener("visibilitychange", now);
    return () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", now);
    };
  }, [paused]);
}

/** The answer to a question that is asked when `key` changes; what came too late for another question is dropped. */
export function useAsked<T>(
  key: string,
  ask: () => Promise<T>,
): { readonly value: T | undefined; readonly askAgain: () => void } {
  const [answer, setAnswer] = useState<{ readonly key: string; readonly value: T }>();
  const [turn, setTurn] = useState(0);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the key says what is asked
  useEffect(() => {
    let wanted = true;
    void ask().then((value) => wanted && setAnswer({ key, value }));
    return () => {
      wanted = false;
    };
  }, [key, turn]);
  return { value: answer?.key === key ? answer.value : undefined, askAgain: () => setTurn((n) => n + 1) };
}
