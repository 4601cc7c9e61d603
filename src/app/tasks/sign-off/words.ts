import type { DraftItem } from "../../../fhir/drafts.ts";

export const KIND_WORDS: { readonly [K in DraftItem["kind"]]: string } = {
  condition: "Diagnosis",
  findings: "Findings",
  request: "Request",
  visit: "Visit",
  plan: "Plan",
  document: "Document",
  provenance: "Who did it",
};
const things = (n: number) => (n === 1 ? "1 item" : `${n} items`);
export const words = {
  heading: "What will be written",
  headingNothing: "The plan, to take along",
  introNothing: "Nothing of it can be written here. Each item stands below as it would be stored.",
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
    document: "It is not sent by itself: it is attached to the document.",
    "by-hand": "It is not sent: the record system does not take it.",
  },
  signer: "Signs",
  notVerified: "somebody whose sign-in could not be verified",
  signerReading: "Checking who signs.",
  draft: "Save as draft",
  cannotSign: "Signing is not possible",
  olderProgram: "A newer version of Fingerpost is installed: reload this page, or say that you sign with this one.",
  olderAnyway: "Sign with this version all the same. It is kept with your signature.",
  cannotSave: "These items cannot be written",
  confirmTitle: "Sign this plan?",
  confirmGo: (n: number) => `Sign and write ${things(n)} to the chart`,
  sentence: (s: {
    patient: string;
    born: string;
    sex: string;
    /** One identifier, with what it is called. */
    number: string;
    digits: string;
    urgency: string;
    own: readonly string[];
    first: string;
    open: string;
    n: number;
    notFiled: number;
  }) =>
    [
      `You sign for ${[s.patient, s.born && `born ${s.born}`, s.sex, s.number].filter(Boolean).join(", ")}: ${s.digits}.`,
      `Urgency: ${s.urgency}.`,
      ...s.own,
      s.first,
      ...(s.open ? [s.open] : []),
      `${things(s.n)} will be written.`,
      ...(s.notFiled > 0
        ? [`${things(s.notFiled)} cannot be filed and ${s.notFiled === 1 ? "is" : "are"} left to you.`]
        : []),
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
  lanesReading: "Asking the record system what it takes.",
  lanesTitle: "What the record system takes",
  lane: {
    filed: "will be filed",
    order: "will be filed as an order",
    "in-document": "in the document",
    "by-hand": "to be entered by hand",
  },
  lanesCount: (filed: number, inDocument: number, byHand: number) =>
    [
      inDocument + byHand === 0 ? `All ${things(filed)} will be filed.` : `${things(filed)} will be filed.`,
      ...(inDocument > 0 ? [`${things(inDocument)} will stand in a document of the plan, which is filed too.`] : []),
      ...(byHand > 0
        ? [`${things(byHand)} cannot be filed and ${byHand === 1 ? "has" : "have"} to be entered by hand.`]
        : []),
    ].join(" "),
  seeLanes: "See what can be filed now",
  tryAll: "Try once more to file everything",
  byHandTitle: "To enter by hand: not filed",
  byHandHint: "The record system does not take this. The text names who wrote it and when.",
  byHandText: "Text for the note",
  downloadPage: "Download a page to print",
  notFiledTitle: "Not filed: nothing of this plan can be written here",
  notFiledWhat:
    "The record system takes no part of the plan from this launch. You can take the plan along: it is downloaded as a page to print and as a FHIR Bundle, and its text is copied for your note. It says of itself that it is not filed, by whom it was made and when.",
  takeGo: "Take the plan along",
  taken: "Taken along, not filed: downloaded, and the text is copied. Paste it into the note.",
  takenNotCopied: "Taken along, not filed: downloaded. The text could not be copied; select it below.",
  withdraw: "Withdraw what is stored",
  withdrawHint:
    "What is stored of this plan is marked as entered in error, revoked or cancelled, with your name, the time and the reason. Nothing is deleted.",
  withdrawWhy: "Why is it withdrawn?",
  withdrawReason: "The plan could not be finished.",
  withdrawGo: "Withdraw it",
  withdrawing: "Withdrawing",
  withdrawn: {
    withdrawn: "Withdrawn.",
    part: "Only part of it is withdrawn.",
    "not-withdrawn": "Nothing was withdrawn.",
  },
  isWithdrawn: {
    saved: "withdrawn",
    "as-draft": "left as it is",
    "not-saved": "left as it is",
    unknown: "not known yet",
  },
  unfinishedTitle: "Unfinished plan",
  unfinished: (when: string, saved: number, total: number | undefined) =>
    `An unfinished plan${when ? ` from ${when}` : ""}: ${
      total === undefined ? `${saved} ${saved === 1 ? "item is" : "items are"} stored` : `${saved} of ${total} saved`
    }.`,
  unfinishedHint: "An order counts only once the whole plan is in the record.",
  unfinishedItems: "What is stored of it",
  signedItem: "signed",
  goOn: "Go on with it",
  signRest: (n: number) => `Sign the other ${things(n)} as they are stored`,
  bothInForce: "The earlier plan that it replaces is still in force: both would be followed.",
  endEarlier: (n: number) => `End the earlier plan (${n} ${n === 1 ? "entry" : "entries"})`,
  continueUnfinished: "Go on from its findings",
  part: { draft: "Only part of the draft is saved", sign: "Not signed yet: only part of the plan is stored" },
  saved: { draft: "Saved as draft", sign: "Signed and saved" },
  savedHint: "Each item was read back from the chart and is the same as what was sent.",
  savedWithoutRecord:
    "Each item of the plan was read back and is the same as what was sent. The record of who did what could not be read back.",
  notSaved: { draft: "The draft was not saved", sign: "Nothing was signed: the plan was not saved" },
  unknown: "Not certain what was saved",
  outcome: {
    saved: "saved",
    "as-draft": "stored as a draft, not signed",
    "not-saved": "not saved",
    unknown: "not known yet",
  },
  differs: "The record system changed",
  again: { saved: "", "not-saved": "Try again", part: "Write the rest", unknown: "Check again" },
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
  needsItems: "All items are left out.",
  unknownFrame: "The page is shown in a frame of an unknown system. Open it from your record system.",
  nextSteps: "The plan is in the chart. You can close this page or go back to the chart.",
} as const;
