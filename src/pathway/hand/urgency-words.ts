import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { Urgency } from "./effects.ts";
import { HAND_POLICY } from "./policy.ts";

export interface UrgencyWords {
  readonly title: string;
  /** Who does what by when, one sentence. */
  readonly means: string;
}
/** What the line that decides an urgency says of who acts: its own sentence, or the service it sends to. */
export interface LeadingLine {
  readonly sendTo?: string;
  readonly means?: string;
}
const WEEK = 7;
const inDays = (days: number) => (days === WEEK ? "one week" : `${days} days`);
/** Hand surgery, hand surgeon, hand clinic; an urgency line without a service means them too. */
const isHand = ({ sendTo, means }: LeadingLine) =>
  means === undefined && (sendTo === undefined || /^hand (surg|clinic)/.test(sendTo));

/**
 * Which of the lines of the most urgent level speaks for all: another team that comes first (life before the finger tip),
 * then the hand surgeon, then a line with a sentence of its own, then any other service.
 */
export function leadingOf(lines: readonly LeadingLine[]): LeadingLine | undefined {
  return (
    lines.find((l) => l.sendTo === PATIENTS_TEAM) ?? lines.find(isHand) ?? lines.find((l) => l.means) ?? lines.at(0)
  );
}
/** Serious illness or other injuries: this team acts before any hand service. */
export const PATIENTS_TEAM = "team treating the patient";

/** An urgency in words, with the windows that this site has set. @param leading the line that decides it; absent: hand surgery */
export function urgencyWords(urgency: Urgency, policy: SitePolicy, leading: LeadingLine = {}): UrgencyWords {
  const p = policyOf(HAND_POLICY, policy);
  const clinic = inDays(p["hand.clinicWithinDays"]);
  const [first, last] = [p["hand.routineFromDays"], p["hand.routineToDays"]];
  const routine = first === WEEK && last === 2 * WEEK ? "one to two weeks" : `${first} to ${last} days`;
  const days = p["hand.nextDayWithinDays"];
  const nextDay = days === 1 ? "next working day" : `next ${days} working days`;
  const service = isHand(leading) || leading.sendTo === undefined ? undefined : leading.sendTo;
  const words = (title: string, means: string): UrgencyWords => ({ title, means: leading.means ?? means });
  switch (urgency) {
    case "NOW":
      if (service === PATIENTS_TEAM)
        return words(
          "Now",
          "The team treating the patient acts now. The patient does not leave; the finger comes after.",
        );
      return words("Now", `Phone the ${service ?? "hand surgeon"}. The patient does not leave.`);
    case "D0":
      return words("Same day", `The ${service ?? "hand surgery team"} sees or takes over the patient today.`);
    case "D1":
      return words(
        `N${nextDay.slice(1)}`,
        `The ${service ?? "hand surgery team"} hears of it now and sees the patient on the ${nextDay}.`,
      );
    case "W1":
      return words(`Within ${clinic}`, `To be seen${by(service)} within ${clinic}, as planned.`);
    case "R2":
      return words(`Within ${routine}`, `To be seen${by(service)} within ${routine}, as planned.`);
    case "none":
      return words("No referral", "No referral to hand surgery. Follow the visits below.");
  }
}
const by = (service: string | undefined) => (service ? ` by the ${service}` : "");
