/** Answers the addresses of the chart pages. Reads through the FHIR service, so it also works in front of another server. */
import type { Bundle, FhirRequest, FhirService, Resource } from "../fhir/exchange.ts";
import type { Context, Grants } from "../smart/grants.ts";
import { personById } from "../smart/people.ts";
import { redirect, type WebAnswer } from "../web.ts";
import * as pages from "./pages.ts";
import { conceptWords, patientWords } from "./words.ts";

const WRITTEN: readonly [string, string][] = [
  ["CarePlan", "Care plans"],
  ["ServiceRequest", "Orders"],
  ["Appointment", "Visits"],
  ["Condition", "Diagnoses"],
  ["QuestionnaireResponse", "Recorded findings"],
  ["DocumentReference", "Documents"],
  ["Provenance", "Who did what"],
];
const BACKGROUND: readonly [string, string][] = [
  ["ImagingStudy", "Imaging"],
  ["DiagnosticReport", "Reports"],
  ["AllergyIntolerance", "Allergies"],
  ["Immunization", "Immunizations"],
  ["MedicationRequest", "Prescriptions"],
  ["MedicationStatement", "Medication taken"],
  ["Observation", "Measurements"],
  ["Encounter", "Encounters"],
];
const SHOWN_PER_SECTION = 15;

export interface DeskSettings extends pages.PageSettings {
  readonly fhirBase: string;
  /** Address at which the app wants to be launched. */
  readonly launchUrl: string;
  /** Address at which it wants to be launched by clinic staff, without a patient. */
  readonly clinicLaunchUrl: string | undefined;
  /** The same for coders. */
  readonly coderLaunchUrl: string | undefined;
  /** "system|code" of the tag on patients who are seen in the clinics only; undefined when there are none. */
  readonly clinicTag: string | undefined;
  /** ISO instant */
  readonly since: string;
}

export class Desk {
  private readonly service: FhirService;
  private readonly grants: Grants;
  private readonly settings: () => DeskSettings;
  constructor(service: FhirService, grants: Grants, settings: () => DeskSettings) {
    this.service = service;
    this.grants = grants;
    this.settings = settings;
  }

  /** Undefined when the address is not one of the desk's. */
  async answer(url: URL): Promise<WebAnswer | undefined> {
    const [, first = "", ...rest] = url.pathname.split("/");
    if (url.pathname === "/") return redirect("/desk");
    if (first !== "desk") return undefined;
    const [room, type, id] = rest;
    if (room === undefined || room === "") return this.people();
    if (room === "style.css")
      return {
        status: 200,
        headers: { "content-type": "text/css; charset=utf-8", "cache-control": "max-age=60" },
        body: pages.STYLE,
      };
    if (room === "icon.svg")
      return {
        status: 200,
        headers: { "content-type": "image/svg+xml", "cache-control": "max-age=86400" },
        body: pages.ICON,
      };
    if (room === "patient" && type) return this.chart(type);
    if (room === "launch") return this.launch(url.searchParams);
    if (room === "json" && type && id) return this.asJson(type, id);
    return pages.faultPage(this.settings(), "There is no such page.", 404);
  }

  /** Patients for the choice page of a standalone launch. */
  async patients() {
    const { bundle } = await this.find("Patient", { _sort: "family", _count: "100" });
    return resourcesIn(bundle).map((resource) => patientWords(resource));
  }

  /** What a launch for this patient carries: the open encounter and what was filmed in the last two days. */
  async contextFor(
    patientId: string,
  ): Promise<{ encounter: string | undefined; fhirContext: { reference: string }[] }> {
    const [encounters, studies, reports] = await Promise.all([
      this.find("Encounter", { _sort: "-date", _count: "20" }, patientId),
      this.find("ImagingStudy", { _sort: "-started", _count: "3" }, patientId),
      this.find("DiagnosticReport", { _sort: "-date", _count: "3" }, patientId),
    ]);
    const open = resourcesIn(encounters.bundle).find(
      ({ status }) => status === "in-progress" || status === "arrived" || status === "triaged",
    );
    const recent = [...resourcesIn(studies.bundle), ...resourcesIn(reports.bundle)].filter((resource) => {
      const at = Date.parse(String(resource.started ?? resource.effectiveDateTime ?? ""));
      return Date.now() - at < 2 * 24 * 60 * 60 * 1000 && resource.status !== "entered-in-error";
    });
    return {
      encounter: open?.id,
      fhirContext: recent.map(({ resourceType, id }) => ({ reference: `${resourceType}/${id}` })),
    };
  }

  private async people(): Promise<WebAnswer> {
    const { clinicTag } = this.settings();
    const [{ bundle, problem }, { bundle: encounters }, ofClinics] = await Promise.all([
      // the clinics' patients are at home: they have a list of their own
      this.find("Patient", { _sort: "family", _count: "100", ...(clinicTag ? { "_tag:not": clinicTag } : {}) }),
      this.find("Encounter", { _sort: "-date", _count: "200" }),
      clinicTag ? this.find("Patient", { _sort: "family", _count: "60", _tag: clinicTag }) : undefined,
    ]);
    if (!bundle) return pages.faultPage(this.settings(), problem ?? "The FHIR server does not answer.", 502);
    const reasons = new Map<string, string>();
    for (const encounter of resourcesIn(encounters)) {
      const patient = (encounter.subject as { reference?: string } | undefined)?.reference?.split("/").pop() ?? "";
      const reason = (encounter.reasonCode as { text?: string }[] | undefined)?.[0];
      if (reason && !reasons.has(patient)) reasons.set(patient, conceptWords(reason));
    }
    const rows = resourcesIn(bundle).map((resource) => ({
      ...patientWords(resource),
      today: reasons.get(resource.id ?? ""),
    }));
    const more = bundle.link?.some(({ relation }) => relation === "next") === true;
    const atHome = {
      people: resourcesIn(ofClinics?.bundle).map((resource) => patientWords(resource)),
      total: ofClinics?.bundle?.total ?? 0,
    };
    return pages.peoplePage(this.settings(), rows, more, atHome);
  }

  private async chart(id: string): Promise<WebAnswer> {
    const patient = await this.read("Patient", id);
    if (!patient) return pages.faultPage(this.settings(), "There is no such patient.", 404);
    const sections = await Promise.all(
      [...WRITTEN, ...BACKGROUND].map(async ([type, heading]): Promise<pages.ChartSection> => {
        const { bundle, problem } = await this.find(
          type,
          { _sort: "-_lastUpdated", _count: String(SHOWN_PER_SECTION) },
          id,
        );
        const resources = resourcesIn(bundle);
        return { heading, type, resources, total: bundle?.total ?? resources.length, ...(problem ? { problem } : {}) };
      }),
    );
    return pages.chartPage(this.settings(), patientWords(patient), sections, this.settings().since);
  }

  private async launch(params: URLSearchParams): Promise<WebAnswer> {
    const settings = this.settings();
    const person = personById(params.get("as") ?? "");
    const ofStaff = { clinic: settings.clinicLaunchUrl, coder: settings.coderLaunchUrl } as const;
    const listUrl = person?.id === "clinic" || person?.id === "coder" ? ofStaff[person.id] : undefined;
    if (person && listUrl && !params.has("patient"))
      return this.goToApp(params, listUrl, person.id === "clinic" ? "All patients of the clinics" : "Records to code", {
        person,
        patient: undefined,
        encounter: undefined,
        fhirContext: [],
      });
    const patient = await this.read("Patient", params.get("patient") ?? "");
    if (!person || !patient?.id) return pages.faultPage(settings, "Choose a patient and who you are.");
    const { id, name, born } = patientWords(patient);
    const context = { person, patient: patient.id, ...(await this.contextFor(patient.id)) };
    return this.goToApp(params, settings.launchUrl, `${name}, ${born}`, context, `/desk/patient/${id}`);
  }
  /** A fresh launch value, and the app in this window or in a frame. */
  private goToApp(
    params: URLSearchParams,
    launchUrl: string,
    about: string,
    context: Context,
    back = "/desk",
  ): WebAnswer {
    const settings = this.settings();
    const address = new URL(launchUrl);
    address.searchParams.set("iss", settings.fhirBase);
    address.searchParams.set("launch", this.grants.launches.add(context));
    return params.get("view") === "frame"
      ? pages.framePage(settings, about, back, address.href)
      : redirect(address.href);
  }

  private async asJson(type: string, id: string): Promise<WebAnswer> {
    const resource = await this.read(type, id);
    if (!resource) return pages.faultPage(this.settings(), "There is no such resource.", 404);
    return {
      status: 200,
      body: JSON.stringify(resource, null, 2),
      headers: {
        "content-type": "application/json; charset=utf-8",
        "cache-control": "no-store",
        "x-content-type-options": "nosniff",
        "content-security-policy": "default-src 'none'; frame-ancestors 'none'",
      },
    };
  }

  private async read(type: string, id: string): Promise<Resource | undefined> {
    if (!/^[A-Z][A-Za-z]+$/.test(type) || !/^[A-Za-z0-9\-.]{1,64}$/.test(id)) return undefined;
    const { status, body } = await this.ask({
      method: "GET",
      path: `${type}/${id}`,
      query: new URLSearchParams(),
      headers: {},
    });
    return status === 200 ? body : undefined;
  }
  private async find(
    type: string,
    query: Record<string, string>,
    patientId?: string,
  ): Promise<{ bundle: Bundle | undefined; problem?: string }> {
    const { status, body } = await this.ask({
      method: "GET",
      path: type,
      query: new URLSearchParams(query),
      headers: {},
      ...(patientId ? { patientOnly: patientId } : {}),
    });
    return status === 200
      ? { bundle: body as Bundle }
      : { bundle: undefined, problem: `The server answered ${status}.` };
  }
  private async ask(request: FhirRequest) {
    try {
      return await this.service.handle(request);
    } catch {
      return { status: 502, headers: {}, body: undefined };
    }
  }
}
const resourcesIn = (bundle: Bundle | undefined): Resource[] =>
  (bundle?.entry ?? []).flatMap(({ resource, search }) => (resource && search?.mode !== "outcome" ? [resource] : []));
