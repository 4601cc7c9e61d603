import type { Level } from "./risk.ts";

/** By design: cannot happen as built. Protective: is noticed and stopped. Information: is said, the weakest of the three. */
export type ControlKind = "design" | "protective" | "information";
/** A test by its file and its title, without the requirement numbers in front of it. */
export interface ShownBy {
  readonly file: string;
  readonly title: string;
}
export interface Control {
  readonly kind: ControlKind;
  readonly does: string;
  readonly shownBy: readonly ShownBy[];
}
export interface Hazard {
  readonly id: string;
  readonly hazard: string;
  readonly causes: readonly string[];
  readonly harm: string;
  readonly severity: Level;
  /** Likelihood of the harm without, and with, the controls. */
  readonly before: Level;
  readonly after: Level;
  readonly controls: readonly Control[];
  /** Rules that carry the control, where rules do. */
  readonly rules?: readonly string[];
  /** What is not controlled yet, or not shown. */
  readonly left?: string;
}

const shown = (file: string, ...titles: readonly string[]): ShownBy[] =>
  titles.map((title) => ({ file: `tests/${file}`, title }));
const control =
  (kind: ControlKind) =>
  (does: string, ...shownBy: readonly (readonly ShownBy[])[]): Control => ({ kind, does, shownBy: shownBy.flat() });
const design = control("design");
const protective = control("protective");
const information = control("information");

const EXITS = "pathway/hand/exits.test.ts";
const GUARDS = "pathway/guards.test.ts";
const SEYMOUR = "pathway/distal-phalanx/seymour.test.ts";
const JERSEY = "pathway/distal-phalanx/jersey.test.ts";
const MALLET = "pathway/distal-phalanx/mallet.test.ts";
const FOLLOW_UP = "pathway/distal-phalanx/follow-up.test.ts";
const WOUND = "pathway/hand/wound.test.ts";
const DESK = "app/desk.test.tsx";
const DRAFTS = "fhir/drafts.test.ts";
const CHART = "fhir/chart.test.ts";
const WRITE = "smart/write-back.test.ts";
const SESSION = "smart/session.test.ts";
const SPACE = "proof/whole-space.test.ts";

/** Estimates by the authors, for a deploying organisation to review; nobody has measured them. */
export const HAZARDS: readonly Hazard[] = [
  {
    id: "H01",
    hazard: "A finger tip without blood supply is taken for an ordinary fracture.",
    causes: [
      "Refill was not looked at, or could not be judged.",
      "A poor tip was not looked at again after realigning.",
    ],
    harm: "The tip dies.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "A poor tip leaves the ordinary pathway, whatever else is known or not.",
        shown(EXITS, "a tip that is poor and stays poor leaves the ordinary pathway whatever else is known or not"),
        shown(GUARDS, "G3: a dusky tip not yet looked at again is not an ordinary finger either"),
      ),
      design(
        "A tip that nobody can judge leaves no treatment of an ordinary fracture standing as sure.",
        shown(
          "pathway/hand/with-a-bone.test.ts",
          "leaves no treatment of an ordinary fracture standing as sure: each line waits for the red flags to be cleared",
        ),
      ),
    ],
    rules: ["EX1", "EX1b", "EM3"],
  },
  {
    id: "H02",
    hazard: "A child's open growth-plate injury under the nail fold is treated as a crushed tip or a drooping finger.",
    causes: ["The nail lies over its fold and looks whole.", "No true lateral film.", "The age is not known."],
    harm: "Deep infection, growth arrest, a finger that stays short or bent.",
    severity: 4,
    before: 4,
    after: 1,
    controls: [
      design(
        "An open growth plate with the nail over its fold is never called a tuft fracture or a mallet.",
        shown(
          GUARDS,
          "G1: a child with an open growth plate and the nail over its fold is not called a tuft fracture or a mallet",
        ),
        shown(
          "pathway/distal-phalanx/classes.test.ts",
          "the tip droops at rest: a Seymour fracture although nobody could test it",
        ),
      ),
      protective(
        "A view from the front alone is not enough: the true lateral is asked for, and a surgeon looks the same day.",
        shown(SEYMOUR, "nail over the fold on a view from the front only: stop and take the true lateral"),
      ),
      design(
        "An antibiotic is decided for whenever the growth plate is open to the outside.",
        shown("pathway/hand/antibiotics.test.ts", "an open growth-plate fracture, whatever else is known or not"),
      ),
    ],
  },
  {
    id: "H03",
    hazard: "A torn deep flexor tendon is missed or put off.",
    causes: ["The film is normal.", "Bending was not tested for pain.", "The injury is called a sprain."],
    harm: "The tendon retracts and cannot be put back; the tip never bends again.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design("A lost deep flexor is never routine.", shown(GUARDS, "G2: a lost deep flexor is never routine")),
      design(
        "A flexor nobody tested after a grip pulled open counts as torn until it is tested again.",
        shown(
          JERSEY,
          "untested after a grip pulled open counts as torn; untested after a crush is tested again, never taken as normal",
        ),
      ),
      protective(
        "The last day of a repair stands as a date.",
        shown(FOLLOW_UP, "torn flexor: operated by day 10, which is 11 March after an injury on 1 March"),
      ),
    ],
  },
  {
    id: "H04",
    hazard: "A mallet fracture whose joint slips in the splint goes unnoticed.",
    causes: ["One film only.", "The share of the joint surface was not measured."],
    harm: "Arthrosis and a stiff, bent end joint.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "A middle share always gets its laterals in the first three weeks, and no site can take them away.",
        shown(
          GUARDS,
          "G4: a mallet with a third to two thirds of the joint always gets its lateral repeated on day 7, 14 and 21",
          "G4: no site value takes the repeat laterals away",
        ),
      ),
      design(
        "A slipped joint is referred whatever the share.",
        shown(MALLET, "a slipped joint decides, the share does not: referred within a week even at 10 %"),
      ),
    ],
  },
  {
    id: "H05",
    hazard: "An open fracture is treated as closed.",
    causes: ["Blood at the nail fold or a torn nail is not taken for an opening.", "Nobody is sure."],
    harm: "No wash-out, no tetanus protection, infection of the bone.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "A wound counts as one, whatever was answered to open or closed, and the contradiction is said.",
        shown(
          "pathway/hand/with-a-bone.test.ts",
          "%s, recorded as closed: treated as open, and the contradiction is said",
        ),
      ),
      design(
        "Not sure is never settled as closed.",
        shown(
          "pathway/assess.test.ts",
          "is never settled as closed: the second look is asked for, and both readings stay possible until it is answered",
        ),
      ),
    ],
  },
  {
    id: "H06",
    hazard: "A bite or a high-pressure injection is treated as a small wound.",
    causes: ["The hole is tiny and does not hurt.", "The cause was not asked about."],
    harm: "Spreading infection or loss of the finger.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "Both leave the ordinary pathway whatever else is known or not.",
        shown(EXITS, "a bite or a high-pressure injection leaves the ordinary pathway whatever else is known or not"),
        shown(GUARDS, "G3: a bite, a high-pressure injection and a dusky tip leave the ordinary pathway"),
      ),
    ],
    rules: ["EX3"],
  },
  {
    id: "H07",
    hazard: "A dirty or late open wound is closed, or its wash-out waits.",
    causes: ["Time of injury or dirt not recorded.", "The wound looks small."],
    harm: "Infection of wound or bone.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "Gross contamination and lateness send to the surgeon, and nobody is told to close the wound here.",
        shown(
          WOUND,
          "%s in an open tuft fracture goes to the surgeon now, and nothing is repaired here",
          "a wound seen late is the hand team's: nobody is told to repair it here",
        ),
      ),
      protective(
        "The wash-out limit of a draft national standard holds, and a site may be stricter, never laxer.",
        shown("reference/washout.test.ts", "a site may be stricter than the standard, never laxer"),
      ),
    ],
  },
  {
    id: "H08",
    hazard: "An infection, fresh or after the first treatment, is taken for the swelling of the injury.",
    causes: ["The patient comes back early.", "Redness is expected after a crush."],
    harm: "Infection of bone, joint or tendon sheath.",
    severity: 4,
    before: 2,
    after: 1,
    controls: [
      design(
        "A patient who comes back worse is seen the same day.",
        shown(
          EXITS,
          "who comes back worse on day 4 is seen the same day; a planned check, a first visit or day 2 is no alarm",
        ),
      ),
      protective(
        "Reasons to come back are given before anything else is answered.",
        shown(
          "pathway/hand/modifiers.test.ts",
          "the reasons to come back are given before a single question is answered",
        ),
      ),
    ],
  },
  {
    id: "H09",
    hazard: "Urgency is shown, or is too low, before the red flags are known.",
    causes: ["Questions are skipped.", "Nobody can tell.", "A later answer would raise it."],
    harm: "A patient who must be seen now is sent home.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "No urgency is shown while a red flag has not been asked about.",
        shown("pathway/assess.test.ts", "shows no urgency while a red flag has not been asked about"),
      ),
      design(
        "What is stated while something is open is never less urgent than what the answer brings.",
        shown(
          GUARDS,
          "stated while something is open is never less urgent than what the answer then brings, and what is sure stays",
          "is never lowered by a red flag that is added",
        ),
      ),
      design(
        "Over every complete record a red flag never lowers the urgency.",
        shown(SPACE, "no red flag lowers the urgency, or takes an exit away unless a more urgent one takes its place"),
      ),
    ],
  },
  {
    id: "H10",
    hazard: "A record is left without advice, or with advice that contradicts itself.",
    causes: ["A gap or an overlap between rules.", "Answers that do not fit together."],
    harm: "The wrong treatment, or none.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "Proven over every complete record: one answer where one is due, and no two lines that contradict.",
        shown(
          SPACE,
          "tables that answer with one row have exactly one",
          "no two lines contradict each other, no drug is chosen against an allergy",
        ),
      ),
      protective(
        "The proof itself is tried: each planted fault is found with a record that shows it.",
        shown("proof/planted-faults.test.ts", "%s: %s"),
      ),
      protective(
        "Answers that contradict each other stop the case.",
        shown(
          "pathway/distal-phalanx/data-quality.test.ts",
          "no fracture, yet displaced: nobody is sent away on answers that contradict each other",
        ),
      ),
    ],
  },
  {
    id: "H11",
    hazard: "A missing or unreadable part of the chart is read as healthy.",
    causes: [
      "A part is refused, fails, or is cut.",
      "A question is not asked.",
      "A server answers with a remark only.",
    ],
    harm: "An allergy, a medicine or a disease is not considered.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "Refused, failed, unsupported and empty are different states, and none of them proposes anything.",
        shown(CHART, "%s stays that state, and proposes nothing"),
        shown(DESK, "says that allergies are not known when they were refused, never that there are none"),
      ),
      design(
        "Not asked is never normal.",
        shown("app/case-state.test.ts", "starts with nothing known: no finding is taken as normal"),
      ),
    ],
  },
  {
    id: "H12",
    hazard: "A value that the chart proposed is signed without having been looked at.",
    causes: ["Proposals look like answers.", "One press confirms many."],
    harm: "A plan that rests on an old or wrong entry.",
    severity: 3,
    before: 4,
    after: 2,
    controls: [
      design(
        "A proposal counts for nothing until it is chosen.",
        shown(
          DESK,
          "counts for nothing until it is chosen: the assessment stays without urgency and signing is refused",
          "finger, side and day are confirmed together by one press, and nothing else is",
        ),
      ),
      design(
        "What only an examination can tell is never proposed.",
        shown(
          CHART,
          "skin, circulation, tendons, feeling and tissue loss are not proposed, whatever an earlier record says",
        ),
      ),
      protective(
        "Whose answer it was stands with it, in the draft too.",
        shown(DRAFTS, "says of each answer whether the clinician gave it or confirmed it from the chart"),
      ),
    ],
  },
  {
    id: "H13",
    hazard: "The clinician follows wrong advice because the program gave it.",
    causes: ["Advice without reasons.", "Weak evidence worded as certain.", "No room for a decision of one's own."],
    harm: "Wrong treatment of a case the rules do not fit.",
    severity: 3,
    before: 4,
    after: 2,
    controls: [
      protective(
        "Each line opens to the findings that made it hold, its rule and its sources with their strength.",
        shown(
          "pathway/explain.test.ts",
          "names what mattered and nothing else: a slipped mallet rests on film, site and joint, not on the share",
          "gives the sentence and the sources with the dissent",
        ),
      ),
      design(
        "Another decision can be taken at any line, with a reason that is kept.",
        shown(DESK, "keeps the clinician's own decision with its reason, and asks for the reason"),
        shown(DRAFTS, "the clinician's other decision is kept with the rule's proposal and the reason"),
      ),
    ],
    left: "How clinicians rely on it has not been studied.",
  },
  {
    id: "H14",
    hazard: "A source is misread, or a number in a rule is wrong.",
    causes: ["A slip of transcription.", "A value from memory.", "A source that says less than is claimed."],
    harm: "Wrong advice for every patient whom the rule concerns.",
    severity: 3,
    before: 3,
    after: 2,
    controls: [
      design(
        "A clinical number stands once, beside its source, never in a screen or an adapter.",
        shown("structure/source-habits.test.ts", "is kept"),
      ),
      protective(
        "Every number of every rule is held against a separate table of published values.",
        shown(
          "reference/numbers.test.ts",
          "no rule uses or says a number that the table does not hold",
          "every default and every bound of the site policy is the published one, or says that it has none",
        ),
      ),
      protective(
        "How each source was read stands with it, and what is from memory says so.",
        shown(
          "pathway/evidence/sources.test.ts",
          "say honestly how they were read, in words a clinician understands",
          "a value from memory says so",
        ),
      ),
    ],
    left: "Several sources were read in part only; no second clinician has reviewed the rules.",
  },
  {
    id: "H15",
    hazard: "A drug is chosen against an allergy.",
    causes: [
      "The chart's allergies could not be read.",
      "The reaction was not asked about.",
      "An allergy stands in words only.",
    ],
    harm: "Anaphylaxis.",
    severity: 5,
    before: 2,
    after: 1,
    controls: [
      design(
        "After a severe reaction to penicillin neither penicillin nor a cephalosporin is named, over every record.",
        shown(
          "pathway/hand/antibiotics.test.ts",
          "after anaphylaxis to penicillin neither penicillin nor cephalosporin is chosen, whatever the wound",
        ),
        shown(SPACE, "no two lines contradict each other, no drug is chosen against an allergy"),
      ),
      protective(
        "An allergy of the chart is not waved through by a quick answer, and stands in the banner.",
        shown(DESK, "a listed allergy is not waved through by a quick answer"),
        shown("app/quick-answers.test.ts", "does not deny an allergy that the chart lists: that question stays open"),
      ),
    ],
  },
  {
    id: "H16",
    hazard: "Too much local anaesthetic, or epinephrine where the circulation is poor.",
    causes: ["Weight or age not known.", "Concentration mixed up.", "Raynaud or arterial disease not asked about."],
    harm: "Seizure, arrest, or loss of the tip.",
    severity: 5,
    before: 2,
    after: 1,
    controls: [
      design(
        "No ceiling without a weight, and none above the official label, over every record.",
        shown(
          GUARDS,
          "G6: no ceiling is printed without a weight",
          "G6: no ceiling lies above the label: 4.5 mg/kg or 300 mg plain, 7 mg/kg or 500 mg with epinephrine",
        ),
        shown(SPACE, "no ceiling of a local anaesthetic lies above the label or stands without a weight"),
      ),
      design(
        "Epinephrine is never allowed with a poor tip or vessels that go into spasm.",
        shown(GUARDS, "G5: epinephrine is never allowed where perfusion is poor or vessels go into spasm"),
      ),
    ],
    rules: ["LA1"],
  },
  {
    id: "H17",
    hazard: "Tetanus protection is left out.",
    causes: ["Doses not known are taken as given.", "An open crush is called a clean wound."],
    harm: "Tetanus.",
    severity: 5,
    before: 1,
    after: 1,
    controls: [
      design(
        "An open crush is never a clean wound, and unknown doses count as unprotected.",
        shown(
          "pathway/hand/tetanus.test.ts",
          "an open crush is never a clean wound, whatever else is known or not",
          "unknown doses are said as unknown and count as unprotected",
        ),
      ),
      design(
        "Doses in the chart are proposed as what is documented, never as none.",
        shown(CHART, "%s proposes nothing, not even 'none'"),
      ),
    ],
  },
  {
    id: "H18",
    hazard: "A child is treated by a rule for adults, or the age is assumed.",
    causes: ["No birth date, or a partial or implausible one."],
    harm: "A growth-plate injury is missed, a dose is too high.",
    severity: 4,
    before: 2,
    after: 1,
    controls: [
      design(
        "Without a plausible birth date the age is asked, never assumed.",
        shown("browser/safe-stops.test.ts", "without a birth date the age is asked, never assumed"),
        shown(CHART, "a birth date that the chart marks as unknown is asked for, with its reason"),
      ),
      design(
        "A growth plate that nobody can judge counts as open in a minor.",
        shown(
          "pathway/distal-phalanx/data-quality.test.ts",
          "a growth plate that cannot be judged is treated as open under 18, and not at 18",
        ),
      ),
    ],
  },
  {
    id: "H19",
    hazard: "A condition or medicine that changes the treatment is overlooked.",
    causes: ["It stands in the chart in words only.", "Bleeding, immune or vessel disease is not asked about."],
    harm: "Bleeding, infection or a wound that does not heal.",
    severity: 3,
    before: 3,
    after: 2,
    controls: [
      protective(
        "What the chart knows in words leaves its question open and is shown beside it.",
        shown(
          "app/quick-answers.test.ts",
          "Bertil Aschenbrook takes apixaban, named in words: 'None of these' leaves the bleeding question open",
        ),
        shown(CHART, "a disease without a code keeps its question open and answers nothing"),
      ),
      design(
        "With diabetes and the like a wound is looked at earlier, and no visit moves back.",
        shown(FOLLOW_UP, "diabetes brings the wound check of an open tuft forward, and no visit back"),
      ),
    ],
  },
  {
    id: "H20",
    hazard: "A patient who does not belong here is treated as an ordinary fracture.",
    causes: ["Another bone, several fingers, polytrauma, a bone lesion, a burn."],
    harm: "The real problem is treated late.",
    severity: 4,
    before: 2,
    after: 1,
    controls: [
      design(
        "Each such case has its exit with an appointment, and silences what assumes an ordinary fracture.",
        shown(EXITS, "%s is caught", "%s has one, counted from the day it was seen"),
        shown(
          "pathway/assess.test.ts",
          "shows an exit at once, even before the rest is asked, and silences what assumes an ordinary fracture",
        ),
      ),
    ],
    rules: ["EX8", "EX12", "EX13"],
  },
  {
    id: "H21",
    hazard: "The splint, the movement or the repair advised does harm.",
    causes: [
      "A stiff joint is forced straight.",
      "Two splints or two operations are told at once.",
      "A mallet's splint for a torn flexor.",
    ],
    harm: "Pressure sore, lost reduction, a tendon torn further.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "One voice: one splint at most, no operation beside no operation.",
        shown(
          "pathway/distal-phalanx/module.test.ts",
          'never hears "no operation" beside "operate" or "refer", and never wears two splints',
        ),
        shown(
          "pathway/distal-phalanx/one-voice.test.ts",
          "%s, grip pulled open, flexor weak: one dorsal block splint, nothing straight and no early motion",
        ),
      ),
      design(
        "A tip that does not straighten is not forced.",
        shown(
          MALLET,
          "a tip that does not straighten is rested without force; nobody says extension splint, no operation",
        ),
      ),
    ],
  },
  {
    id: "H22",
    hazard: "A visit, a wire or stitches are due on a wrong day.",
    causes: ["Clock changes, leap days, time zones.", "The operation day is taken for the day of injury."],
    harm: "A wire comes out before the bone holds, a slip is seen too late.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "Days are counted on the calendar; the known date traps are banned from the source.",
        shown("pathway/hand/follow-up.test.ts", "are not moved by the clock changes of spring and autumn"),
        shown(
          "fhir/dates.test.ts",
          "there and back gives the same clock time in every zone, except in the hour that a clock change skips",
        ),
        shown("structure/source-habits.test.ts", "is kept"),
      ),
      design(
        "What follows an operation has no date until its day is known.",
        shown(
          FOLLOW_UP,
          "has no date while the day of the operation is not known: no wire and no stitches come out too early",
        ),
      ),
    ],
  },
  {
    id: "H23",
    hazard: "A follow-up visit gets lost.",
    causes: ["It is advised but not written.", "Joining visits drops one.", "Nobody books it."],
    harm: "A slip, an infection or a growth disturbance is seen too late.",
    severity: 4,
    before: 3,
    after: 2,
    controls: [
      design(
        "Joining never drops a visit or moves one back, and each urgency has its firm visit.",
        shown(
          "pathway/hand/follow-up.test.ts",
          "adding a class, a digit or another condition never moves a visit back, and never drops one",
        ),
        shown(FOLLOW_UP, "each urgency from today to two weeks has a firm visit inside its own window"),
      ),
      protective(
        "Each visit is written with its window and the request it belongs to.",
        shown(DRAFTS, "each visit has its window as calendar days and the request it belongs to"),
      ),
    ],
    left: "Nothing here shows whether the clinic has booked: the worklist is later work.",
  },
  {
    id: "H24",
    hazard: "A plan is made or written for the wrong patient.",
    causes: [
      "Another chart is opened in the same browser tab.",
      "A renewed sign-in or an answer brings another patient.",
      "A forged link.",
    ],
    harm: "One patient gets another one's plan, the other gets none.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "One launch is one patient on one server; anything else locks the screen.",
        shown(
          SESSION,
          "opens one patient on one server, frozen",
          "locks everything when the renewed token is for another patient",
        ),
        shown("app/draft-keeper.test.ts", "is never shown for another patient or another server"),
      ),
      design(
        "Before sending the patient is read again and must be the same.",
        shown(
          WRITE,
          "nothing is written when the record system answers with another patient",
          "nothing is written when the patient's details changed since the chart was read",
        ),
      ),
      protective(
        "Another patient's entry is not used, and blocks signing.",
        shown(CHART, "another patient in the answer is never shown, and blocks signing"),
      ),
      information(
        "The sentence that is signed names the patient.",
        shown(
          DESK,
          "repeats patient, finger, side, diagnosis, urgency and first due day in one sentence, and names the deed",
        ),
      ),
    ],
  },
  {
    id: "H25",
    hazard: "The plan is made for the wrong finger or side.",
    causes: ["Chart and film disagree.", "Several fingers are injured.", "Finger names and numbers are mixed up."],
    harm: "The wrong finger is filmed, splinted or operated on.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "Where entries disagree both are shown and neither is suggested.",
        shown(CHART, "chart and film that disagree on the side are both shown, and neither is suggested"),
        shown(
          "browser/safe-stops.test.ts",
          "Rowan Castellane: 'These are right' confirms the finger that all entries agree on, never the side they differ in",
        ),
      ),
      protective(
        "Finger and side are repeated in words before signing, and each finger's lines name it.",
        shown(
          DESK,
          "repeats patient, finger, side, diagnosis, urgency and first due day in one sentence, and names the deed",
        ),
        shown(DRAFTS, "two digits: one plan, one diagnosis each, lines that name their finger"),
      ),
    ],
  },
  {
    id: "H26",
    hazard: "Something is written, or has effect, without a clinician having signed it.",
    causes: ["A draft is stored as an order.", "A page writes by itself.", "Somebody who is no clinician signs."],
    harm: "Orders that nobody has taken responsibility for.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "A draft has no effect, and signing alone makes it active.",
        shown(
          DRAFTS,
          "a draft has no effect: draft plan and orders, proposed visits, provisional diagnosis, unfinished findings, no orderer",
          "signing makes it active under the clinician's name and time, and changes no intent",
        ),
      ),
      design(
        "Only a verified clinician signs.",
        shown(SESSION, "an id_token that is %s signs nothing, and the chart stays open"),
        shown(WRITE, "nobody signs without a verified sign-in"),
      ),
      design(
        "The rules order nothing.",
        shown(
          GUARDS,
          "G9: an assessment is plain data that orders nothing: it holds no function and no state of an order",
        ),
      ),
    ],
  },
  {
    id: "H27",
    hazard: "A plan, an order or a visit is written twice.",
    causes: ["Double press, retry, reload, a second browser tab.", "A fault after the server has stored it."],
    harm: "Double visits and drugs, and a chart that nobody trusts.",
    severity: 2,
    before: 5,
    after: 1,
    controls: [
      design(
        "Every item has an identifier of its own and is created only if that is not there.",
        shown(
          DRAFTS,
          "creates each item once only: POST under its identifier, unique keys and addresses, in dependency order",
        ),
        shown(WRITE, "a double click writes one plan and gives one report"),
      ),
      protective(
        "After a fault the plan is looked for before anything is sent again.",
        shown(WRITE, "%s: the plan is found, stored once, and called saved"),
      ),
    ],
  },
  {
    id: "H28",
    hazard: "Two plans for one injury stand side by side, or one overwrites what a colleague changed.",
    causes: ["Two clinicians at once.", "A second visit.", "A stored draft that somebody else has changed."],
    harm: "Contradicting orders; a colleague's decision is lost.",
    severity: 3,
    before: 3,
    after: 2,
    controls: [
      design(
        "An update goes over the version that was read and overwrites nothing.",
        shown(
          WRITE,
          "a draft that someone else changed is not overwritten",
          "a signed plan is neither signed over nor turned back into a draft",
        ),
      ),
      protective(
        "The same injury is the same episode, whoever plans it.",
        shown(
          DRAFTS,
          "two clinicians who plan the same injury write the same episode; another finger is another episode",
        ),
      ),
    ],
    left: "Two clinicians who sign within the same second are not told of each other yet.",
  },
  {
    id: "H29",
    hazard: "The clinician believes that a plan is stored, and it is not.",
    causes: ["A cut connection, a server that alters or drops parts, a partial failure."],
    harm: "No referral, no visit.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "Saved is said only after every item was read back and compared.",
        shown(
          WRITE,
          "is 'saved' only after every item was read back, with its place and version",
          "is never called 'saved': the changed parts are named",
          "that stays is 'unknown', never 'saved' and never 'not saved', and ends within a minute",
        ),
        shown(DESK, "never says saved when it is not known: it offers to look again, and then only looks"),
      ),
    ],
  },
  {
    id: "H30",
    hazard: "A plan rests on a draft or a chart that has become stale.",
    causes: [
      "A new allergy, film or diagnosis since the chart was read.",
      "A draft by a colleague or of an older rule version.",
    ],
    harm: "Treatment that no longer fits the patient.",
    severity: 3,
    before: 3,
    after: 2,
    controls: [
      design(
        "Answers of an earlier draft come back as proposals only, with whose and when.",
        shown("app/case-state.test.ts", "continues an earlier plan without taking over any of its answers"),
        shown(
          DESK,
          "written by a colleague is told with name and day, before and after it is confirmed, and never called one's own",
        ),
      ),
      protective(
        "A patient whose details changed since the reading stops the writing.",
        shown(WRITE, "nothing is written when the patient's details changed since the chart was read"),
      ),
    ],
    left: "A new allergy or film since the reading is not yet shown as a difference before signing.",
  },
  {
    id: "H31",
    hazard: "Old rules, an old program or a faulty site policy are in use.",
    causes: ["A cached page.", "A policy file with a wrong value.", "A changed rule that nobody noticed."],
    harm: "Advice that was withdrawn, or that the site has not approved.",
    severity: 3,
    before: 3,
    after: 2,
    controls: [
      design(
        "A policy with a fault stops the program; no rule runs with guessed values.",
        shown("app/app.test.tsx", "that cannot be read stops the page: no rule runs with guessed values"),
        shown("pathway/policy/site-policy.test.ts", "a value outside its bounds is refused with the allowed range"),
      ),
      protective(
        "Each resource carries the versions it was made with, and pages are asked for each time.",
        shown(
          DRAFTS,
          "every resource carries the plan, the program and the knowledge it came from, and a stable identifier",
        ),
        shown(
          "launch/plugin-host.test.ts",
          "hashed ones may be kept for a year, pages and settings are asked for each time",
        ),
      ),
    ],
    left: "A draft made under an older rule version is not compared with the new one.",
  },
  {
    id: "H32",
    hazard: "The coded diagnosis is wrong.",
    causes: ["Open, side or displacement not stated.", "A healing or old injury is coded as fresh."],
    harm: "Wrong billing and statistics; a later reader is misled.",
    severity: 2,
    before: 3,
    after: 1,
    controls: [
      design(
        "Every code that can be composed is billable and says in the official words what was confirmed.",
        shown(
          "reference/icd10cm.test.ts",
          "is billable and carries its official description",
          "$digit, side $side, displaced $displaced, open $open: says so in the official words",
        ),
      ),
      protective(
        "Without a confirmed fracture none is coded, and what was assumed is said.",
        shown(DRAFTS, "%s: no fracture code, and the reason is said"),
        shown("coding/fracture-code.test.ts", "says what was assumed when displacement and openness were not stated"),
      ),
    ],
  },
  {
    id: "H33",
    hazard: "An important warning is lost among others.",
    causes: ["Many lines, many dialogs.", "The same thing is said twice."],
    harm: "A red flag is passed over.",
    severity: 4,
    before: 3,
    after: 2,
    controls: [
      design(
        "One red panel at most, the most urgent line speaks for all, and later matters are folded away.",
        shown(DESK, "shows one red panel at most, however many ways out must happen now"),
        shown(
          "pathway/hand/urgency-words.test.ts",
          "life before the finger tip, then the hand surgeon, then a sentence of its own, then another service",
        ),
        shown(
          "pathway/distal-phalanx/complications.test.ts",
          "is said once each, never today, and keeps the first page short",
        ),
      ),
    ],
  },
  {
    id: "H34",
    hazard: "A warning cannot be seen, heard or reached.",
    causes: ["Colour alone, small screens, enlarged text, keyboard only, a screen reader."],
    harm: "A red flag is passed over.",
    severity: 4,
    before: 3,
    after: 1,
    controls: [
      design(
        "Every screen is checked against WCAG 2.2 AA at every size and scheme, and the whole way goes by keyboard.",
        shown(
          "browser/looks.test.ts",
          "$name has no accessibility violation and needs no sideways scrolling",
          "the doctor goes from the chart to a signed plan without a pointer",
        ),
      ),
    ],
    left: "No person who uses a screen reader has tried it.",
  },
  {
    id: "H35",
    hazard: "Patient data or the right to read the chart gets into wrong hands.",
    causes: ["A hostile server or link, script in chart text, a shared computer, logs."],
    harm: "Breach of confidence.",
    severity: 3,
    before: 3,
    after: 1,
    controls: [
      design(
        "Only configured servers are spoken to, and the token goes nowhere else.",
        shown("smart/launch.test.ts", "stops at an unknown issuer (%s), names its host as text and sends nothing"),
        shown("smart/transport.test.ts", "sends nothing to %s"),
      ),
      design(
        "Chart text never becomes markup, and nothing of the patient is left behind.",
        shown(DRAFTS, "text from a clinician cannot become markup in the narrative"),
        shown(SESSION, "leaves the tokens in one place only, and no code verifier"),
        shown("smart/read-chart.test.ts", "has no name, birth date or record number in an address"),
      ),
    ],
    left: "An unattended screen is not locked yet.",
  },
  {
    id: "H36",
    hazard: "The program fails or is cut off while the patient waits.",
    causes: ["The server is down, the sign-in ends, the page is reloaded."],
    harm: "Findings are lost, treatment is delayed.",
    severity: 2,
    before: 4,
    after: 2,
    controls: [
      design(
        "Answers survive a reload and the end of a sign-in, for this patient only.",
        shown("app/draft-keeper.test.ts", "survives a reload for the same patient on the same server"),
        shown(
          "browser/safe-stops.test.ts",
          "an access token that runs out while the doctor thinks is renewed, and the answers stay",
        ),
      ),
      protective(
        "A part that fails does not stop the rest, and the plan is there as text.",
        shown(DESK, "names the parts that could not be read, and goes on without them"),
        shown("app/plan.test.tsx", "stands in the plain text too"),
      ),
    ],
  },
  {
    id: "H37",
    hazard: "A child who is being harmed, or an injury that must be reported, goes unnoticed.",
    causes: ["The mechanism is not asked about.", "Attention is on the finger alone."],
    harm: "A child stays in danger; a duty to report is missed.",
    severity: 5,
    before: 1,
    after: 1,
    controls: [
      design(
        "In a child an injury that does not fit brings a safeguarding discussion up.",
        shown(
          "pathway/hand/modifiers.test.ts",
          "a child with a %s: a safeguarding discussion is considered",
          "the safeguarding question names bite marks of an adult, burns and neglect",
        ),
      ),
      information(
        "Duties to report an injury at work are named by the site's law.",
        shown("pathway/hand/modifiers.test.ts", "UK: a fracture alone is not on the list, an amputation is"),
      ),
    ],
  },
  {
    id: "H38",
    hazard: "Something is written for a patient who has died, or into a record that is no longer in use.",
    causes: ["The record was merged or closed since the launch."],
    harm: "Letters and calls to a bereaved family; a plan that nobody finds.",
    severity: 2,
    before: 2,
    after: 1,
    controls: [
      design(
        "A deceased, merged or inactive record stops all writing, checked again just before sending.",
        shown(CHART, "a record that is %s stops all writing"),
        shown(WRITE, "nothing is written for a patient who %s"),
      ),
    ],
  },
];
