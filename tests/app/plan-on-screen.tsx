import { useReducer } from "react";
import { caseReducer, freshCase, recordOf } from "../../src/app/case-state.ts";
import { planText } from "../../src/app/plan-text.ts";
import PlanScreen from "../../src/app/tasks/see-advice/screen.tsx";
import type { Proposed } from "../../src/app/value-state.ts";
import { assessCase, type CaseRecord, factsOf } from "../../src/pathway/index.ts";
import { pathway } from "../fhir/cases.ts";

/** The plan of a case on its screen, with nothing around it. */
export function Plan({ record: first, operations = [] }: { record: CaseRecord; operations?: readonly Proposed[] }) {
  const { patient, injury, digits, assessedAt, ...dates } = first;
  const [state, dispatch] = useReducer(caseReducer, {
    ...freshCase("plan-1", assessedAt),
    dates,
    patient,
    injury,
    digits,
  });
  const record = recordOf(state);
  const facts = record.digits.map((_, i) => factsOf(record, i));
  const assessment = assessCase(pathway, record);
  const undecided = digits.map(() => []);
  const { module, policy } = pathway;
  const said = { patient: "A", module, policy, record, facts, assessment, decisions: [], undecided, appVersion: "0" };
  return (
    <PlanScreen
      {...{ pathway, state, dispatch, facts, assessment, undecided, operations }}
      text={planText(said)}
      moved={false}
      onBack={() => undefined}
      onDone={() => undefined}
    />
  );
}
