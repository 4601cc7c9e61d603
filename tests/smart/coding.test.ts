import type { Condition, Provenance, Task } from "fhir/r4";
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { codeEncounter } from "../../src/coding/code-encounter.ts";
import { deriveForCoding } from "../../src/coding/derive.ts";
import type { CodedEncounter } from "../../src/coding/encounter.ts";
import { tableOn } from "../../src/coding/tables.ts";
import { type CodingCase, sayFinding, withAnswers } from "../../src/fhir/coding-case.ts";
import { type KeptLine, linesOf } from "../../src/fhir/coding-signing.ts";
import { MODULES } from "../../src/pathway/index.ts";
import * as list from "../../src/smart/coding-list.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { CRUSH, DAYS, MALLET, signedRecords } from "../browser/signed-records.ts";
import { pathway } from "../fhir/cases.ts";
import { coderLaunched, control, openPractice, type Practice } from "./on-practice.ts";

const DAY = { today: "2026-11-20", zone: Intl.DateTimeFormat().resolvedOptions().timeZone, modules: MODULES };
const AT = "2026-11-09T10:00:00+01:00";
const STAFF = { at: AT, appVersion: "0.1.0", knowledgeVersion: "0.2.0" };
const DOCTOR = { reference: "Practitioner/imke-harrowgate", display: "Dr Imke Harrowgate" };

let practice: Practice;
let session: ClinicSession;
beforeAll(async () => {
  practice = await openPractice();
  session = await coderLaunched(practice);
});
afterAll(async () => {
  vi.unstubAllGlobals();
  await practice.close();
});
beforeEach(async () => {
  await control(practice, { reset: true, reseed: true });
  await control(practice, { enter: signedRecords() });
});

const stored = <T>(type: string) => practice.stored(type) as unknown as T[];
function given<T>(answer: { ok: true; value: T } | { ok: false; problem: { title: string } }): T {
  if (!answer.ok) throw new Error(answer.problem.title);
  return answer.value;
}
const listed = async (filter: list.CaseFilter = {}) =>
  given(await list.readCases(session, DAY, { filter: { ...DAYS, ...filter } }));
const caseOf = async (name: string): Promise<list.OpenedCase> => {
  const found = (await listed()).cases.find((c) => c.patient.name === name)!;
  return given(await list.openCase(session, DAY, found));
};
async function code(of: CodingCase): Promise<CodedEncounter> {
  const table = await tableOn(of.day);
  const options = { changes: false, say: sayFinding(pathway.module) };
  const encounter = { ...of.encounter, derived: deriveForCoding(pathway, of.encounter.record as never) };
  return codeEncounter(
    withAnswers(encounter, of.queries, (now) => codeEncounter(now, table, options)).encounter,
    table,
    options,
  );
}
const sign = (opened: list.OpenedCase, coded: CodedEncounter, lines: readonly KeptLine[] = linesOf(coded.codes)) =>
  list.signCodes(session, opened, coded, lines, STAFF, async () => {});
const icd = (id: string) =>
  stored<Condition>("Condition")
    .find((c) => c.id === id)
    ?.code?.coding?.find((c) => c.system?.includes("icd-10-cm"))?.code;

describe("the list of signed records", () => {
  it("has every signed record of the days with who signed, and none of a plan that was withdrawn", async () => {
    const page = await listed();
    expect(page.problems).toEqual([]);
    expect(page.cases.map((c) => [c.state, c.signedBy, c.encounter.kind])).toEqual(
      Array.from({ length: 3 }, () => ["to-code", "Dr Imke Harrowgate", "initial"]),
    );
    expect(await listed({ from: "2026-11-20", to: undefined })).toMatchObject({ cases: [] });
    const plan = stored<{ id: string; subject: { reference: string } }>("CarePlan").find(
      (p) => p.subject.reference === "Patient/coder-tuft",
    )!;
    await control(practice, { enter: [{ ...plan, resourceType: "CarePlan", status: "revoked" }] });
    const after = await listed();
    expect([after.cases.length, after.ended]).toEqual([2, 1]);
  });

  it("is read in pages of the size that was asked for, and no record twice", async () => {
    const first = given(await list.readCases(session, DAY, { filter: DAYS, size: 2 }));
    expect(first.cases.length).toBe(2);
    const second = given(await list.readCases(session, DAY, { filter: DAYS, size: 2, next: first.next! }));
    expect(second.next).toBeUndefined();
    expect(new Set([...first.cases, ...second.cases].map((c) => c.patient.name)).size).toBe(3);
  });
});

describe("a question to the clinician", () => {
  it("is sent once however often it is pressed, found by its state, and its answer changes the code", async () => {
    const { of } = await caseOf(CRUSH);
    const before = await code(of);
    expect(before.codes[0]?.code).toBe("S62.630B");
    const gap = before.gaps.find((g) => g.key === "Q-DISP@0")!;
    for (let i = 0; i < 2; i++) expect((await list.ask(session, of, gap, before.encounter, AT)).outcome).toBe("done");
    expect(stored<Task>("Task").length).toBe(1);
    expect((await listed({ query: "open" })).cases.map((c) => [c.patient.name, c.state])).toEqual([[CRUSH, "asked"]]);
    const [task] = stored<Task>("Task");
    expect(task).toMatchObject({ status: "requested", owner: DOCTOR, for: { reference: of.patient.reference } });
    expect(task!.description).toMatch(/^Right index finger: /);
    await control(practice, {
      enter: [
        {
          ...task!,
          status: "completed",
          lastModified: AT,
          output: [{ type: { text: "answer" }, valueString: "not displaced" }],
        },
      ],
    });
    const answered = await caseOf(CRUSH);
    expect(answered.of.state).toBe("answered");
    expect((await code(answered.of)).codes[0]?.code).toBe("S62.660B");
  });

  it("answered in words that no rule can read is shown to the coder, and the code stays", async () => {
    const { of } = await caseOf(CRUSH);
    const coded = await code(of);
    await list.ask(session, of, coded.gaps.find((g) => g.key === "Q-DISP@0")!, coded.encounter, AT);
    const [task] = stored<Task>("Task");
    await control(practice, {
      enter: [
        {
          ...task!,
          status: "completed",
          lastModified: AT,
          output: [{ type: { text: "answer" }, valueString: "see the film" }],
        },
      ],
    });
    const again = (await caseOf(CRUSH)).of;
    const table = await tableOn(again.day);
    const { toRead } = withAnswers(again.encounter, again.queries, (now) =>
      codeEncounter(now, table, { changes: false }),
    );
    expect(toRead.map((q) => q.answer?.words)).toEqual(["see the film"]);
    expect((await code(again)).codes[0]?.code).toBe("S62.630B");
  });

  it("that was taken back can be asked again", async () => {
    const { of } = await caseOf(CRUSH);
    const coded = await code(of);
    const gap = coded.gaps.find((g) => g.key === "Q-DISP@0")!;
    await list.ask(session, of, gap, coded.encounter, AT);
    const [query] = (await caseOf(CRUSH)).of.queries;
    expect((await list.takeBack(session, query!, AT)).outcome).toBe("done");
    expect((await caseOf(CRUSH)).of.state).toBe("to-code");
    await list.ask(session, of, gap, coded.encounter, AT);
    expect(
      stored<Task>("Task")
        .map((t) => t.status)
        .sort(),
    ).toEqual(["cancelled", "requested"]);
  });
});

describe("codes signed by the coder", () => {
  it("stand on the diagnosis of each digit, other codings stay, and the signing can be read back with what was changed and why", async () => {
    const opened = await caseOf(CRUSH);
    const coded = await code(opened.of);
    const snomed = opened.conditions.map((c) => JSON.stringify(c.resource).match(/"code":"(2\d{7})"/)?.[1]);
    const lines = linesOf(coded.codes).map((line, i) =>
      i === 1
        ? {
            ...line,
            kept: {
              code: "S62.663A",
              display: (coded.edition &&
                "Nondisplaced fracture of distal phalanx of left middle finger, initial encounter for closed fracture")!,
            },
            reason: "Side as in the operation note",
          }
        : line,
    );
    expect(await sign(opened, coded, lines)).toEqual({ outcome: "done" });
    const after = await caseOf(CRUSH);
    expect(after.of.state).toBe("coded");
    const [signing] = after.of.signings;
    expect([signing?.by, signing?.at]).toEqual(["Solveig Marchbanks", AT]);
    expect(signing?.lines.map((l) => [l.proposed?.code, l.kept?.code, l.reason])).toEqual([
      ["S62.630B", "S62.630B", undefined],
      ["S62.662A", "S62.663A", "Side as in the operation note"],
    ]);
    expect(after.conditions.map((c) => JSON.stringify(c.resource).match(/"code":"(2\d{7})"/)?.[1]).sort()).toEqual(
      snomed.sort(),
    );
    expect(opened.conditions.map(({ reference }) => icd(reference.split("/")[1]!)).sort()).toEqual([
      "S62.630B",
      "S62.663A",
    ]);
    const record = stored<Provenance>("Provenance").find((p) => `Provenance/${p.id}` === signing?.reference);
    expect(record?.target.map((t) => t.reference)).toContain(after.of.record.reference);
  });

  it("a further code gets a diagnosis of its own, which is withdrawn as entered in error when it is no longer kept", async () => {
    const opened = await caseOf(CRUSH);
    const coded = await code(opened.of);
    const [first, second] = linesOf(coded.codes) as [KeptLine, KeptLine];
    const wound = {
      code: "S61.310A",
      display: "Laceration without foreign body of right index finger with damage to nail, initial encounter",
    };
    const extra: KeptLine = { ...first, key: "WOUND@0", role: "additional", proposed: wound, kept: wound };
    expect((await sign(opened, coded, [first, second, extra])).outcome).toBe("done");
    const added = stored<Condition>("Condition").filter((c) => JSON.stringify(c.identifier ?? []).includes("WOUND@0"));
    expect(added.map((c) => c.code?.coding?.[0]?.code)).toEqual(["S61.310A"]);
    const again = await caseOf(CRUSH);
    expect(
      (
        await list.signCodes(
          session,
          again,
          coded,
          [first, second],
          { ...STAFF, at: "2026-11-10T10:00:00+01:00" },
          async () => {},
        )
      ).outcome,
    ).toBe("done");
    const gone = stored<Condition>("Condition").find((c) => c.id === added[0]!.id)!;
    expect([gone.verificationStatus?.coding?.[0]?.code, gone.clinicalStatus]).toEqual(["entered-in-error", undefined]);
    expect((await caseOf(CRUSH)).of.signings.length).toBe(2);
  });

  it.each([true, false])(
    "over a diagnosis that somebody changed meanwhile nothing is written (transactions: %s)",
    async (transaction) => {
      await control(practice, { capabilities: { transaction } });
      const own = await coderLaunched(practice);
      const opened = await caseOf(CRUSH);
      const coded = await code(opened.of);
      const [held] = opened.conditions;
      await control(practice, { enter: [{ ...held!.resource, code: { text: "Changed by a colleague" } }] });
      const wrong = { code: "S62.639B", display: "x" };
      const lines = linesOf(coded.codes).map((l) => ({
        ...l,
        kept: { ...wrong, code: `${wrong.code}${l.digit}` },
        reason: "for the test",
      }));
      expect((await list.signCodes(own, opened, coded, lines, STAFF, async () => {})).outcome).toBe("changed");
      const codes = stored<Condition>("Condition").map((c) => JSON.stringify(c));
      expect(codes.filter((c) => c.includes("S62.639B"))).toEqual([]);
      expect(codes.filter((c) => c.includes("Changed by a colleague")).length).toBe(1);
    },
  );

  it("are refused while it is not said what the encounter was for, and a change without a reason is refused", async () => {
    const opened = await caseOf(MALLET);
    const coded = await code(opened.of);
    const unsaid = { ...coded, encounter: { ...coded.encounter, kind: "not-stated" as const } };
    expect((await sign(opened, unsaid)).outcome).toBe("not-done");
    const silent = linesOf(coded.codes).map((line) => ({ ...line, kept: undefined }));
    const report = await sign(opened, coded, silent);
    expect(report.outcome === "not-done" && report.problem.what).toContain("say why");
    expect(stored<Provenance>("Provenance").filter((p) => JSON.stringify(p.activity ?? "").includes("signed"))).toEqual(
      [],
    );
  });

  it("a record that was amended after it was coded comes back as changed", async () => {
    const opened = await caseOf(MALLET);
    expect((await sign(opened, await code(opened.of))).outcome).toBe("done");
    await control(practice, { enter: [{ ...opened.of.record.resource, status: "amended" }] });
    expect((await caseOf(MALLET)).of.state).toBe("changed");
  });
});

describe("a plan that was revised after it was coded", () => {
  const NEXT = "b7c1e0aa-1111-4222-8333-444455556666";
  /** As the app writes a revision in which the diagnosis stays right: a new plan and record, the diagnosis under its earlier name. */
  async function revised(day: string): Promise<void> {
    const ofMallet = <T extends { subject?: unknown }>(type: string) =>
      stored<T & Record<string, unknown>>(type).find((one) =>
        JSON.stringify(one.subject ?? {}).includes("coder-mallet"),
      )!;
    const [plan, record] = [ofMallet("CarePlan"), ofMallet("QuestionnaireResponse")];
    const renamed = (one: object) => {
      const old = String((plan.identifier as { value: string }[])[0]!.value).replace(/:plan$/, "");
      return JSON.parse(
        JSON.stringify(one).replaceAll(old, NEXT).replaceAll("2026-11-02T14:45:00", `${day}T18:00:00`),
      ) as object;
    };
    const next = renamed(plan) as Record<string, unknown>;
    await control(practice, {
      enter: [
        { ...plan, status: "revoked" },
        { ...next, id: "next-plan", addresses: plan.addresses, replaces: [{ reference: `CarePlan/${plan.id}` }] },
        { ...renamed(record), id: "next-record" },
      ],
    });
  }
  const mallets = async (filter: list.CaseFilter = {}) =>
    (await listed(filter)).cases.filter((c) => c.patient.name === MALLET).map((c) => [c.record.reference, c.state]);

  it("at the same encounter stands as changed, alone, with how it was coded before, and is coded again on the same diagnosis", async () => {
    const opened = await caseOf(MALLET);
    expect((await sign(opened, await code(opened.of))).outcome).toBe("done");
    await revised("2026-11-02");
    expect(await mallets()).toEqual([["QuestionnaireResponse/next-record", "changed"]]);
    const again = await caseOf(MALLET);
    expect(again.of.before.map((s) => [s.by, s.lines.map((l) => l.kept?.code)])).toEqual([
      ["Solveig Marchbanks", ["S62.635A"]],
    ]);
    expect([again.of.encounter.kind, again.of.kindBecause]).toEqual(["initial", "As it was coded before."]);
    expect(again.conditions.map(({ reference }) => reference)).toEqual(
      opened.conditions.map(({ reference }) => reference),
    );
    const other = linesOf((await code(again.of)).codes).map((l) => ({
      ...l,
      kept: { code: "S62.665A", display: "Nondisplaced" },
      reason: "Film read again",
    }));
    expect((await sign(again, await code(again.of), other)).outcome).toBe("done");
    expect(await mallets()).toEqual([["QuestionnaireResponse/next-record", "coded"]]);
    const codes = stored<Condition>("Condition").filter((c) => c.subject.reference === "Patient/coder-mallet");
    expect(codes.map((c) => icd(c.id!))).toEqual(["S62.665A"]);
  });
  it("at a later encounter leaves the earlier one coded and in the list; the later one is to be coded by itself", async () => {
    const opened = await caseOf(MALLET);
    expect((await sign(opened, await code(opened.of))).outcome).toBe("done");
    await revised("2026-11-06");
    expect((await mallets()).sort()).toEqual(
      [
        [opened.of.record.reference, "coded"],
        ["QuestionnaireResponse/next-record", "to-code"],
      ].sort(),
    );
  });
});

describe("a coder's rights", () => {
  it("S1 are the least: signed records are read, codes, questions and who coded are written, nothing else", async () => {
    const users = session.granted.filter((s) => s.startsWith("user/"));
    expect(users.sort()).toEqual([
      "user/CarePlan.rs",
      "user/Condition.crus",
      "user/Patient.rs",
      "user/Provenance.crs",
      "user/QuestionnaireResponse.rs",
      "user/Task.crus",
    ]);
    for (const type of ["ServiceRequest", "Appointment", "QuestionnaireResponse", "CarePlan"])
      expect(session.can(type, "u")).toBe(false);
  });
});
