/** Launches on the practice EHR over the network, and what its store then holds: nothing in between is a stand-in. */
import { startPractice } from "../../launch/start.ts";
import { type DraftItem, draftPlan } from "../../src/fhir/drafts.ts";
import type { ClinicSession, Session, SessionAnswer } from "../../src/smart/session.ts";
import { inputFor, MALLET } from "../fhir/cases.ts";
import { openTab, reload } from "./page.ts";

export type Practice = Awaited<ReturnType<typeof startPractice>>;
export const openPractice = (clinics: boolean | number = false): Promise<Practice> =>
  startPractice({ quiet: true, ehrPort: 0, pluginPort: 0, skipBuild: true, clinics });

export const PATIENT = "bertil-aschenbrook";

/** Sets how the practice EHR behaves. */
export async function control(practice: Practice, setting: object): Promise<void> {
  const response = await fetch(`${practice.ehrUrl}/practice/control`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(setting),
  });
  if (!response.ok) throw new Error(await response.text());
}

const follow = async (address: string) =>
  new URL((await fetch(address, { redirect: "manual" })).headers.get("location") ?? address, address);

/** Launches as the desk of the practice EHR does, signs in, and opens the session; in a tab that may have been used before. */
export async function launched(
  practice: Practice,
  as = "emergency",
  storage: Map<string, string> = new Map(),
): Promise<Session> {
  const opened = await open(practice, `patient=${PATIENT}&as=${as}`, storage);
  if (!opened.ok) throw new Error(`${opened.problem.title} ${opened.problem.what}`);
  return opened.session;
}

/** Launches clinic staff as the desk does, without a patient. */
export async function clinicLaunched(practice: Practice): Promise<ClinicSession> {
  const opened = await open(practice, "as=clinic");
  if (opened.ok || !opened.clinic) throw new Error("no session for the clinic");
  return opened.clinic;
}

/** Launches a coder as the desk does, without a patient. */
export async function coderLaunched(practice: Practice): Promise<ClinicSession> {
  const opened = await open(practice, "as=coder");
  if (opened.ok || !opened.coder) throw new Error("no session for the coder");
  return opened.coder;
}

/** Launches as the desk does and comes back from the sign-in. `who`: "patient=12&as=emergency", "as=clinic". */
export async function open(
  practice: Practice,
  who: string,
  storage: Map<string, string> = new Map(),
): Promise<SessionAnswer> {
  const link = await follow(`${practice.ehrUrl}/desk/launch?${who}&view=tab`);
  const tab = openTab(link.href, { storage });
  const config = (await (await fetch(`${practice.pluginUrl}/config.json`)).json()) as unknown;
  const { readConfig } = await import("../../src/smart/config.ts");
  const { beginLaunch } = await import("../../src/smart/launch.ts");
  const answer = readConfig(config);
  if (!answer.ok) throw new Error(answer.problem.what);
  const start = await beginLaunch(link, answer.config);
  if (!start.ok) throw new Error(start.problem.title);
  reload(tab, (await follow(start.goTo)).href);
  const { openSession } = await import("../../src/smart/session.ts");
  return openSession(answer);
}

/** The plan for a closed mallet of this patient, as the sign-off screen drafts it. */
export function planFor(session: Session, planId: string, note = ""): DraftItem[] {
  const input = inputFor(MALLET, {
    planId,
    patientId: session.context.patientId,
    ...(session.context.encounterId ? { encounterId: session.context.encounterId } : {}),
    chart: { used: [], imaging: [] },
  });
  return draftPlan(note ? { ...input, patientName: note } : input);
}
