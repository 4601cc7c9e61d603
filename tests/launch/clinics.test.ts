import { addDays } from "date-fns";
import { describe, expect, it } from "vitest";
import { CLINIC_PATIENTS } from "../../fixtures/clinics/patients.ts";
import { seedClinics } from "../../launch/ehr/clinics/seed-clinics.ts";
import { Store } from "../../launch/ehr/fhir/store.ts";
import { problemsOf } from "../../launch/ehr/fhir/validate.ts";
import { readCharts } from "../../launch/ehr/seed.ts";
import { openPractice, signIn } from "./practice.ts";

const MONDAY = new Date(2026, 2, 2, 10, 15);
function clinicsOn(now: Date): Store {
  const store = new Store({ now: () => now });
  seedClinics(store, now);
  return store;
}
const all = (store: Store, type?: string) => {
  const versions = type ? [...store.all(type)] : store.allVersions();
  return versions.map(({ resource }) => resource!);
};

describe("the two clinics of the practice EHR", () => {
  it("hold valid R4 that points only to what is there", () => {
    const resources = [...all(clinicsOn(MONDAY)), ...readCharts(MONDAY).flatMap((chart) => chart.resources)];
    const clinics = all(clinicsOn(MONDAY));
    expect(
      clinics.flatMap((one) => problemsOf(one).map((p) => `${one.resourceType}/${one.id} ${p.diagnostics}`)),
    ).toEqual([]);
    const keys = new Set(resources.map(({ resourceType, id }) => `${resourceType}/${id}`));
    const pointed = JSON.stringify(clinics).match(/"reference":"[A-Z][^"]+"/g) ?? [];
    expect(pointed.map((text) => text.slice(13, -1)).filter((reference) => !keys.has(reference))).toEqual([]);
  });

  it("have, on whatever day of the week they are opened, 40 patients of which some are overdue, booked and missed, and no time given twice", () => {
    for (let i = 0; i < 7; i++) {
      const now = addDays(MONDAY, i);
      const store = clinicsOn(now);
      const visits = all(store, "Appointment") as { status?: string; slot?: { reference: string }[] }[];
      expect(store.count("Patient")).toBe(CLINIC_PATIENTS.length);
      const states = new Set(visits.map(({ status }) => status));
      expect([...states].sort(), String(now)).toEqual(["booked", "cancelled", "fulfilled", "noshow", "proposed"]);
      const taken = visits.flatMap(({ status, slot = [] }) =>
        status === "booked" ? slot.map((s) => s.reference) : [],
      );
      expect(new Set(taken).size).toBe(taken.length);
      expect(taken.length).toBeGreaterThan(5);
      const busy = all(store, "Slot").filter(({ status }) => status === "busy");
      expect(busy.map(({ id }) => `Slot/${id}`).sort()).toEqual([...taken].sort());
    }
  });

  it("S1 are opened by clinic staff without a patient, who may write in the book and nothing clinical", async () => {
    const practice = await openPractice({ clinics: true });
    try {
      const answer = await fetch(`${practice.ehrUrl}/desk/launch?as=clinic&view=tab`, { redirect: "manual" });
      const link = new URL(answer.headers.get("location") ?? "");
      expect([link.pathname, link.searchParams.get("for"), link.searchParams.has("launch")]).toEqual([
        "/launch.html",
        "clinic",
        true,
      ]);
      const desk = await (await fetch(`${practice.ehrUrl}/desk`)).text();
      expect(desk).toContain("Launch for the clinics");
      expect(desk).toContain("40 patients with a plan");
      const scope =
        "openid user/Appointment.crus user/Slot.rus user/ServiceRequest.crus user/Condition.crus user/Patient.rs";
      const { response } = await signIn(practice, { as: "clinic", scope: `launch ${scope}` });
      expect(response.scope.split(" ")).toEqual([
        "launch",
        "openid",
        "user/Appointment.crus",
        "user/Slot.rus",
        "user/ServiceRequest.rs",
        "user/Condition.rs",
        "user/Patient.rs",
      ]);
    } finally {
      await practice.close();
    }
  });
});
