/**
 * What a coder signs: the codes that were kept beside those that were proposed, with the reason for each difference. It is kept as one
 * Provenance for each signing, over the findings and the diagnoses: entries of that kind are only ever added, carry their author, and are
 * found by what they target. Versions of a Condition say neither who proposed what nor why, and R4 lets a server keep none. Pure.
 */
import type { Condition, Provenance } from "fhir/r4";
import * as z from "zod/mini";
import { whyNotBeside } from "../coding/added-code.ts";
import type { CodedEncounter, CodeLine, EncounterKind, Role } from "../coding/encounter.ts";
import { ENCOUNTER_KINDS } from "../coding/encounter.ts";
import type { ActStep } from "./clinic-act.ts";
import { conditionKey, SITE_SNOMED } from "./coded-condition.ts";
import { CODE_LINE } from "./coded-encounter.ts";
import type { CodingCase } from "./coding-case.ts";
import { BASE, coding, digitWords, hl7, ICD10CM, ownExtension, PLAN_ITEM, text } from "./codings.ts";
import { checkText, fingerprint, narrative } from "./draft-item.ts";
import type { Held } from "./listed-visit.ts";
import { assembledBy } from "./provenance.ts";
import { codingShape, referenceShape } from "./shapes.ts";

const SIGNING = ownExtension("coding-signed");
const ASSUMED = ownExtension("assumed-by-classification");
const RULE = ownExtension("code-rule");
const SECTION = ownExtension("guideline-section");
const ACT = `${BASE}/CodeSystem/coding-act`;

export interface Named {
  readonly code: string;
  readonly display: string;
}
/**
 * One line as the coder leaves it, in the coder's order: `kept` absent: left out; `proposed` absent: added by the coder; `reason` wherever it
 * differs from what was proposed.
 */
export interface KeptLine {
  readonly key: string;
  readonly role: Role;
  readonly digit?: number | undefined;
  readonly system: string;
  readonly version: string;
  readonly proposed?: Named | undefined;
  readonly kept?: Named | undefined;
  readonly reason?: string | undefined;
}
export interface Signing {
  readonly reference: string;
  readonly at: string;
  readonly by: string;
  /** Version of the findings that was coded. */
  readonly recordVersion?: string | undefined;
  readonly kind: EncounterKind;
  /** Answered queries that it rests on. */
  readonly answers: readonly string[];
  readonly lines: readonly KeptLine[];
}
export const isChanged = ({ proposed, kept }: Pick<KeptLine, "proposed" | "kept">): boolean =>
  kept?.code !== proposed?.code;

/** The lines as proposed, for the coder to keep or change. */
export const linesOf = (codes: readonly CodeLine[]): KeptLine[] =>
  codes.map(({ key, role, digit, system, version, code, display }) => ({
    key,
    role,
    digit,
    system,
    version,
    proposed: { code, display },
    kept: { code, display },
  }));
/** A difference in words: "S62.634A changed to S62.664A. Reason: …". */
export const differenceWords = ({ proposed, kept, reason }: KeptLine): string =>
  `${proposed ? `${proposed.code} ${kept ? `changed to ${kept.code}` : "left out"}` : `${kept?.code} added`}.${reason ? ` Reason: ${reason}` : ""}`;

/** The coded encounter with what the coder kept, for exports; signed by the coder. */
export function asKept(coded: CodedEncounter, signing: Signing | undefined): CodedEncounter {
  if (!signing) return coded;
  const kept = signing.lines.filter((line) => line.kept);
  const codes = kept.map((line, i): CodeLine => {
    // What decided a proposal says nothing of the code that a coder chose instead of it.
    const proposed = coded.codes.find((c) => c.key === line.key && c.code === line.kept!.code);
    return {
      ...(proposed ?? {
        rule: "chosen by the coder",
        because: "",
        guidelines: [],
        used: [],
        defaults: [],
        wouldChange: [],
      }),
      key: line.key,
      sequence: i + 1,
      role: line.role,
      system: line.system,
      version: line.version,
      ...line.kept!,
      ...(line.digit === undefined ? {} : { digit: line.digit }),
    };
  });
  return {
    ...coded,
    state: codes.length ? "coded" : "not-coded",
    codes,
    encounter: { ...coded.encounter, signedBy: signing.by, signedAt: signing.at },
  };
}

/** Who codes, when (instant with offset), with which program. */
export interface ActingCoder {
  readonly signer: { readonly reference: string; readonly display?: string | undefined };
  readonly at: string;
  readonly appVersion: string;
  readonly knowledgeVersion: string;
}
export type SigningAnswer =
  | { readonly ok: true; readonly steps: readonly ActStep[] }
  | { readonly ok: false; readonly problem: string };

/** The stored diagnosis of one digit of a record, and those that coders added to it. */
export function diagnosesOf({ planId, encounter, addresses }: CodingCase, conditions: readonly Held[]) {
  const named = (system: string, value: string) =>
    conditions.find(({ resource }) =>
      (resource as unknown as Condition).identifier?.some((i) => i.system === system && i.value === value),
    );
  const digits = encounter.record.digits;
  // A revised plan leaves a diagnosis that stays right as its earlier self, under the name it got there.
  const standing = (key: string) =>
    conditions.find(
      ({ reference, resource }) =>
        addresses.includes(reference) &&
        (resource as unknown as Condition).identifier?.some(
          (i) => i.system === PLAN_ITEM && i.value?.endsWith(`:${key}`),
        ),
    );
  return {
    ofDigit: (at: number) => {
      const key = conditionKey(digits, at);
      return named(PLAN_ITEM, `${planId}:${key}`) ?? standing(key);
    },
    ofLine: (key: string) => named(CODE_LINE, `${encounter.id}:${key}`),
    added: conditions.filter(({ resource }) =>
      (resource as unknown as Condition).identifier?.some(
        (i) => i.system === CODE_LINE && i.value?.startsWith(`${encounter.id}:`),
      ),
    ),
  };
}

/**
 * What one signing writes: the first code of each digit on its diagnosis, over the version that was read; each further code as a diagnosis
 * of its own; what is no longer coded as entered in error; one Provenance. Codings of other systems and all other elements stay.
 */
export function signing(
  of: CodingCase,
  coded: CodedEncounter,
  lines: readonly KeptLine[],
  conditions: readonly Held[],
  staff: ActingCoder,
): SigningAnswer {
  const no = (problem: string): SigningAnswer => ({ ok: false, problem });
  if (of.encounter.kind === "not-stated") return no("Say what the encounter was for first.");
  if (lines.length === 0) return no("There is no code to sign.");
  for (const line of lines) {
    if (!isChanged(line)) continue;
    const problem = checkText(line.reason ?? "", true);
    if (problem)
      return no(
        line.proposed ? `${line.proposed.code}: say why it is not kept.` : `${line.kept?.code}: say why it is added.`,
      );
  }
  const kept = lines.filter((line) => line.kept);
  const twice = kept.find((line, i) => kept.findIndex((l) => l.kept!.code === line.kept!.code) !== i);
  if (twice) return no(`${twice.kept!.code} stands twice: leave one out.`);
  const listed = kept.map((line) => ({ code: line.kept!.code, digit: line.digit }));
  for (const [i, line] of kept.entries()) {
    const problem = isChanged(line) && whyNotBeside(listed[i]!, listed.toSpliced(i, 1));
    if (problem) return no(problem);
  }
  const stored = diagnosesOf(of, conditions);
  const used = new Set<string>();
  const steps = kept.flatMap((line): ActStep[] => {
    const main = line.digit === undefined ? undefined : stored.ofDigit(line.digit);
    const held = main && !used.has(main.reference) ? main : stored.ofLine(line.key);
    if (!held) return [added(of, line, coded, staff, main)];
    used.add(held.reference);
    const now = recoded(of, held, line, coded, staff);
    return now ? [over(held, now)] : [];
  });
  const gone = stored.added.filter(
    ({ reference, resource }) =>
      !used.has(reference) &&
      (resource as unknown as Condition).verificationStatus?.coding?.[0]?.code !== "entered-in-error",
  );
  const withdrawn = gone.map((held) => over(held, wrong(held)));
  const all = [...steps, ...withdrawn];
  return { ok: true, steps: [...all, provenance(of, lines, all, staff)] };
}

function copyOf(held: Held): Condition {
  const copy = structuredClone(held.resource) as unknown as Condition;
  const { versionId: _version, lastUpdated: _updated, ...meta } = copy.meta ?? {};
  if (Object.keys(meta).length > 0) copy.meta = meta;
  else delete copy.meta;
  return copy;
}
const over = (held: Held, resource: Condition): ActStep => ({
  what: "diagnosis",
  method: "PUT",
  url: held.reference,
  version: held.version,
  resource,
  undo: copyOf(held),
  before: true,
});
function wrong(held: Held): Condition {
  const copy = copyOf(held);
  // R4 con-5: no clinical status beside entered-in-error.
  delete copy.clinicalStatus;
  copy.verificationStatus = { coding: [hl7("condition-ver-status", "entered-in-error")] };
  return copy;
}
const codingOf = ({ system, version, kept }: KeptLine) => ({ ...coding(system, kept!.code, kept!.display), version });
const decidedBy = (line: KeptLine, coded: CodedEncounter) => {
  const proposed = isChanged(line) ? undefined : coded.codes.find((c) => c.key === line.key);
  return [
    ...(proposed?.defaults ?? []).map((said) => text(ASSUMED, said)),
    ...(proposed ? [text(RULE, proposed.rule), ...proposed.guidelines.map((g) => text(SECTION, g.section))] : []),
  ];
};
const siteOf = (of: CodingCase, at: number) => {
  const { digit, side } = of.encounter.record.digits[at] ?? {};
  const site = digit === undefined ? undefined : SITE_SNOMED[digit === "thumb" ? "thumb" : "finger"];
  return [{ ...(site ? { coding: [site] } : {}), text: `Distal phalanx, ${digitWords(digit, side)}` }];
};
/** The stored diagnosis with the code of the line; undefined when it says so already. */
function recoded(
  of: CodingCase,
  held: Held,
  line: KeptLine,
  coded: CodedEncounter,
  staff: ActingCoder,
): Condition | undefined {
  const copy = copyOf(held);
  const others = (copy.code?.coding ?? []).filter((c) => c.system !== ICD10CM);
  copy.code = { ...copy.code, coding: [codingOf(line), ...others] };
  const extension = [
    ...(copy.extension ?? []).filter((e) => ![ASSUMED, RULE, SECTION].includes(e.url)),
    ...decidedBy(line, coded),
  ];
  if (extension.length > 0) copy.extension = extension;
  else delete copy.extension;
  const before = copyOf(held);
  const site = line.digit === undefined ? before.bodySite : siteOf(of, line.digit);
  const sameSite = site?.[0]?.text === before.bodySite?.[0]?.text;
  if (site && !sameSite) copy.bodySite = site;
  const same = before.code?.coding?.find((c) => c.system === ICD10CM);
  if (same?.code === line.kept!.code && same?.version === line.version && sameSite) return undefined;
  copy.text = narrative(`Coded by ${staff.signer.display ?? staff.signer.reference}.`, [
    `${line.kept!.code} (ICD-10-CM ${line.version}): ${line.kept!.display}.`,
    ...(copy.code.text ? [copy.code.text] : []),
  ]);
  return copy;
}
function added(
  of: CodingCase,
  line: KeptLine,
  coded: CodedEncounter,
  staff: ActingCoder,
  main: Held | undefined,
): ActStep {
  const value = `${of.encounter.id}:${line.key}`;
  const beside = main?.resource as unknown as Condition | undefined;
  const resource: Condition = {
    resourceType: "Condition",
    extension: decidedBy(line, coded),
    identifier: [{ system: CODE_LINE, value }],
    clinicalStatus: { coding: [hl7("condition-clinical", "active")] },
    verificationStatus: beside?.verificationStatus ?? { coding: [hl7("condition-ver-status", "confirmed")] },
    category: [{ coding: [hl7("condition-category", "encounter-diagnosis", "Encounter Diagnosis")] }],
    code: { coding: [codingOf(line)], text: line.kept!.display },
    ...(line.digit === undefined ? {} : { bodySite: siteOf(of, line.digit) }),
    subject: { reference: of.patient.reference },
    ...(of.record.resource.encounter ? { encounter: of.record.resource.encounter as Condition["encounter"] } : {}),
    recordedDate: staff.at,
    recorder: staff.signer.display
      ? { reference: staff.signer.reference, display: staff.signer.display }
      : { reference: staff.signer.reference },
    text: narrative(`Coded by ${staff.signer.display ?? staff.signer.reference}.`, [line.kept!.display]),
  };
  if (resource.extension?.length === 0) delete resource.extension;
  const { clinicalStatus: _none, ...undone } = resource;
  return {
    what: "diagnosis",
    method: "POST",
    url: "Condition",
    resource,
    ifNoneExist: `identifier=${CODE_LINE}|${value}`,
    urn: urnOf(value),
    undo: { ...undone, verificationStatus: { coding: [hl7("condition-ver-status", "entered-in-error")] } },
    before: true,
  };
}
const urnOf = (of: string): string => {
  const [a, b] = [fingerprint(of), fingerprint(`${of}.`)];
  return `urn:uuid:${a.slice(0, 8)}-${a.slice(8)}-4${b.slice(0, 3)}-8${b.slice(3, 6)}-${b.slice(6)}${a.slice(0, 6)}`;
};

function provenance(
  of: CodingCase,
  lines: readonly KeptLine[],
  steps: readonly ActStep[],
  staff: ActingCoder,
): ActStep {
  const made = assembledBy(staff.appVersion, staff.knowledgeVersion);
  const item = `${of.planId}:coding-${staff.at.replace(/\D/g, "")}`;
  const version = of.record.version;
  const resource: Provenance = {
    ...made,
    meta: { tag: [coding(PLAN_ITEM, item)] },
    target: [
      { reference: of.record.reference },
      ...steps.map(({ method, url, urn }) => ({ reference: method === "PUT" ? url : urn! })),
    ],
    recorded: staff.at,
    activity: { coding: [coding(ACT, "signed", "Diagnosis codes signed")] },
    extension: [
      {
        url: SIGNING,
        extension: [
          { url: "kind", valueCode: of.encounter.kind },
          ...(version ? [{ url: "record-version", valueString: version }] : []),
          ...of.queries
            .filter((q) => q.answer)
            .map((q) => ({ url: "answer", valueReference: { reference: q.held.reference } })),
          ...lines.map((line) => ({
            url: "line",
            extension: [
              { url: "key", valueString: line.key },
              { url: "role", valueCode: line.role },
              ...(line.digit === undefined ? [] : [{ url: "digit", valueInteger: line.digit }]),
              ...(line.proposed
                ? [
                    {
                      url: "proposed",
                      valueCoding: {
                        ...coding(line.system, line.proposed.code, line.proposed.display),
                        version: line.version,
                      },
                    },
                  ]
                : []),
              ...(line.kept ? [{ url: "kept", valueCoding: codingOf(line) }] : []),
              ...(line.reason?.trim() ? [{ url: "reason", valueString: line.reason.trim() }] : []),
            ],
          })),
        ],
      },
    ],
    agent: [
      ...made.agent,
      {
        type: { coding: [hl7("provenance-participant-type", "verifier", "Verifier")] },
        who: staff.signer.display
          ? { reference: staff.signer.reference, display: staff.signer.display }
          : { reference: staff.signer.reference },
      },
    ],
    entity: [
      {
        role: "source",
        what: { reference: version ? `${of.record.reference}/_history/${version}` : of.record.reference },
      },
      ...lines
        .filter(isChanged)
        .map((line) => ({ role: "revision" as const, what: { display: differenceWords(line) } })),
    ],
  };
  return {
    what: "record",
    method: "POST",
    url: "Provenance",
    resource,
    ifNoneExist: `_tag=${PLAN_ITEM}|${item}`,
    before: false,
  };
}

const part = z.object({
  url: z.string(),
  valueString: z.optional(z.string()),
  valueCode: z.optional(z.string()),
  valueInteger: z.optional(z.number()),
  valueCoding: z.optional(z.extend(codingShape, { version: z.optional(z.string()) })),
  valueReference: z.optional(referenceShape),
});
const signingShape = z.object({
  resourceType: z.literal("Provenance"),
  id: z.string(),
  recorded: z.string(),
  target: z.array(referenceShape),
  agent: z.array(z.object({ who: z.optional(referenceShape) })),
  extension: z.array(
    z.object({
      url: z.string(),
      extension: z.optional(z.array(z.extend(part, { extension: z.optional(z.array(part)) }))),
    }),
  ),
});
const ROLES: readonly Role[] = ["principal", "additional", "external-cause"];

/** A stored signing over this record; undefined for any other resource. */
export function readSigning(raw: unknown, record: string): Signing | undefined {
  const read = signingShape.safeParse(raw);
  const kept = read.success ? read.data.extension.find((e) => e.url === SIGNING)?.extension : undefined;
  if (!read.success || !kept) return undefined;
  if (!read.data.target.some(({ reference }) => reference?.replace(/\/_history\/.*$/, "").endsWith(record)))
    return undefined;
  const of = (url: string) => kept.find((e) => e.url === url);
  const who = read.data.agent.at(-1)?.who;
  return {
    reference: `Provenance/${read.data.id}`,
    at: read.data.recorded,
    by: who?.display ?? who?.reference ?? "not stated",
    recordVersion: of("record-version")?.valueString,
    kind: ENCOUNTER_KINDS.find((k) => k === of("kind")?.valueCode) ?? "not-stated",
    answers: kept.flatMap((e) =>
      e.url === "answer" && e.valueReference?.reference ? [e.valueReference.reference] : [],
    ),
    lines: kept.flatMap((e): KeptLine[] => {
      if (e.url !== "line") return [];
      const inner = (url: string) => e.extension?.find((x) => x.url === url);
      const proposed = inner("proposed")?.valueCoding;
      const then = inner("kept")?.valueCoding;
      const of = proposed ?? then;
      if (!of?.code || !of.system) return [];
      const named = (c: { code?: string | undefined; display?: string | undefined }): Named => ({
        code: c.code ?? "",
        display: c.display ?? "",
      });
      return [
        {
          key: inner("key")?.valueString ?? of.code,
          role: ROLES.find((r) => r === inner("role")?.valueCode) ?? "additional",
          digit: inner("digit")?.valueInteger,
          system: of.system,
          version: of.version ?? "",
          ...(proposed?.code ? { proposed: named(proposed) } : {}),
          ...(then?.code ? { kept: named(then) } : {}),
          reason: inner("reason")?.valueString,
        },
      ];
    }),
  };
}

/** What of a stored diagnosis is different from how it was read, in sentences; for a signing that somebody else came before. */
export function diagnosisDifferences(before: readonly Held[], after: readonly Held[]): string[] {
  const of = ({ resource }: Held) => {
    const { code, bodySite, verificationStatus } = resource as unknown as Condition;
    return {
      code: code?.coding?.find((c) => c.system === ICD10CM)?.code ?? "no code",
      text: code?.text ?? "",
      site: bodySite?.[0]?.text ?? "",
      status: verificationStatus?.coding?.[0]?.code ?? "",
    };
  };
  const words = { code: "Code", text: "Diagnosis in words", site: "Place on the body", status: "Status" } as const;
  return after.flatMap((now) => {
    const then = before.find(({ reference }) => reference === now.reference);
    if (!then) return [`A diagnosis was added: ${of(now).code}, ${of(now).text}.`];
    const [was, is] = [of(then), of(now)];
    return (Object.keys(words) as (keyof typeof words)[]).flatMap((part) =>
      was[part] === is[part] ? [] : [`${words[part]}: was "${was[part]}", is now "${is[part]}".`],
    );
  });
}
