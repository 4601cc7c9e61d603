/** What the HL7 validator remarks on resources of ours without calling it an error, one by one, and why it stays so. */
export interface Explained {
  /** Over "severity code place: words". */
  readonly remark: RegExp;
  readonly why: string;
  /** Name of an extension or code system of ours; tests/structure/own-names.test.ts holds these against the sources, since not every run writes each. */
  readonly ours?: string;
  /** Comes up only in what the tests before wrote into the practice EHR. */
  readonly onlyThere?: true;
}
const escaped = (text: string) => text.replaceAll(".", "\\.");
const OURS = escaped("https://fingerpost.example/");
const extension = (name: string, what: string): Explained => ({
  remark: new RegExp(
    `^information Extension_EXT_Unknown .*: Unknown extension ${OURS}fhir/StructureDefinition/${name}$`,
  ),
  why: `an extension of ours, for which no StructureDefinition is published yet: ${what}`,
  ours: `extension ${name}`,
});
const unknownSystem = (system: string) =>
  new RegExp(`^warning \\S+ .*: CodeSystem is unknown and can't be validated: ${system} for `);
const codes = (system: string, why: string): Explained => ({ remark: unknownSystem(escaped(system)), why });
const own = (name: string, what: string): Explained => ({
  remark: unknownSystem(`${OURS}fhir/CodeSystem/${name}`),
  why: `a code system of ours that the validator is not given: ${what}`,
  ours: `codes ${name}`,
});

export const EXPLAINED: readonly Explained[] = [
  extension("after-visit", "which visit another one follows"),
  extension("answer-origin", "whether the clinician gave an answer or confirmed it from the chart"),
  extension("answer-origin-entry", "which entry of the chart an answer was taken from"),
  extension("asked-again-after", "when a visit is asked for again"),
  extension("assumed-by-classification", "what the official default of a code adds"),
  extension("chart-said", "what the chart says where the clinician says otherwise"),
  extension("clinician-decided", "what the clinician decided in place of a proposal"),
  extension("clinician-note", "the clinician's own words on an order"),
  extension("code-rule", "the rule that decided a code"),
  extension("coded-facts", "what a code rests on"),
  extension("coding-signed", "what the coder signed"),
  extension("days-after-injury", "the window of a visit"),
  extension("days-after-operation", "the window of a visit after an operation"),
  extension("film-pending", "that a code waits for a film"),
  extension("guideline-section", "the section of the official guideline behind a code"),
  extension("held-for", "for whom a slot is held"),
  extension("ideal-day", "the best day in the window of a visit"),
  extension("need-ended", "why a visit is no longer to be arranged"),
  extension("outside-days-because", "why a visit is booked outside its days"),
  extension("refined-from", "what the chart's own entry said before it was refined"),
  extension("revises", "which plan a draft is to replace"),
  extension("rule-basis", "rule, reason and sources behind a line"),
  extension("topic", "what a note of the plan is about"),
  extension("urgency", "how soon"),
  own("act", "by which act"),
  own("ao-ota-2018-local-reading", "our reading of a published classification"),
  own("app-version", "which program"),
  own("coding-act", "what the coder did"),
  own("coding-query", "what the coder asks"),
  own("finding", "answers; they are held against the options of our Questionnaire, which it is given"),
  own("knowledge-version", "which clinical knowledge"),
  own("plan", "which plan"),
  own("plan-life", "by which later act: superseded, withdrawn"),
  own("plan-topic", "kinds of lines of a plan"),
  own("request-kind", "kinds of orders"),
  own("visit-purpose", "what a visit is for"),
  codes("https://fingerpost.example/plan-item", "which item of which plan: names, not a code system with a list"),
  codes("http://loinc.org", "LOINC is not shipped with R4; 18776-5 is the plan of care note"),
  codes(
    "http://hl7.org/fhir/sid/icd-10-cm",
    "ICD-10-CM is not shipped with R4; its codes are checked against the official table in tests/coding",
  ),
  codes(
    "http://hl7.org/fhir/us/core/CodeSystem/careplan-category",
    "of a national base profile whose package is not available offline",
  ),
  codes(
    "http://hl7.org/fhir/us/core/CodeSystem/us-core-documentreference-category",
    "of a national base profile whose package is not available offline",
  ),
  {
    remark: /^warning Terminology_TX_Code_ValueSet_Ext Provenance\.reason: No code provided/,
    why: "why a plan is withdrawn is said in the clinician's own words; the value set is about purposes of use",
  },
  {
    remark: /^information Terminology_TX_NoValid_3_CC DocumentReference\.type: /,
    why: "the preferred value set is made of LOINC, which is not shipped with R4",
  },
  {
    remark: /^warning \S+DomainResource#dom-6 (DocumentReference|Questionnaire|CapabilityStatement): /,
    why: "the document is its own narrative; a form and a statement of abilities are not read as text",
  },
  {
    remark: /^warning \S+DomainResource#dom-6 Provenance: /,
    why: "the clinic's and the coder's records of who did what hold nothing but references, times and a reason in words",
    onlyThere: true,
  },
  {
    remark: /^warning \S+DomainResource#dom-6 (Slot|Task): /,
    why: "the record system's own, of which only the state is changed; a question to a colleague is its own text",
    onlyThere: true,
  },
  {
    remark:
      /^warning \S+ Appointment\.reasonCode: Unable to expand ValueSet: .*'http:\/\/snomed\.info\/sct' is ignored/,
    why: "the preferred value set is made of SNOMED CT, which is licensed and not shipped with R4",
    onlyThere: true,
  },
  {
    remark: /^information Terminology_TX_NoValid_3_CC Appointment\.reasonCode: /,
    why: "as above; the reason of a visit is the diagnosis, which a preferred value set allows",
    onlyThere: true,
  },
  {
    remark: /^warning Terminology_TX_NoValid_2_CC Provenance\.activity: /,
    why: "the value set is extensible and has no code for signing a coding",
    onlyThere: true,
  },
];

/** Planted errors that this validator cannot see, and who does. */
export const BEYOND_IT: Readonly<Record<string, string>> = {
  "a subject of a type that is not allowed":
    "judges the type of a target only when it can fetch the target; tests/reference/r4-validators.test.ts judges it by its address",
};

/** Official examples that are faulty themselves, each with its fault. */
export const FAULTY_EXAMPLES: Readonly<Record<string, string>> = {
  "CapabilityStatement-example.json": "a urn:uuid in capital letters and a canonical address that is not absolute",
  "CapabilityStatement-knowledge-repository.json": "canonical addresses that are not absolute",
  "CapabilityStatement-measure-processor.json": "canonical addresses that are not absolute",
  "CapabilityStatement-messagedefinition.json": "a canonical address that is not absolute",
  "CapabilityStatement-terminology-server.json": "canonical addresses that are not absolute",
  "Questionnaire-phq-9-questionnaire.json": "a canonical address that is not absolute",
  "Questionnaire-qs1.json": "items without the required linkId",
  "Questionnaire-zika-virus-exposure-assessment.json": "an empty narrative (txt-2)",
  "QuestionnaireResponse-gcs.json": "a canonical address that is not absolute",
  "QuestionnaireResponse-ussg-fht-answers.json": "a canonical address that is not absolute",
};
