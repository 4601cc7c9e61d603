/** What the plugin has to fulfil when it launches, reads, writes and advises, numbered so that a test can name it. */
export interface Requirement {
  readonly says: string;
  /** What no test shows yet, and with which work it comes. */
  readonly missing?: string;
  /** Why it does not concern this program. */
  readonly notApplicable?: string;
}

const WORKLIST = "Comes with the clinic's worklist and booking.";
const PARTIAL_SERVERS = "Comes with writing to servers that support only part.";
const LIFE = "Comes with the life of a signed plan: revise, supersede, withdraw.";
const FAULTS = "Comes with the matrix of faults over every request.";

/**
 * Sources: L SMART App Launch 2.2; S its scopes; R, D, X, I, P, W HL7 FHIR R4 and Argonaut Scheduling; SEC RFC 9700, OWASP
 * ASVS 5.0, CSP level 3; REL and INV failures of servers and networks; SAF the implementer's safety checklist of FHIR R4,
 * WCAG 2.2 and studies of automation bias (Goddard et al. 2012, Lyell et al. 2017).
 */
export const REQUIREMENTS: Readonly<Record<string, Requirement>> = {
  L1: { says: "Only a configured issuer is launched; any other is named and nothing is sent to it." },
  L2: { says: "The authorization request carries code flow, client, redirect, launch, scope, state, aud and S256." },
  L3: { says: "State is fresh per launch, has 122 random bits or more, and is compared in the window that began." },
  L4: { says: "PKCE with S256 always; a server that does not offer it is refused." },
  L5: { says: "Addresses come from the server's SMART configuration and must be absolute." },
  L6: { says: "Launch values, code and state leave the address bar; Back does not launch again." },
  L7: { says: "Denied, failed, missing and lost sign-ins each have their own words and a way back." },
  L8: {
    says: "The patient is shown with name, birth date and identifier before anything else; the banner is never left out.",
    missing: "A launch without the record system's own banner is not compared with one that has it.",
  },
  L9: { says: "Without a patient in the answer to the sign-in nothing opens." },
  L10: {
    says: "Films and reports that the launch points at are offered first.",
    missing: "The launch's fhirContext is kept but not used yet.",
  },
  L11: { says: "The verified user is the signer; without one nobody can sign." },
  L12: { says: "A second launch in the same window never mixes with the first one's session or draft." },
  L13: { says: "The access token is in no address, cookie, local storage, log or foreign request." },
  L14: { says: "A token that runs out during work costs no answers and sends nothing twice." },

  S1: { says: "Scopes are asked per resource and letter: no wildcard, no delete." },
  S2: { says: "EHR launch and standalone launch each ask with their own scope string." },
  S3: { says: "A server with the older scope syntax only is spoken to in it." },
  S4: { says: "Each scope that is withheld switches off its function, with a reason, before signing." },
  S5: { says: "No offline access is asked for, and no refresh token where the clinic wants none." },
  S6: { says: "Each entry of a transaction is covered by a scope." },

  R1: { says: "Pages are followed to the end or to a stated limit; loops and foreign hosts end it; a cut is said." },
  R2: { says: "Included resources and remarks of the server are told apart from matches." },
  R3: { says: "A server that ignores search parameters misleads nobody: answers are filtered again here." },
  R4: { says: "Refused, unsupported, failed, empty and unread parts are different states, none of them 'none known'." },
  R5: { says: "Entries marked as entered in error feed no rule and are counted." },
  R6: { says: "Refuted diagnoses do not count as present; unconfirmed ones are marked." },
  R7: { says: "A resource with a modifier that nobody here knows is not interpreted." },
  R8: { says: "A value that is marked as absent is asked for, with the reason, never filled in." },
  R9: { says: "Partial dates stay partial, and an age is then a range." },
  R10: { says: "Reports that are not final are marked and not used." },
  R11: {
    says: "References render in every form: relative, absolute, contained, by identifier, by words, broken.",
    missing: "Only relative and absolute references are tested; the other forms come with the fuzzed charts.",
  },
  R12: { says: "One failing request does not blank the page, and can be tried again alone." },
  R13: { says: "A chart of thousands of entries opens without being read whole." },
  R14: { says: "Everything that was used is recorded with its version." },
  R15: { says: "Codes count by system and code; words alone answer no question." },

  D1: { says: "Nothing is written before an explicit act over a list in which each item can be left out." },
  D2: { says: "What the rules propose becomes an order by a person's act only." },
  D3: {
    says: "A stored draft has no effect and stands on nobody's worklist.",
    missing: `That a worklist leaves drafts out is not shown. ${WORKLIST}`,
  },
  D4: { says: "An order is dated when it was signed." },
  D5: { says: "The signer is who asks, never the program." },
  D6: { says: "What a plan lists does not point back to it." },
  D7: { says: "An activity has a reference or a detail, and the plan addresses its diagnosis." },
  D8: { says: "Provenance names signer, program, sources and rule version." },
  D9: {
    says: "Provenance is stored with its targets, or right after them.",
    missing: `Tested in one transaction. ${PARTIAL_SERVERS}`,
  },
  D10: { says: "A click is no cryptographic signature and is not stored as one." },
  D11: { says: "Each resource says in its narrative whether it is a draft, in escaped text." },
  D12: { says: "Everything that is written is valid R4, by two independent validators." },
  D13: { says: "Plan and orders name the pathway and its version." },
  D14: { says: "A decision of the clinician's own keeps the rule's proposal and the reason." },

  X1: { says: "A second run finds the earlier output, shows the difference and leaves the rest alone.", missing: LIFE },
  X2: { says: "A changed plan replaces the old one in the same transaction.", missing: LIFE },
  X3: {
    says: "What may have been acted on is revoked; entered in error is for what should never have been.",
    missing: LIFE,
  },
  X4: { says: "A booked visit is never changed from here, only flagged.", missing: LIFE },
  X5: { says: "Orders of one sign-off share their requisition." },

  I1: { says: "Each resource has a stable identifier and is created only if that does not exist." },
  I2: { says: "Double clicks, retries, reloads and second windows make no duplicate." },
  I3: { says: "What is already there under our identifier is compared with what was meant." },
  I4: { says: "An update keeps what it does not know and goes over the version that was read." },
  I5: { says: "409 and 412 both mean conflict: nothing is overwritten, nothing merged." },
  I6: { says: "The version that was read goes out again as a weak ETag, also where the server sent none." },
  I7: { says: "What was written is read back and compared." },
  I8: { says: "In a transaction the version that was read goes with the entry." },

  P1: { says: "What the server claims to support is read, and not relied upon.", missing: PARTIAL_SERVERS },
  P2: {
    says: "Before signing the clinician sees what will be filed, what will not, and what happens instead.",
    missing: `Shown by granted scopes only. ${PARTIAL_SERVERS}`,
  },
  P3: { says: "One transaction where it is supported: all or nothing." },
  P4: {
    says: "Without transactions, single writes in safe order with a journal and a way back.",
    missing: PARTIAL_SERVERS,
  },
  P5: { says: "A batch is no substitute for a transaction.", notApplicable: "The plugin sends no batch." },
  P6: { says: "What cannot be filed goes as a document, else as a download and text.", missing: PARTIAL_SERVERS },
  P7: { says: "Every way of filing names author and time.", missing: PARTIAL_SERVERS },
  P8: { says: "An answer without a body is completed by reading what was stored." },

  W1: { says: "Staff see what is to be booked, overdue first.", missing: WORKLIST },
  W2: { says: "A slot is taken over the version that was read; a conflict means another slot.", missing: WORKLIST },
  W3: { says: "Booking outside the window needs a reason and is marked.", missing: WORKLIST },
  W4: { says: "Cancelling frees the slot; a visit that was missed returns to the list.", missing: WORKLIST },
  W5: { says: "Booking records the person who booked.", missing: WORKLIST },
  W6: { says: "A booked visit whose request was revoked is asked about.", missing: WORKLIST },
  W7: {
    says: "Times are instants with an offset; windows are counted in calendar days.",
    missing: `Windows only. ${WORKLIST}`,
  },

  "SEC-01": { says: "An issuer that only looks like a configured one is refused, and receives nothing." },
  "SEC-02": { says: "A link cannot choose server, client, patient or visit." },
  "SEC-03": {
    says: "A launch that a foreign page starts does not harm a running one.",
    missing: "Two launches with a draft open are not played through in the browser yet.",
  },
  "SEC-04": { says: "Foreign, replayed, old or missing state and codes are refused; PKCE is never left out." },
  "SEC-05": { says: "The issuer that a callback names must be the one that was asked." },
  "SEC-06": { says: "State comes from the system's randomness." },
  "SEC-07": { says: "Code and state are out of the address bar before anything else happens." },
  "SEC-08": { says: "Tokens lie in one place only and end with the session." },
  "SEC-09": { says: "A refresh token is spent once, also by parallel reads and duplicated windows." },
  "SEC-10": { says: "The token goes to addresses under the launched base only." },
  "SEC-11": { says: "The least scopes are asked for; what is granted decides what is offered." },
  "SEC-12": { says: "Who signs is proven by a verified id_token of a clinician." },
  "SEC-13": { says: "No plain http, except on this computer." },
  "SEC-14": {
    says: "Markup and script in chart text stay text.",
    missing: "A list of payloads over every field of a chart comes with the fuzzed charts.",
  },
  "SEC-15": { says: "The page runs under a strict content policy with Trusted Types." },
  "SEC-16": { says: "Only known record systems may frame the page, and nobody signs in an unknown frame." },
  "SEC-17": {
    says: "Messages from other windows change nothing.",
    missing: "No code listens to messages; a forged one is not sent in a test yet.",
  },
  "SEC-18": {
    says: "Only https links are offered, and no attachment is opened in the page.",
    missing: "Links of the sources are tested; addresses in a chart come with the fuzzed charts.",
  },
  "SEC-19": {
    says: "Answers that are too large, too deep or carry prototype keys are refused.",
    missing: "Depth comes with the fuzzed charts.",
  },
  "SEC-20": { says: "Ids are checked, and addresses are built from checked parts." },
  "SEC-21": { says: "Text that hides or turns itself round is shown without that; long text is cut with a sign." },
  "SEC-22": { says: "Exported cells cannot become formulas.", notApplicable: "No table is exported." },
  "SEC-23": { says: "No patient data in addresses, history, title, console, storage or error objects." },
  "SEC-24": {
    says: "What a browser-only client cannot protect is said, and its transport can be replaced.",
    missing: "Comes with the hosting and security notes.",
  },
  "SEC-25": { says: "An unattended screen is locked and keeps the draft.", missing: "Comes with the idle lock." },
  "SEC-26": {
    says: "Dependencies are an approved set, checked offline.",
    missing: "Comes with the supply-chain gate.",
  },
  "SEC-27": { says: "The practice EHR serves this computer only and refuses production." },
  "SEC-28": { says: "Error texts hold no chart data, stack or address." },

  "REL-01": { says: "A server description that is missing, late or wrong stops plainly, without a redirect." },
  "REL-02": { says: "A declined sign-in is told plainly and leaves nothing behind." },
  "REL-03": { says: "A code is exchanged once, whatever React, reload or Back do." },
  "REL-04": { says: "A failed exchange ends with a way on, not with a loop." },
  "REL-05": { says: "A sign-in without a readable patient stops before any chart is shown." },
  "REL-06": { says: "Odd types in the answer to the sign-in are coerced or refused." },
  "REL-07": { says: "Blocked storage leads to a window of its own, not to a white page." },
  "REL-08": { says: "A page of an earlier launch does not resume a later one." },
  "REL-09": {
    says: "A wrong clock ends no session and moves no due day.",
    missing: "The session is tested; due days by the server's date are not.",
  },
  "REL-10": { says: "A part that cannot be read counts as unknown, and the others go on." },
  "REL-11": { says: "A refused token is renewed once and the read repeated once." },
  "REL-12": { says: "Retry-After is honoured in both forms, with a limit." },
  "REL-13": {
    says: "Remarks, odd totals and ignored parameters in a result are noticed.",
    missing: "A total that does not fit its entries is not tested.",
  },
  "REL-14": { says: "Broken paging ends, and what is missing is said." },
  "REL-15": {
    says: "A huge chart stays usable.",
    missing: "Time and memory are measured by the benchmark, not by a test.",
  },
  "REL-16": {
    says: "Malformed answers are counted and named, and the rest is used.",
    missing: "Generated charts and answers come with the fuzz.",
  },
  "REL-17": { says: "Entries in error, refuted, inactive or with unknown modifiers stay out of the rules." },
  "REL-18": { says: "Another patient's entry is dropped, counted and blocks signing." },
  "REL-19": {
    says: "Names of any form are shown.",
    missing: "Very long names, direction marks and lone surrogates come with the fuzz.",
  },
  "REL-20": { says: "Without a plausible birth date the age is asked for, never assumed." },
  "REL-21": { says: "A deceased patient can be read about, and nothing is written." },
  "REL-22": { says: "A merged or inactive record stops all writing." },
  "REL-23": { says: "Sides or fingers that disagree are shown side by side, and neither is chosen." },
  "REL-24": {
    says: "A chart that changed since it was read is shown as a difference before signing.",
    missing: "Comes with the check of the chart before signing.",
  },
  "REL-25": { says: "Every fault at every step of writing keeps the invariants.", missing: FAULTS },
  "REL-26": { says: "A fault after the server has stored the plan ends in one plan, found and called saved." },
  "REL-27": { says: "Signing twice at once makes one plan." },
  "REL-28": {
    says: "Two clinicians who sign the same injury at once are both told.",
    missing: `That they write the same episode is tested; the race is not. ${FAULTS}`,
  },
  "REL-29": { says: "A window that is closed in mid-write can be taken up again.", missing: FAULTS },
  "REL-30": { says: "A version conflict is shown and overwrites nothing." },
  "REL-31": { says: "A refusal is told in its own words and keeps the draft." },
  "REL-32": {
    says: "A batch or transaction is read entry by entry, never by its status alone.",
    missing: "Entries out of order or missing come with the matrix of faults.",
  },
  "REL-33": {
    says: "A type that cannot be written is known before signing, and told after.",
    missing: PARTIAL_SERVERS,
  },
  "REL-34": {
    says: "Writing is not begun with a sign-in about to end, and goes on under the same plan after a new one.",
    missing: FAULTS,
  },
  "REL-35": { says: "An answer without body, place or version is still a stored resource, found by its identifier." },
  "REL-36": { says: "A server that alters or drops what it is given is never called saved." },
  "REL-37": { says: "A search that lags does not lead to a second sending." },
  "REL-38": { says: "A signed plan can be withdrawn, with a reason, without deleting.", missing: LIFE },
  "REL-39": { says: "A patient who is not the one of the launch stops the writing." },
  "REL-40": { says: "Offline at the moment of signing nothing is sent and nothing lost." },
  "REL-41": { says: "Days are right over clock changes, leap days and ends of months, in every zone." },
  "REL-42": { says: "The three known date traps are banned from the source." },
  "REL-43": { says: "Of two who book the same slot the second is told.", missing: WORKLIST },
  "REL-44": { says: "A plan that changed is noticed when its visit is booked.", missing: WORKLIST },
  "REL-45": { says: "A visit that nobody arranged cannot leave the list.", missing: WORKLIST },
  "REL-46": { says: "A list that is not complete says so.", missing: WORKLIST },
  "REL-47": { says: "A time without a zone is not given one.", missing: WORKLIST },

  "INV-1": { says: "Nothing is lost: each signed item is stored once or told with a way on." },
  "INV-2": { says: "Nothing is doubled." },
  "INV-3": { says: "Nothing of another patient is shown, used or written." },
  "INV-4": { says: "No false word: saved only after reading back, not saved only when it is not there." },
  "INV-5": { says: "No half plan is ready to be booked.", missing: PARTIAL_SERVERS },
  "INV-6": { says: "After a failure the clinician sees what is saved, what is not, and one next step." },

  "SAF-01": { says: "No answer counts before the clinician has acted on it." },
  "SAF-02": {
    says: "What only an examination can tell is never suggested.",
    missing:
      "Finger, side and day may be proposed from the chart, with their source, and are taken over by one press of their own.",
  },
  "SAF-03": {
    says: "The patient's name, birth date, sex and identifier are on every screen and where one signs.",
    missing: "That all four stand there at every size is not tested; that the banner does is.",
  },
  "SAF-04": {
    says: "Nothing is written without a person's act of signing just before.",
    missing: "Random events on every screen come with the fuzz.",
  },
  "SAF-05": { says: "Before signing one sentence repeats patient, finger, side, diagnosis, urgency and first day." },
  "SAF-06": { says: "Each recommendation opens to the findings that matter, its rule, its source and its strength." },
  "SAF-07": {
    says: "Where sources disagree or are weak the text says so and shows the other way.",
    missing: "That every weak rule carries an alternative is not checked over all rules.",
  },
  "SAF-08": { says: "What is missing never makes a case less urgent: it is named as needed." },
  "SAF-09": {
    says: "Advice comes after the clinician's own findings.",
    missing: "The order is tested for urgency only, not for the whole of the advice.",
  },
  "SAF-10": { says: "The clinician may decide otherwise, with a reason that is kept." },
  "SAF-11": {
    says: "At most one interrupting message a case.",
    missing: "Shown for one case; the count over all invented cases is not.",
  },
  "SAF-12": {
    says: "Versions are visible, and a draft of another version is looked at again.",
    missing: `The version is shown and written; looking again is not there. ${LIFE}`,
  },
  "SAF-13": { says: "Each stored resource carries plan, program and knowledge version." },
  "SAF-14": { says: "What was confirmed, and what the chart or a draft had said, are told apart in writing." },
  "SAF-15": { says: "No violation of WCAG 2.2 AA on any screen." },
  "SAF-16": { says: "The whole way can be gone by keyboard." },
  "SAF-17": { says: "Errors are named at the field and in a summary, and the focus goes there." },
  "SAF-18": { says: "Nothing is said by colour alone; narrow, enlarged and high-contrast screens lose nothing." },
  "SAF-19": { says: "Days have weekday and month name; numbers have units." },
  "SAF-20": {
    says: "The plan is always there as plain text, with version and time.",
    missing: "Version and time in the text are not tested.",
  },
};
