import * as z from "zod/mini";
import { type Chart, type ChartPartName, chartFrom, chartSearches, type PartResult } from "../fhir/chart.ts";
import { localOf, machineZone } from "../fhir/dates.ts";
import { DATES, type FindingsBack, findingsBack, questionnaireUrl, responseShape } from "../fhir/findings-back.ts";
import { type CaseRecord, FINDING_DEFINITIONS, MODULES, readCase } from "../pathway/index.ts";

export type Input =
  | {
      readonly ok: true;
      readonly record: CaseRecord;
      /** What the rest of a chart suggests and nobody has confirmed; only for FHIR input. */
      readonly proposals?: Pick<Chart, "proposals" | "dates">;
      /** What the reader of the result must know about the input. */
      readonly notes: readonly string[];
    }
  | { readonly ok: false; readonly problems: readonly string[] };

const refused = (...problems: readonly string[]): Input => ({ ok: false, problems });
const resource = z.looseObject({ resourceType: z.string(), id: z.optional(z.string()) });
const bundle = z.object({ entry: z.optional(z.array(z.object({ resource: z.optional(resource) }))) });
type Resource = z.output<typeof resource>;

/** Reads findings, or a FHIR resource, that came from outside. Every problem is one line: where, what is wrong, what is allowed. */
export function readInput(input: unknown): Input {
  if (typeof input === "object" && input !== null && "resourceType" in input) return fromFhir(input);
  return checked(input, "", []);
}

function checked(
  input: unknown,
  under: string,
  notes: readonly string[],
  proposals?: Pick<Chart, "proposals" | "dates">,
): Input {
  const read = readCase(input);
  if (read.ok) return { ok: true, record: read.record, notes, ...(proposals ? { proposals } : {}) };
  return refused(...read.problems.map((p) => `${under}${p.path || "the input"}: ${p.problem}; allowed: ${p.allowed}`));
}

const OURS = MODULES.map(questionnaireUrl).join(" or ");
/** R4 questionnaire-answers-status: what was entered in error or given up is no finding. */
const USABLE = ["in-progress", "completed", "amended"];

/**
 * A Bundle, or a QuestionnaireResponse alone. Only the response's answers are findings: a clinician confirmed each of
 * them. What the other resources suggest is given back beside them.
 */
function fromFhir(input: object): Input {
  const resources = resourcesIn(input);
  if (!Array.isArray(resources)) return resources;
  const zone = machineZone();
  const responses = resources.flatMap(({ value, at }) => {
    if (value.resourceType !== "QuestionnaireResponse") return [];
    const read = responseShape.safeParse(value);
    const back = read.success ? findingsBack(read.data, MODULES, zone) : undefined;
    return read.success && back ? [{ response: read.data, back, value, at }] : [];
  });
  const usable = responses.filter(({ response }) => USABLE.includes(response.status));
  const [newest] = usable.sort((a, b) => (b.response.authored ?? "").localeCompare(a.response.authored ?? ""));
  if (!newest) {
    const found = responses.length
      ? `the QuestionnaireResponse has the status ${responses.map((r) => r.response.status).join(", ")}; allowed: ${USABLE.join(", ")}`
      : `no confirmed findings; allowed: a QuestionnaireResponse to ${OURS}`;
    return refused(`${responses[0] ? `${responses[0].at}.status` : "the input"}: ${found}`);
  }
  const { back, at, value, response } = newest;
  const patientId = /^(?:.*\/)?Patient\/([^/]+)$/.exec(response.subject?.reference ?? "")?.[1];
  const patients = resources.filter((r) => r.value.resourceType === "Patient");
  const others = patients.filter((p) => p.value.id !== patientId);
  if (others.length)
    return refused(
      ...others.map(
        (p) => `${p.at}: Patient/${p.value.id} is not the subject of the findings; allowed: Patient/${patientId} only`,
      ),
    );
  const unknown = back.notUnderstood.map((finding) =>
    DATES.some((date) => date === finding)
      ? `${finding}: is not a real date; allowed: a real date: yyyy-MM-dd`
      : `${at}: the answer to "${finding}" is not one of its values; allowed: ${allowedFor(finding)}`,
  );
  if (unknown.length) return refused(...unknown);

  const record = recordOf(back, response.authored, zone);
  const rest = resources.filter((r) => r.value !== value).map((r) => r.value);
  const chart = chartOf(rest, patientId ?? "", record.assessedAt?.slice(0, 10) ?? "", zone);
  const notes = [
    ...(usable.length > 1
      ? [`${usable.length} sets of findings: the newest, authored ${response.authored}, is assessed`]
      : []),
    ...chart.problems.map((p) => p.say),
  ];
  return checked(record, `${at} `, notes, { proposals: chart.proposals, dates: chart.dates });
}

function resourcesIn(input: object): { value: Resource; at: string }[] | Input {
  const read = resource.safeParse(input);
  if (!read.success) return refused("resourceType: is not a text; allowed: Bundle or QuestionnaireResponse");
  const { resourceType } = read.data;
  if (resourceType === "QuestionnaireResponse") return [{ value: read.data, at: resourceType }];
  if (resourceType !== "Bundle")
    return refused(`resourceType: ${resourceType} holds no findings; allowed: Bundle or QuestionnaireResponse`);
  const entries = bundle.safeParse(input);
  if (!entries.success)
    return refused(
      ...entries.error.issues.map(
        (issue) =>
          `Bundle.${issue.path.map(String).join(".")}: ${issue.message}; allowed: entry[].resource as in FHIR R4`,
      ),
    );
  return (entries.data.entry ?? []).flatMap((entry, i) =>
    entry.resource ? [{ value: entry.resource, at: `Bundle.entry.${i}` }] : [],
  );
}

const recordOf = (back: FindingsBack, authored: string | undefined, zone: string): Partial<CaseRecord> => {
  const { notUnderstood: _, ...findings } = back;
  return { ...(authored ? { assessedAt: localOf(authored, zone) } : {}), ...findings };
};

/** The other resources, sorted into the parts of a chart by the searches that would have found them. */
function chartOf(resources: readonly Resource[], patientId: string, today: string, zone: string): Chart {
  const searches = chartSearches(patientId, { encounterId: "any", today });
  const parts = Object.fromEntries(
    searches.map(({ part }): [ChartPartName, PartResult] => {
      const types = searches.filter((s) => s.part === part).map((s) => s.type);
      const found = resources.filter((r) => types.includes(r.resourceType));
      return [part, { state: found.length ? "found" : "empty", resources: found, more: false }];
    }),
  );
  return chartFrom(parts, { patientId, today, zone });
}

function allowedFor(finding: string): string {
  const definition = FINDING_DEFINITIONS[finding];
  if (!definition) return "a question of this questionnaire";
  return definition.type === "choice"
    ? `one of ${definition.values.join(", ")}`
    : `${definition.min} to ${definition.max} ${definition.unit}`;
}
