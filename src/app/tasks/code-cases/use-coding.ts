import { formatISO } from "date-fns";
import { codeEncounter } from "../../../coding/code-encounter.ts";
import { deriveForCoding } from "../../../coding/derive.ts";
import type { CodedEncounter, EncounterKind } from "../../../coding/encounter.ts";
import { codePolicyOf } from "../../../coding/other-systems.ts";
import { type CodeTable, tableOn } from "../../../coding/tables.ts";
import { type CodingCase, type SentQuery, sayFinding, withAnswers } from "../../../fhir/coding-case.ts";
import { machineZone } from "../../../fhir/dates.ts";
import { KNOWLEDGE_VERSION, MODULES, type Pathway } from "../../../pathway/index.ts";
import type { CodingDay } from "../../../smart/coding-list.ts";
import type { ClinicSession } from "../../../smart/session.ts";
import { localTime } from "../../say-date.ts";
import { APP_VERSION } from "../../version.ts";

export const META = { appVersion: APP_VERSION, knowledgeVersion: KNOWLEDGE_VERSION };
/** What every part of the coder's desk needs. */
export interface Desk {
  readonly session: ClinicSession;
  readonly pathway: Pathway;
  readonly day: CodingDay;
}
export const dayOf = (session: ClinicSession): CodingDay => ({
  today: localTime(session.clock.now()).slice(0, 10),
  zone: machineZone(),
  modules: MODULES,
});
/** The instant of an act by the record system's clock. */
export const nowOf = (session: ClinicSession): string => formatISO(session.clock.now());

export interface Coded {
  readonly coded: CodedEncounter;
  readonly table: CodeTable | undefined;
  /** Answers in words, which no rule can read. */
  readonly toRead: readonly SentQuery[];
}
/** Codes one record with the clinician's answers; `kind` as the coder states it. */
export async function codeCase(
  { pathway }: Pick<Desk, "pathway">,
  of: CodingCase,
  kind: EncounterKind = of.encounter.kind,
  { changes = true }: { readonly changes?: boolean } = {},
): Promise<Coded> {
  const table = await tableOn(of.day);
  const say = sayFinding(pathway.module);
  const policy = codePolicyOf(pathway.policy);
  const encounter = {
    ...of.encounter,
    kind,
    derived: deriveForCoding(pathway, of.encounter.record as Parameters<typeof deriveForCoding>[1]),
  };
  const answered = withAnswers(encounter, of.queries, (now) =>
    codeEncounter(now, table, { policy, changes: false, say }),
  );
  return { coded: codeEncounter(answered.encounter, table, { policy, changes, say }), table, toRead: answered.toRead };
}
