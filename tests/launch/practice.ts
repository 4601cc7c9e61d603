import { createHash, randomBytes, randomUUID } from "node:crypto";
import { type Practice, type PracticeOptions, startPractice } from "../../launch/start.ts";

// biome-ignore lint/suspicious/noExplicitAny: answers of any shape are looked into; one that differs fails the test
export type Json = any;

/** The practice EHR alone: the app is not built and not needed. */
export const openPractice = (options: PracticeOptions = {}): Promise<Practice> =>
  startPractice({ quiet: true, skipBuild: true, ehrPort: 0, pluginPort: 0, ...options });

export const CLINICIAN_SCOPES = [
  "launch",
  "openid",
  "fhirUser",
  "online_access",
  ...[
    "Patient",
    "ImagingStudy",
    "DiagnosticReport",
    "Observation",
    "AllergyIntolerance",
    "Immunization",
    "Encounter",
  ].map((type) => `patient/${type}.rs`),
  ...["Condition", "ServiceRequest", "CarePlan", "Appointment", "QuestionnaireResponse"].map(
    (type) => `patient/${type}.crus`,
  ),
  "patient/DocumentReference.crs",
  "patient/Provenance.crs",
].join(" ");

export const pkce = () => {
  const verifier = randomBytes(32).toString("base64url");
  return { verifier, challenge: createHash("sha256").update(verifier).digest("base64url") };
};

/** What the chart page's Launch button gives to the app: a launch value for this patient and person. */
export async function launchValue(practice: Practice, patient = "odalys-fennimore", as = "emergency"): Promise<string> {
  const answer = await fetch(`${practice.ehrUrl}/desk/launch?patient=${patient}&as=${as}&view=tab`, {
    redirect: "manual",
  });
  return new URL(answer.headers.get("location") ?? "").searchParams.get("launch") ?? "";
}

export const authorizeParams = (practice: Practice, more: Record<string, string | undefined>): URLSearchParams => {
  const all: Record<string, string | undefined> = {
    response_type: "code",
    client_id: "fingerpost",
    redirect_uri: `${practice.pluginUrl}/`,
    scope: CLINICIAN_SCOPES,
    state: randomUUID(),
    aud: practice.fhirBase,
    code_challenge_method: "S256",
    ...more,
  };
  return new URLSearchParams(
    Object.entries(all).flatMap(([name, value]) => (value === undefined ? [] : [[name, value]])),
  );
};
export const authorize = (practice: Practice, params: URLSearchParams) =>
  fetch(`${practice.ehrUrl}/auth/authorize?${params}`, { redirect: "manual" });
export const callback = (answer: Response) => new URL(answer.headers.get("location") ?? "about:blank").searchParams;

export const postForm = (url: string, form: Record<string, string>, headers: Record<string, string> = {}) =>
  fetch(url, { method: "POST", body: new URLSearchParams(form), headers });

export interface SignedIn {
  readonly response: Json;
  readonly token: string;
  readonly code: string;
  readonly verifier: string;
}
/** A whole EHR launch, without a browser. */
export async function signIn(
  practice: Practice,
  { patient, as, ...more }: { patient?: string; as?: string; [param: string]: string | undefined } = {},
): Promise<SignedIn> {
  const { verifier, challenge } = pkce();
  const launch = await launchValue(practice, patient, as);
  const answer = await authorize(practice, authorizeParams(practice, { launch, code_challenge: challenge, ...more }));
  const code = callback(answer).get("code") ?? "";
  const exchanged = await exchange(practice, code, verifier);
  const response = (await exchanged.json()) as Json;
  return { response, token: response.access_token, code, verifier };
}
export const exchange = (practice: Practice, code: string, verifier: string, more: Record<string, string> = {}) =>
  postForm(`${practice.ehrUrl}/auth/token`, {
    grant_type: "authorization_code",
    code,
    redirect_uri: `${practice.pluginUrl}/`,
    client_id: "fingerpost",
    code_verifier: verifier,
    ...more,
  });

export interface Answer {
  readonly status: number;
  readonly headers: Headers;
  readonly body: Json;
}
/** One call to the FHIR server under a token. */
export async function call(
  practice: Practice,
  token: string | undefined,
  path: string,
  { method = "GET", body, headers = {} }: { method?: string; body?: unknown; headers?: Record<string, string> } = {},
): Promise<Answer> {
  const answer = await fetch(path.startsWith("http") ? path : `${practice.fhirBase}/${path}`.replace(/\/$/, ""), {
    method,
    headers: {
      ...(token ? { authorization: `Bearer ${token}` } : {}),
      ...(body === undefined
        ? {}
        : { "content-type": method === "PATCH" ? "application/json-patch+json" : "application/fhir+json" }),
      ...headers,
    },
    ...(body === undefined ? {} : { body: typeof body === "string" ? body : JSON.stringify(body) }),
  });
  const text = await answer.text();
  return { status: answer.status, headers: answer.headers, body: text.startsWith("{") ? JSON.parse(text) : text };
}

export const control = async (practice: Practice, settings: object): Promise<Json> => {
  const answer = await fetch(`${practice.ehrUrl}/practice/control`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(settings),
  });
  return { status: answer.status, ...((await answer.json()) as object) };
};
export const practiceLog = async (practice: Practice, room: "ledger" | "requests" | "sign-ins"): Promise<Json[]> =>
  (await fetch(`${practice.ehrUrl}/practice/${room}`)).json() as Promise<Json[]>;

export const idsIn = (bundle: Json): string[] =>
  (bundle.entry ?? []).filter((each: Json) => each.search?.mode !== "outcome").map(({ resource }: Json) => resource.id);
export const diagnostics = (body: Json): string =>
  (body.issue ?? []).map((issue: Json) => issue.diagnostics).join("; ");
