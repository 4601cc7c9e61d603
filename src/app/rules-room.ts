/** What the screens take from the rules; one chunk that arrives after the questions are on the screen. */
export { assessCase, MODULES, makingReady, preparing, readSitePolicy } from "../pathway/index.ts";
export { AssessmentSoFar } from "./tasks/confirm-findings/assessment-so-far.tsx";
