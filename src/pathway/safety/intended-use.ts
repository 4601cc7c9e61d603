/** What the program is for, for whom, and what it must not be used for. */
export interface IntendedUse {
  readonly purpose: string;
  readonly users: readonly string[];
  readonly settings: readonly string[];
  readonly patients: readonly string[];
  readonly notFor: readonly string[];
  /** Wrong uses that must be expected, each with what stands against it. */
  readonly misuse: readonly { readonly use: string; readonly against: string }[];
  /** Where it stands in regulation; the fields that only an adopter can fill are named as such. */
  readonly standing: readonly string[];
}

export const INTENDED_USE: IntendedUse = {
  purpose:
    "Helps a clinician who meets an injured finger tip to record the findings in a structured way, to judge urgency, treatment and follow-up of a fracture of the distal phalanx by published rules that can be read, and to write the signed plan into the chart.",
  users: [
    "Licensed clinicians who examine the patient themselves: emergency, urgent care, family and hand surgery.",
    "Clinic staff and coders, to read a saved plan; they sign nothing here.",
  ],
  settings: [
    "Launched from a patient's chart in a record system that speaks SMART on FHIR R4, on a desktop or tablet browser.",
    "Where a hand surgeon can be reached by phone or referral.",
  ],
  patients: [
    "Adults and children with a fresh injury of one or more finger tips, fractured or possibly fractured.",
    "The same patients at a later visit for that injury.",
  ],
  notFor: [
    "Fractures of any other bone, apart from noticing that the patient belongs elsewhere.",
    "A severely injured patient: life comes first, and the program says so and stops.",
    "Reading images: no picture is fetched or analysed; findings of a film are entered by the clinician.",
    "Prescribing: doses of antibiotics are not given, ceilings of local anaesthetics are no prescription.",
    "Patients using it for themselves, and triage without an examination.",
    "Closing a case: it never discharges, orders, books or prescribes by itself.",
  ],
  misuse: [
    {
      use: "The proposals are confirmed without looking at the finger.",
      against: "What only an examination can tell is never proposed, and each proposal needs a press of its own.",
    },
    {
      use: "The urgency is read before the red flags have been asked about.",
      against: "No urgency is shown while a red flag is open through a question that nobody has asked.",
    },
    {
      use: "A plan is made for a finger of another patient whose chart is open elsewhere.",
      against:
        "One launch is one patient; name, birth date, sex and identifier stand on screen and in the sentence that is signed.",
    },
    {
      use: "A saved draft is acted upon as if it were signed.",
      against: "Drafts are stored without effect, say so in their narrative, and name nobody as orderer.",
    },
    {
      use: "The site policy is edited to switch a rule off.",
      against: "A site sets values inside bounds; a file with anything else stops the program.",
    },
    {
      use: "The practice record system is used with real patients.",
      against: "It answers to this computer only, refuses production, and says on every page that it is practice.",
    },
  ],
  standing: [
    "Decision support for licensed clinicians whose basis can be reviewed independently; not a cleared or CE-marked device.",
    "Advice on operations would probably put it into class IIb under Rule 11 of Regulation (EU) 2017/745; whoever places it on a market needs an assessment of their own.",
    "This file follows the artefacts of NHS DCB0129 and the steps of ISO 14971 as far as an open project can: hazards, controls, evidence, what is left.",
    "Clinical safety officer, organisation and date of approval: to be filled by the organisation that deploys it; nobody has signed this file.",
  ],
};
