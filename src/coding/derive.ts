import type { CaseRecord, Effect, EffectTable, Pathway } from "../pathway/index.ts";
import { factsOf } from "../pathway/index.ts";
import type { ConfirmedDigit } from "./from-findings.ts";

/**
 * Classes and signs of each digit, for coding many records: the sure lines of one evaluation, without the questions that a full assessment
 * also works out. A table of ordinary fractures is silent once an exit leaves the pathway, as in the assessment.
 */
export function deriveForCoding(pathway: Pathway, record: CaseRecord): Pick<ConfirmedDigit, "classes" | "signs">[] {
  return record.digits.map((_, at) => {
    const { signs, verdicts } = pathway.evaluate(factsOf(record, at));
    const sure = verdicts.map(({ table, sure }) => ({
      ordinary: (table as EffectTable).ordinary === true,
      effects: sure.flatMap((rule) => rule.then as readonly Effect[]),
    }));
    const left = sure.some(({ effects }) => effects.some((e) => e.kind === "exit" && e.leaves));
    const classes = sure
      .filter(({ ordinary }) => !(ordinary && left))
      .flatMap(({ effects }) => effects.flatMap((e) => (e.kind === "class" ? [e.class] : [])));
    return {
      classes: [...new Set(classes)].map((id) => ({ class: id, name: pathway.module.classes[id]?.name ?? id })),
      signs,
    };
  });
}
