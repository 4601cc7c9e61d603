import type { DraftItem } from "../../../fhir/drafts.ts";

export const KIND_WORDS: { readonly [K in DraftItem["kind"]]: string } = {
  condition: "Diagnosis",
  findings: "Findings",
  request: "Request",
  visit: "Visit",
  plan: "Plan",
  provenance: "Who did it",
};
const things = (n: number) => (n === 1 ? "1 item" : `${n} items`);
export const words = {
  heading: "What will be written",
  headingDone: "Written to the chart",
  intro: "Each item stands here as it will be stored. Nothing is written until you press a button below.",
  back: "Back to the plan",
  edit: "Change",
  apply: "Apply",
  changed: (label: string, from: string, to: string) => `${label} changed from ${from || "nothing"} to ${to}`,
  leaveOut: "Leave out",
  leaveOutWhy: "Why is it left out?",
  leftOut: "Left out",
  takeBack: "Put it back",
  reasonNeeded: "Give a reason.",
  cancel: "Cancel",
  showFhir: "Show FHIR",
  fhirAs: {
    sign: "As it will be sent when you sign. Nothing is signed yet.",
    draft: "As it will be sent when you save it as a draft. Nothing is signed.",
    item: "Not yet complete: the standing and the people are added when it is sent.",
  },
  signer: "Signs",
  signerReading: "Checking who signs.",
  draft: "Save as draft",
  cannotSign: "Signing is not possible",
  cannotSave: "These items cannot be written",
  confirmTitle: "Sign this plan?",
  confirmGo: (n: number) => `Sign and write ${things(n)} to the chart`,
  sentence: (s: {
    patient: string;
    born: string;
    digits: string;
    urgency: string;
    own: readonly string[];
    first: string;
    open: string;
    n: number;
  }) =>
    [
      `You sign for ${s.patient}${s.born ? `, born ${s.born}` : ""}: ${s.digits}.`,
      `Urgency: ${s.urgency}.`,
      ...s.own,
      s.first,
      ...(s.open ? [s.open] : []),
      `${things(s.n)} will be written.`,
    ].join(" "),
  /** What is signed although it is not known; empty when nothing is open. */
  stillOpen: (questions: number, undecided: readonly string[]) =>
    [
      ...(questions > 0 ? [`${questions} ${questions === 1 ? "question is" : "questions are"} still open.`] : []),
      ...undecided.map((u) => `${u}.`),
    ].join(" "),
  firstVisit: (what: string, day: string) => `First visit: ${what}, due ${day}.`,
  noVisit: "No visit is planned.",
  changedSince: "Answers changed since this page was opened. Read the items again.",
  steps: {
    checking: "Checking what is already stored.",
    sending: "Writing to the chart.",
    looking: "The answer was lost. Looking whether it was stored.",
    confirming: "Reading back what was stored.",
  },
  saved: { draft: "Saved as draft", sign: "Signed and saved" },
  savedHint: "Each item was read back from the chart and is the same as what was sent.",
  savedWithoutRecord:
    "Each item of the plan was read back and is the same as what was sent. The record of who did what could not be read back.",
  notSaved: { draft: "The draft was not saved", sign: "Nothing was signed: the plan was not saved" },
  unknown: "Not certain what was saved",
  outcome: { saved: "saved", "not-saved": "not saved", unknown: "not known yet" },
  differs: "The record system changed",
  retry: "Try again",
  checkAgain: "Check again",
  serverSaid: "The record system said",
  takeAlong: "Take it along instead",
  asText: "The plan as text",
  asBundle: {
    draft: "The items as one FHIR Bundle, as a draft: nothing in it is signed",
    sign: "The items as one FHIR Bundle, as signed",
  },
  download: "Download the bundle",
  downloadHint: "If nothing happens, the record system's frame blocks downloads. Copy the text instead.",
  leaveOutReasons: ["Already arranged", "Not available here", "Not wanted by the patient", "Other"],
  needsName: "The finger and its side are not both recorded.",
  needsDecision:
    "The assessment cannot decide yet. Answer the open red flags and class questions first; a draft can be saved.",
  needsPatient: "The patient could not be read from the chart.",
  needsScope: "This launch does not allow writing plans. Ask for the permission, or copy the text below.",
  needsItems: "All items are left out.",
  unknownFrame: "The page is shown in a frame of an unknown system. Open it from your record system.",
  nextSteps: "The plan is in the chart. You can close this page or go back to the chart.",
} as const;
