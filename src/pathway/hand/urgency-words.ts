import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { Urgency } from "./effects.ts";
import { HAND_POLICY } from "./policy.ts";

export interface UrgencyWords {
  readonly title: string;
  /** Who does what by when, one sentence. */
  readonly means: string;
}
const WEEK = 7;
const inDays = (days: number) => (days === WEEK ? "one week" : days === 2 * WEEK ? "two weeks" : `${days} days`);

/** An urgency in words, with the windows that this site has set. */
export function urgencyWords(urgency: Urgency, policy: SitePolicy): UrgencyWords {
  const p = policyOf(HAND_POLICY, policy);
  const clinic = inDays(p["hand.clinicWithinDays"]);
  const [first, last] = [p["hand.routineFromDays"], p["hand.routineToDays"]];
  const routine = first === WEEK && last === 2 * WEEK ? "one to two weeks" : `${first} to ${last} days`;
  const days = p["hand.nextDayWithinDays"];
  const nextDay = days === 1 ? "next working day" : `next ${days} working days`;
  switch (urgency) {
    case "NOW":
      return { title: "Now", means: "Phone the hand surgeon. The patient does not leave." };
    case "D0":
      return { title: "Same day", means: "The hand surgery team sees or takes over the patient today." };
    case "D1":
      return {
        title: `N${nextDay.slice(1)}`,
        means: `The hand surgery team hears of it now and sees the patient on the ${nextDay}.`,
      };
    case "W1":
      return { title: `Within ${clinic}`, means: `To be seen within ${clinic}, as planned.` };
    case "R2":
      return { title: `Within ${routine}`, means: `To be seen within ${routine}, as planned.` };
    case "none":
      return { title: "No referral", means: "No referral to hand surgery. Follow the visits below." };
  }
}
