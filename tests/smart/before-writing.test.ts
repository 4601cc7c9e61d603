/** What has to hold before anything is sent: somebody who signs, a sign-in that lasts, and the very patient on the screen. */
import { describe, expect, it } from "vitest";
import { removeDraft } from "../../src/fhir/drafts.ts";
import { obstacle, patientStop } from "../../src/smart/before-writing.ts";
import { keepInMind } from "../../src/smart/read-chart.ts";
import type { TokenState } from "../../src/smart/token.ts";
import type { FhirProblemKind, FhirResource } from "../../src/smart/transport.ts";
import type { Job } from "../../src/smart/write-report.ts";
import { no, RecordInMemory, yes } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts } from "./stored-plan.ts";
import { AT, jobOver, SIGNER } from "./writing-job.ts";

const KEPT = "Your draft is kept on this page.";

describe("REL-24 what stands in the way before anything is asked", () => {
  const asking = (changed: Partial<Job["session"]> = {}, more: Partial<Job> = {}) => {
    const one = jobOver(new RecordInMemory());
    return obstacle({ ...one, ...more, session: { ...one.session, ...changed } });
  };
  const ENDED = { kind: "ended" as const, title: "Ended.", what: "", next: "" };

  it("nothing: it is known who signs, by name where there is one", async () => {
    expect(await asking()).toEqual({ signer: SIGNER });
    const nameless = { signer: async () => ({ ok: true as const, reference: "Practitioner/dr-1" }) };
    expect(await asking(nameless as never)).toEqual({ signer: { reference: "Practitioner/dr-1" } });
  });

  it("nothing is left to write: the record of who did what alone is no plan, but an earlier plan's end is enough", async () => {
    const [condition, , , provenance] = drafts();
    const NOTHING = { problem: { title: "Nothing is left to write." } };
    expect(await asking({}, { items: [provenance!] })).toMatchObject(NOTHING);
    expect(await asking({}, { items: [removeDraft(condition!, "no"), provenance!] })).toMatchObject(NOTHING);
    expect(await asking({}, { items: [provenance!], context: { at: AT, changes: [] } })).toMatchObject(NOTHING);
    expect(await asking({}, { items: [provenance!], context: { at: AT, changes: [{} as never] } })).toEqual({
      signer: SIGNER,
    });
  });

  it("REL-34 a sign-in that lasts less than a minute; one that has ended by then says so itself", async () => {
    const asked: number[] = [];
    const lastsFor = async (seconds: number) => {
      asked.push(seconds);
      return false;
    };
    expect(await asking({ lastsFor })).toMatchObject({ problem: { title: "Your sign-in is about to end." } });
    expect(asked).toEqual([60]);
    const states: TokenState[] = [{ kind: "open" }, { kind: "ended", problem: ENDED }];
    expect(await asking({ lastsFor, state: () => states.shift()! })).toEqual({ problem: ENDED });
    expect(await asking({ state: () => ({ kind: "ended", problem: ENDED }) })).toEqual({ problem: ENDED });
  });

  it("L11 nobody who signs", async () => {
    const signer = async () => ({ ok: false as const, reason: "No id_token." });
    expect(await asking({ signer })).toMatchObject({
      problem: { title: "Nobody is known to sign.", what: `No id_token. ${KEPT}`, next: "Try again." },
    });
  });
});

describe("INV-3 the patient right before writing", () => {
  const PATIENT = {
    resourceType: "Patient",
    id: "p1",
    name: [{ text: "Ann Example" }],
    birthDate: "1990-02-03",
    gender: "female",
    identifier: [{ value: "12" }],
  };
  const stopOf = (now: object, seen: object | undefined = undefined) => {
    const context = Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" });
    if (seen) keepInMind(context, seen as FhirResource);
    return patientStop(context, yes(now as FhirResource));
  };
  it("is the one on the screen, as read: nothing stops", () => {
    expect(stopOf(PATIENT)).toBeUndefined();
    expect(stopOf({ ...PATIENT, meta: { versionId: "9" }, telecom: [{ value: "1" }] }, PATIENT)).toBeUndefined();
  });
  it.each<[string, object, string]>([
    ["name", { name: [{ text: "Ann Other" }] }, "Changed: name. "],
    ["birth date", { birthDate: "1990-02-04" }, "Changed: birthDate. "],
    ["sex", { gender: "male" }, "Changed: gender. "],
    ["numbers", { identifier: [] }, "Changed: identifier. "],
    ["name and birth date", { name: [], birthDate: "1990" }, "Changed: name, birthDate. "],
  ])("REL-39 has another %s than was read", (_what, change, says) => {
    expect(stopOf({ ...PATIENT, ...change }, PATIENT)?.what).toContain(says);
    expect(stopOf({ ...PATIENT, ...change })).toBeUndefined();
  });
  it("is another one, or no patient at all", () => {
    const OTHER = { title: "The record system answered with another patient." };
    expect(stopOf({ ...PATIENT, id: "p2" })).toMatchObject(OTHER);
    expect(stopOf({ resourceType: "Group", id: "p1" })).toMatchObject(OTHER);
  });
  it("has died: nothing may be written", () =>
    expect(stopOf({ ...PATIENT, deceasedBoolean: true })).toMatchObject({
      title: "Nothing may be written for this patient.",
      next: "Try again.",
    }));
  it.each<FhirProblemKind>(["server", "refused"])("could not be read (%s)", (kind) => {
    const context = Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" });
    expect(patientStop(context, no(kind))).toMatchObject({
      kind,
      what: `The patient could not be checked, so nothing was written. ${KEPT}`,
    });
  });
});
