/** Errors that any R4 validator must find, planted into HL7's official example instances (npm hl7.fhir.r4.examples 4.0.1, CC0). */

// biome-ignore lint/suspicious/noExplicitAny: resources of any type are spoilt
type Json = any;

export const CONDITION = "Condition-example";
const ORDER = "ServiceRequest-example";
export const VISIT = "Appointment-example";
const PLAN = "CarePlan-example";
const PROVENANCE = "Provenance-example";
const ANSWERS = "QuestionnaireResponse-bb";
/** One error each, planted into an official example that is accepted without it. Undefined leaves an element out. */
export const PLANTED: readonly [string, string, (r: Json) => Json][] = [
  ["a status outside its required value set", ORDER, () => ({ status: "finished" })],
  ["an intent outside its required value set", PLAN, () => ({ intent: "idea" })],
  [
    "a clinical status from another system",
    CONDITION,
    () => ({ clinicalStatus: { coding: [{ system: "http://x.example", code: "active" }] } }),
  ],
  ["a clinical status in words only", CONDITION, () => ({ clinicalStatus: { text: "active" } })],
  ["no subject", CONDITION, () => ({ subject: undefined })],
  ["no intent", ORDER, () => ({ intent: undefined })],
  ["a participant without status", VISIT, (r) => ({ participant: [{ ...r.participant[0], status: undefined }] })],
  ["no agent", PROVENANCE, () => ({ agent: undefined })],
  ["a subject of a type that is not allowed", CONDITION, () => ({ subject: { reference: "Practitioner/1" } })],
  ["a reference given as text", ORDER, () => ({ subject: "Patient/1" })],
  ["two subjects", ORDER, (r) => ({ subject: [r.subject, r.subject] })],
  ["one thing where a list belongs", VISIT, (r) => ({ participant: r.participant[0] })],
  ["a list where one thing belongs", PLAN, () => ({ status: ["active"] })],
  ["month 13", CONDITION, () => ({ onsetDateTime: "2026-13-01" })],
  ["30 February", CONDITION, () => ({ onsetDateTime: "2026-02-30" })],
  ["a date in words", CONDITION, () => ({ recordedDate: "yesterday" })],
  ["a time without zone", ORDER, () => ({ authoredOn: "2026-11-25T10:00:00" })],
  ["an instant that is only a date", PROVENANCE, () => ({ recorded: "2026-11-25" })],
  ["an id with a slash", CONDITION, () => ({ id: "a/b" })],
  ["an unknown element", PLAN, () => ({ colour: "blue" })],
  ["an unknown nested element", VISIT, (r) => ({ participant: [{ ...r.participant[0], mood: "good" }] })],
  ["a negative number of minutes", VISIT, () => ({ minutesDuration: -5 })],
  ["a number as text", VISIT, () => ({ priority: "5" })],
  ["an empty text", PLAN, () => ({ title: "" })],
  ["an empty list", PLAN, () => ({ note: [] })],
  ["an empty object", CONDITION, () => ({ stage: [{}] })],
  ["two kinds of onset at once", CONDITION, () => ({ onsetDateTime: "2026", onsetString: "last week" })],
  ["a booked visit without start: invariant app-3", VISIT, () => ({ start: undefined, end: undefined })],
  [
    "an activity with reference and detail: invariant cpl-3",
    PLAN,
    () => ({ activity: [{ reference: { reference: "Task/1" }, detail: { status: "scheduled" } }] }),
  ],
  [
    "entered-in-error with a clinical status: invariant con-5",
    CONDITION,
    () => ({
      verificationStatus: {
        coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-ver-status", code: "entered-in-error" }],
      },
    }),
  ],
  ["order detail without code: invariant prr-1", ORDER, () => ({ code: undefined, orderDetail: [{ text: "x" }] })],
  ["an extension without value", CONDITION, () => ({ extension: [{ url: "http://x.example" }] })],
  ["an extension without url", CONDITION, () => ({ extension: [{ valueString: "x" }] })],
  [
    "a narrative with a script",
    PLAN,
    () => ({
      text: { status: "generated", div: '<div xmlns="http://www.w3.org/1999/xhtml"><script>1</script></div>' },
    }),
  ],
  ["a status of answers outside its value set", ANSWERS, () => ({ status: "done" })],
  ["meta elements that are not R4", CONDITION, () => ({ meta: { author: { reference: "Practitioner/1" } } })],
  ["a misspelt type", CONDITION, () => ({ resourceType: "Conditon" })],
];
