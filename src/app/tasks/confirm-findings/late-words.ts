/** What is said of values from the chart; not needed before the chart is there. */
export const words = {
  chartSays: "Chart says",
  chartDisagrees: "The chart holds more than one answer, none is suggested:",
  recordsDisagree: "There is more than one answer, none is suggested:",
  confirmedFrom: "Agrees with the chart:",
  asIn: "As in",
  earlier: "Earlier finding",
  examineAgain: "Examine again.",
  theseAreRight: "These are right",
  theseAreRightLead: {
    chart: "The chart says:",
    draft: "Your saved draft says:",
    signed: "The saved plan says:",
    other: (draft: string) => `${draft}, says:`,
    several: "On record:",
  },
  digitsNamed: (n: number) => `The chart names ${n === 2 ? "two" : n} digits:`,
  digitsAlso: "The chart also names:",
  digitsWhich: "Which are injured?",
  digitsAll: (n: number) => (n === 2 ? "Both are injured" : `All ${n} are injured`),
  digitsOnly: (digit: string) => `Only the ${digit}`,
  digitsAdd: (digit: string) => `Add the ${digit}`,
} as const;
