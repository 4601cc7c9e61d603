import type { ChartChange } from "../../smart/chart-changed.ts";
import { PART_WORDS } from "../parts/chart-progress.ts";
import { list, upper } from "../words.ts";

const amount = (n: number, one: string) => `${n} ${one}${n === 1 ? "" : "s"}`;
/** A span of time in the largest unit that fits. */
const span = (ms: number): string => {
  const minutes = Math.round(Math.abs(ms) / 60_000);
  const hours = Math.round(minutes / 60);
  if (minutes < 90) return amount(minutes, "minute");
  return hours < 48 ? amount(hours, "hour") : amount(Math.round(hours / 24), "day");
};
const KEPT = "Your answers are kept in this tab.";

export const words = {
  news: {
    heading: "New since you read the chart",
    changed: "The chart changed since you read it.",
    changedWhat: "Nothing was sent and nothing was overwritten.",
    changedNext: "See what is new on this page, then read the chart again or say that you have seen it.",
    looking: "Checking whether the chart changed.",
    found: (n: number) => `The chart changed since you read it: ${n === 1 ? "1 entry" : `${n} entries`}.`,
    before: "Look at it before you sign. Nothing is overwritten.",
    kind: { new: "New", changed: "Changed", gone: "No longer in the chart", "not-read": "Not known" },
    say: (change: ChartChange) =>
      change.kind === "not-read"
        ? `${list(change.parts.map((part) => PART_WORDS[part].toLowerCase()))} could not be read again, so it is not known whether they changed.`
        : upper(change.words),
    readAgain: "Read the chart again",
    readAgainHint: "It comes into the findings, as a proposal where it answers a question. Your answers stay.",
    seen: "I have seen it",
    seenHint: "The plan stays as it is.",
    mustRead: "A saved plan or the details of the patient changed: read the chart again to see it.",
    obstacle: "The chart changed since you read it. See what is new first.",
    taken: "Taken over from the chart",
    bearsOnNothing: "None of your answers is put in question by it.",
    bearsOn: "It bears on what you have answered:",
    answered: (answer: string) => `You answered: ${answer}.`,
    answerAgain: "Answer it again",
    sameAdvice: "The advice is the same as before.",
    otherAdvice: "Advice that changed",
    came: "Now",
    went: "No longer",
  },
  idle: {
    warning: (seconds: number) =>
      `Nothing was entered for a while. This page will be covered in ${span(seconds * 1000)}, so that nobody else reads the chart here.`,
    stay: "Go on working",
    title: "This page was covered because nothing was entered for a while.",
    what: (kept: boolean) =>
      `The chart is no longer shown, and the sign-in was given up. ${kept ? "Your answers are kept in this tab, for you alone: they come back when you open the same chart here." : "Your answers could not be kept in this tab."}`,
    next: "Open Fingerpost from the patient's chart again.",
  },
  signIn: (seconds: number) =>
    `Your sign-in to the record system ends in ${span(seconds * 1000)} and cannot be renewed from here. Sign or save a draft now, or open Fingerpost from the chart again. ${KEPT}`,
  ended: KEPT,
  clock: (off: number, now: string) =>
    `The clock of this computer is ${span(off)} ${off > 0 ? "behind" : "ahead of"} the record system's. Days and times here go by the record system: it is ${now}. Have the clock set right.`,
  version:
    "A newer version of Fingerpost is installed. Reload this page before you sign: your answers stay, and the newer rules look at them again.",
  aside: {
    title: { "other-chart": "Another chart was opened.", "same-chart": "This chart was opened again elsewhere." },
    what: `This page can still be read. Nothing can be changed or written here. ${KEPT}`,
    goOn: "Go on with this chart here",
    replaced: "To go on, open Fingerpost from this chart again.",
    next: "Go on in the newer window, or choose to go on with this chart here.",
  },
  withheld: (n: number) => `What this sign-in does not allow (${n})`,
  back: (when: string) => `Your unfinished answers from ${when} are back. Check them before you go on.`,
  others:
    "Somebody else's unfinished answers for this patient lie in this tab. They stay locked: they come back only for that person, and go when the tab is closed.",
} as const;
