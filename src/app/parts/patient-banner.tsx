import type { Chart, PatientSummary } from "../../fhir/chart.ts";
import { plainText } from "../../fhir/plain-text.ts";
import { sayAllergy } from "../say-allergy.ts";
import { sayShortDay } from "../say-date.ts";
import { NoPatient } from "./no-patient.tsx";

const NO_NAME = "No name in the chart";
const SHOWN_ALLERGIES = 3;
const SHOWN_IDENTIFIERS = 2;

/** Who the patient is. It stays on every step, so that a wrong chart is noticed before anything is signed. */
export function PatientBanner({ chart, onAllergies }: { chart: Chart; onAllergies: () => void }) {
  const { patient } = chart;
  if (!patient) return <NoPatient reading={chart.parts.patient.state === "reading"} />;
  return (
    <section className={`banner${patient.stop ? " stopped" : ""}`} aria-label="Patient">
      <p className="who">
        <bdi>{plainText(patient.name, 80) || NO_NAME}</bdi>
      </p>
      <p>{[...facts(patient)].join(" · ")}</p>
      <p className="allergies">
        <b>Allergies:</b> <Allergies chart={chart} onAllergies={onAllergies} />
      </p>
    </section>
  );
}

function* facts(patient: PatientSummary): Iterable<string> {
  yield patient.age === "not known" ? "age not known" : patient.age;
  yield patient.birthDate ? `born ${sayShortDay(patient.birthDate)}` : "no birth date";
  yield patient.sex;
  if (patient.deceased) yield "deceased";
  for (const id of patient.identifiers.slice(0, SHOWN_IDENTIFIERS))
    yield `${plainText(id.label, 24)}\u00a0${plainText(id.value, 32)}`;
}

function Allergies({ chart, onAllergies }: { chart: Chart; onAllergies: () => void }) {
  const { state } = chart.parts.allergies;
  if (chart.allergies.length === 0) return <span>{UNKNOWN[state]}</span>;
  const more = chart.allergies.length - SHOWN_ALLERGIES;
  return (
    <>
      <span>{chart.allergies.slice(0, SHOWN_ALLERGIES).map(sayAllergy).join(", ")}</span>
      {more > 0 && (
        <button type="button" className="quiet" onClick={onAllergies}>
          and {more} more
        </button>
      )}
    </>
  );
}
/** An empty list is not "no allergies": it says only that none is recorded. */
const UNKNOWN: { readonly [S in Chart["parts"]["allergies"]["state"]]: string } = {
  reading: "being read",
  found: "none that can be shown",
  empty: "none recorded in the chart; ask",
  refused: "not known: the record system did not allow reading them; ask",
  unsupported: "not known: this record system does not hold them; ask",
  failed: "not known: reading failed; ask",
  "not-allowed": "not known: no permission was given; ask",
};
