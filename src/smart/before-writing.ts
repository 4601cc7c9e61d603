/** What has to hold before anything is sent: session, frame, signer, time, and the very patient on the screen. */
import { chartFrom } from "../fhir/chart.ts";
import { inKnownFrame } from "./config.ts";
import type { Problem } from "./problem.ts";
import { seenIn } from "./read-chart.ts";
import type { PatientContext } from "./session.ts";
import type { FhirAnswer, FhirResource } from "./transport.ts";
import { AGAIN, type Job, KEPT, problem, type WriteContext } from "./write-report.ts";

/** A write takes several requests; it is not begun with less. Seconds. [common practice, no source] */
const LIFE_NEEDED = 60;

export interface SignedInAs {
  readonly reference: string;
  readonly display?: string;
}
export const signerOf = (signer: { reference: string; name?: string }): SignedInAs => ({
  reference: signer.reference,
  ...(signer.name ? { display: signer.name } : {}),
});

/** What stands in the way before the record system is asked for anything; else who signs. */
export async function obstacle({
  session,
  items,
  act,
  context,
}: Pick<Job, "session" | "items" | "act"> & { context?: Pick<WriteContext, "changes"> }): Promise<
  { problem: Problem } | { signer: SignedInAs }
> {
  const state = session.state();
  if (state.kind !== "open") return { problem: state.problem };
  const kept = items.filter((item) => !item.removed);
  if (!kept.some((item) => item.kind !== "provenance") && !context?.changes?.length) {
    return { problem: problem("Nothing is left to write.", "Every item was left out.", "Put an item back first.") };
  }
  if (act === "sign" && !inKnownFrame(session.config)) {
    return {
      problem: problem(
        "This page is shown inside an unknown page.",
        `Signing there is not safe; nothing was written. ${KEPT}`,
        "Open Fingerpost from your record system or in its own window.",
      ),
    };
  }
  const signer = await session.signer();
  if (!signer.ok) return { problem: problem("Nobody is known to sign.", `${signer.reason} ${KEPT}`, AGAIN) };
  if (!(await session.lastsFor(LIFE_NEEDED))) {
    const now = session.state();
    return {
      problem:
        now.kind === "open"
          ? problem(
              "Your sign-in is about to end.",
              `It might not last until everything is checked, so nothing was sent. ${KEPT}`,
              "Open Fingerpost from the chart again, then sign.",
            )
          : now.problem,
    };
  }
  return { signer: signerOf(signer) };
}

/** The same patient as on screen, alive, current: or the reason why nothing may be written. */
export function patientStop(context: PatientContext, answer: FhirAnswer<FhirResource>): Problem | undefined {
  if (!answer.ok) {
    return { ...answer.problem, what: `The patient could not be checked, so nothing was written. ${KEPT}` };
  }
  const patient = answer.value;
  const part = { state: "found" as const, resources: [patient], more: false };
  // No rule of age is asked for here: any day will do.
  const { patient: summary } = chartFrom(
    { patient: part },
    { patientId: context.patientId, today: "2000-01-01", base: context.base },
  );
  if (patient.id !== context.patientId || !summary) {
    return problem(
      "The record system answered with another patient.",
      `Nothing was written. ${KEPT}`,
      "Close this page and open Fingerpost again from the chart.",
    );
  }
  if (summary.stop) return problem("Nothing may be written for this patient.", `${summary.stop} ${KEPT}`, AGAIN);
  const seen = seenIn(context).patient;
  const changed = ["name", "birthDate", "gender", "identifier"].filter(
    (element) => seen && JSON.stringify(seen[element]) !== JSON.stringify(patient[element]),
  );
  if (changed.length > 0) {
    return problem(
      "The patient's details changed since the chart was read.",
      `Changed: ${changed.join(", ")}. Nothing was written. ${KEPT}`,
      "Reload this page, check that it is the right patient, then sign.",
    );
  }
  return undefined;
}
