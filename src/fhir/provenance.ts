import type { Device, Provenance, ProvenanceEntity } from "fhir/r4";
import { hl7, KNOWLEDGE_TAG } from "./codings.ts";
import { type ActContext, type DraftInput, type DraftItem, person, type Writer } from "./draft-item.ts";

const PROGRAM = "program";
const SEEN = "Seen before signing, after the chart was read:";
const OLDER = "A newer version of the program was installed; the clinician chose to sign with this one";

/** The program as the one agent that is always there (R4: the app is an agent of its own); the person is added by the act. */
export function assembledBy(appVersion: string, knowledgeVersion: string): Provenance {
  const program: Device = {
    resourceType: "Device",
    id: PROGRAM,
    deviceName: [{ name: "Fingerpost", type: "model-name" }],
    version: [
      { type: { text: "program" }, value: appVersion },
      { type: { text: "clinical knowledge" }, value: knowledgeVersion },
    ],
  };
  return {
    resourceType: "Provenance",
    contained: [program],
    target: [],
    recorded: "",
    agent: [
      {
        ...role("assembler", "Assembler"),
        who: { reference: `#${PROGRAM}`, display: `Fingerpost ${appVersion}` },
      },
    ],
  };
}

/** Who made the plan, with what program and knowledge, from which chart entries. Targets and people are set by the act. */
export function draftProvenance(input: DraftInput): Provenance {
  const { assessment, overrides = [] } = input;
  const made = assembledBy(input.appVersion, assessment.knowledgeVersion);
  const read: ProvenanceEntity[] = (input.chart?.used ?? []).map((u) => ({
    role: "source",
    what: { reference: u.version ? `${u.reference}/_history/${u.version}` : u.reference },
  }));
  // R4 provenance-entity-role has no "seen": what was seen is a source like what was read, and says so in words.
  const seen: ProvenanceEntity[] = (input.seenNews ?? []).flatMap(({ words, references }) => {
    const display = `${SEEN} ${words}`;
    const what = references.length > 0 ? references.map((reference) => ({ reference, display })) : [{ display }];
    return what.map((one) => ({ role: "source" as const, what: one }));
  });
  const rules: ProvenanceEntity = {
    role: "derivation",
    what: {
      identifier: { system: KNOWLEDGE_TAG, value: assessment.knowledgeVersion },
      display: `Clinical knowledge ${assessment.knowledgeVersion}, site policy "${assessment.policy.site}"${assessment.policy.approvedOn ? `, approved ${assessment.policy.approvedOn}` : ""}${input.olderProgram ? `. ${OLDER}` : ""}`,
    },
  };
  const decided: ProvenanceEntity[] = overrides.map((o) =>
    revision(`Rule ${o.rule} proposed: ${o.proposed}. The clinician decided: ${o.decided}. Reason: ${o.reason}.`),
  );
  return {
    ...made,
    // Who saved the draft stays named beside who changes or signs it.
    agent: [
      ...made.agent,
      ...(input.draftedBy ? [{ ...role("enterer", "Enterer"), who: { ...input.draftedBy } }] : []),
    ],
    entity: [rules, ...read, ...seen, ...decided],
  };
}
const role = (code: string, display: string) => ({
  type: { coding: [hl7("provenance-participant-type", code, display)] },
});
const revision = (display: string): ProvenanceEntity => ({ role: "revision", what: { display } });

/** The clinician's own changes to the drafts, and what was left out, each with the reason given. */
export const changesOf = (items: readonly DraftItem[]): ProvenanceEntity[] =>
  items.flatMap((item) => [
    ...item.changes.map((c) =>
      revision(
        `${item.title}, ${c.label}: "${c.from}" changed to "${c.to}".${c.reason ? ` Reason: ${c.reason}.` : ""}`,
      ),
    ),
    ...(item.removed
      ? [{ role: "removal" as const, what: { display: `${item.title}: left out. Reason: ${item.removed.reason}` } }]
      : []),
  ]);

/**
 * R4 provenance-activity-type: what was voided is nullified; what was superseded, withdrawn or refuted is revised, with the reason in words.
 */
export const lifeActivity = (acts: readonly string[]): NonNullable<Provenance["activity"]> => ({
  coding: [
    acts.every((a) => a === "void" || a === "drop")
      ? hl7("v3-DataOperation", "NULLIFY", "nullify")
      : hl7("v3-DataOperation", "UPDATE", "revise"),
  ],
});

export const provenanceWriter: Writer<Provenance> = {
  words(provenance) {
    const isNews = (e: ProvenanceEntity) => e.role === "source" && e.what.display?.startsWith(SEEN) === true;
    const read = (provenance.entity ?? []).filter((e) => e.role === "source" && !isNews(e)).length;
    const seen = new Set((provenance.entity ?? []).filter(isNews).map((e) => `${e.what.display}.`));
    const rules = provenance.entity?.find((e) => e.role === "derivation")?.what.display;
    const changed = (provenance.entity ?? []).flatMap((e) =>
      e.role === "revision" || e.role === "removal" ? [e.what.display ?? ""] : [],
    );
    const named = (code: string) =>
      provenance.agent.filter((a) => a.type?.coding?.[0]?.code === code).map((a) => a.who);
    const signer = named("author")[0] ?? (provenance.recorded ? named("enterer").at(-1) : undefined);
    const drafted = named("enterer").filter((who) => who !== signer);
    return [
      signer
        ? `Made by ${signer.display ?? signer.reference} with ${provenance.agent[0]?.who.display}.`
        : `Made with ${provenance.agent[0]?.who.display}; the person who saves or signs is added.`,
      ...drafted.map((who) => `The draft was saved by ${who.display ?? who.reference}.`),
      ...(rules ? [`Rests on: ${rules}.`] : []),
      `${read} chart ${read === 1 ? "entry was" : "entries were"} used.`,
      ...seen,
      ...changed,
    ];
  },
  edits: () => [],
  edit: () => "The record of who did what cannot be edited.",
  perform(provenance, context: ActContext) {
    const sign = context.act === "sign";
    provenance.recorded = context.at;
    provenance.occurredDateTime = context.at;
    // A click is no signature (R4 Provenance.signature): it is kept as agent and time.
    provenance.activity = {
      coding: [
        sign
          ? hl7("v3-DocumentCompletion", "LA", "legally authenticated")
          : hl7("v3-DataOperation", "CREATE", "create"),
      ],
    };
    const [program, ...before] = provenance.agent.filter((a) => a.type?.coding?.[0]?.code !== "author");
    const others = before.filter((a) => a.who.reference !== context.signer.reference);
    const acting = { ...(sign ? role("author", "Author") : role("enterer", "Enterer")), who: person(context) };
    provenance.agent = [...(program ? [program] : []), ...others, acting];
  },
};
