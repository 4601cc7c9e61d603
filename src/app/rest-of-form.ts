/** What the first questions do without: the other questions, other kinds of fields, and what is said of values from the chart. One chunk that arrives right after the first questions are there. */
export { ASKED } from "../pathway/all-asked.ts";
export { BonePicture } from "./parts/bone-picture.tsx";
export { ErrorSummary } from "./parts/error-summary.tsx";
export { NumberQuestion } from "./parts/number-question.tsx";
export { ValueNote } from "./parts/value-note.tsx";
export { ChartDigits } from "./tasks/confirm-findings/chart-digits.tsx";
export { DateInstead, DateOffer, InjuryDate } from "./tasks/confirm-findings/date-fields.tsx";
export { TheseAreRight } from "./tasks/confirm-findings/these-are-right.tsx";
