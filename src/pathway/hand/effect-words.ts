import type { ManagementCall, VisitPurpose } from "./effects.ts";

/** The one name of each kind of visit: on screens, in drafts, requests, appointments, reports and the book. */
export const PURPOSE_WORDS: { readonly [P in VisitPurpose]: string } = {
  "wound-check": "Wound check",
  film: "Check film",
  "film-true-lateral": "True lateral film",
  "stitches-out": "Stitches out",
  "wire-out": "Wire out",
  "splint-review": "Splint review",
  therapy: "Hand therapy",
  clinic: "Clinic review",
  "physis-film": "Growth plate film",
  "discharge-check": "Last check",
  "surgeon-review": "Hand surgeon review",
};
/** The one name of each way of treatment. */
export const CALL_WORDS: { readonly [C in ManagementCall]: string } = {
  "non-operative": "Treat without operation",
  "must-refer": "Refer to hand surgery",
  discuss: "Discuss with hand surgery",
  operative: "Operation",
  options: "More than one way is open",
};
