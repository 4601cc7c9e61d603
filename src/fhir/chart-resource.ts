import * as z from "zod/mini";
import { ownExtension } from "./codings.ts";
import { isPlainJson } from "./plain-json.ts";

export interface ChartProblem {
  readonly kind:
    | "other-patient"
    | "entered-in-error"
    | "refuted"
    | "modifier"
    | "unreadable"
    | "wrong-type"
    | "conflict"
    | "outcome"
    | "date"
    | "over"
    | "own-draft"
    | "not-asked"
    | "no-value";
  readonly say: string;
  /** How many entries were left out for it; absent when it is a remark only. */
  readonly entries?: number;
  /** The one resource it is about; absent when several are counted together. */
  readonly at?: string | undefined;
  /** Nothing may be written while this stands. */
  readonly blocksSigning: boolean;
}
export interface Origin {
  /** "Condition/12" */
  readonly reference: string;
  /** What a clinician reads: "Condition: Fracture of distal phalanx". */
  readonly label: string;
  readonly date?: string;
  readonly version?: string;
}
/** Where a value was read: reference and version of the resource, what a clinician reads of it, and its date. */
export const originOf = (
  { reference, version }: { reference: string; version?: string | undefined },
  label: string,
  date?: string | undefined,
): Origin => ({
  reference,
  label,
  ...(date ? { date } : {}),
  ...(version ? { version } : {}),
});
export interface Found<T> {
  readonly data: T;
  readonly reference: string;
  readonly version?: string | undefined;
  /** The resource as it came, for rewriting it without losing elements that nobody here reads. */
  readonly raw: Readonly<Record<string, unknown>>;
}

const headShape = z.object({
  resourceType: z.string(),
  id: z.string().check(z.regex(/^[A-Za-z0-9\-.]{1,64}$/)),
  meta: z.optional(z.object({ versionId: z.optional(z.string()) })),
  modifierExtension: z.optional(z.array(z.unknown())),
  implicitRules: z.optional(z.string()),
});

/** One reading of a chart: who it is about, and what had to be left out on the way. */
export class Reading {
  readonly #counted = new Map<string, { kind: LeftOut; type: string; entries: number }>();
  readonly #problems = new Map<string, ChartProblem>();

  constructor(
    readonly patientId: string,
    readonly today: string,
    readonly zone: string,
    readonly base: string | undefined,
  ) {}

  /** Counts one resource that was left out for a reason that needs no more than a number. */
  leftOut(kind: LeftOut, type: string): void {
    const named = /^[A-Za-z]{1,64}$/.test(type) ? type : "unnamed";
    const key = `${kind} ${named}`;
    const before = this.#counted.get(key)?.entries ?? 0;
    this.#counted.set(key, { kind, type: named, entries: before + 1 });
  }
  problem(problem: ChartProblem): void {
    const before = this.#problems.get(problem.say);
    const entries = (before?.entries ?? 0) + (problem.entries ?? 0);
    this.#problems.set(problem.say, { ...(before ?? problem), ...(entries > 0 ? { entries } : {}) });
  }
  get problems(): readonly ChartProblem[] {
    const counted = [...this.#counted.values()].map(
      ({ kind, type, entries }): ChartProblem => ({
        kind,
        say: `${entries} ${type} ${entries === 1 ? "entry" : "entries"} ${LEFT_OUT[kind]}`,
        entries,
        blocksSigning: kind === "other-patient",
      }),
    );
    return [...counted, ...this.#problems.values()].sort((a, b) => Number(b.blocksSigning) - Number(a.blocksSigning));
  }

  /** True for this patient; false for another one or when nobody is named. Absolute references count on our own base only. */
  isOurs(reference: string | undefined): boolean {
    return this.isFrom("Patient", this.patientId, reference);
  }
  /** Whether a reference names this very resource of our server, relative or absolute, with a version or without. */
  isFrom(type: string, id: string, reference: string | undefined): boolean {
    const match = /^(?:(https?:\/\/.+)\/)?([A-Za-z]+)\/([^/]+)(?:\/_history\/.*)?$/.exec(reference ?? "");
    return (
      match?.[2] === type &&
      match[3] === id &&
      (match[1] === undefined || this.base === undefined || match[1] === this.base.replace(/\/$/, ""))
    );
  }

  /**
   * The resources of one type that may be used: readable, of this patient, without a modifier that could turn their meaning round.
   * Each of the others is counted or named in `problems`.
   */
  each<T>(
    resources: readonly unknown[],
    type: string,
    shape: z.ZodMiniType<T>,
    subjectOf: (data: T) => string | undefined,
  ): Found<T>[] {
    const seen = new Set<string>();
    return resources.flatMap((raw): Found<T>[] => {
      if (typeOf(raw) !== type) return [];
      const head = headShape.safeParse(raw);
      const body = shape.safeParse(raw);
      const plain = isPlainJson(raw);
      if (!head.success || !body.success || !plain) {
        const issue = plain
          ? (head.error ?? body.error)?.issues[0]
          : { path: [], message: "nested too deep, or with keys that no record has" };
        const at = head.success ? `${type}/${head.data.id}` : type;
        this.problem({
          kind: "unreadable",
          say: `${at} could not be read (${issue?.path.join(".") || "resource"}: ${issue?.message}) and was left out.`,
          at,
          entries: 1,
          blocksSigning: false,
        });
        return [];
      }
      const { id, meta, modifierExtension, implicitRules } = head.data;
      const reference = `${type}/${id}`;
      if (seen.has(reference)) return [];
      seen.add(reference);
      // R4 2.4.0.1: what carries a modifier nobody here knows must not be interpreted; implicitRules likewise.
      if (modifierExtension?.length || implicitRules) this.leftOut("modifier", type);
      else if (!this.isOurs(subjectOf(body.data))) this.leftOut("other-patient", type);
      else
        return [
          {
            data: body.data,
            reference,
            version: meta?.versionId,
            raw: raw as Record<string, unknown>,
          },
        ];
      return [];
    });
  }
}
const LEFT_OUT = {
  "other-patient": "did not belong to this patient and was left out. Read the chart again before anything is signed.",
  "entered-in-error": "marked as entered in error: left out.",
  refuted: "marked as refuted: left out.",
  modifier: "cannot be interpreted (unknown modifier): left out.",
  "wrong-type": "came unasked: left out.",
  over: "no longer in force, called off or not final: not used.",
  "own-draft": "drafted here and not signed: shown with the plan, not as a finding.",
  "not-asked": "came although something else was asked for: not used.",
  "no-value": "without a value that can be used: ask.",
} as const;
type LeftOut = keyof typeof LEFT_OUT;

export const typeOf = (raw: unknown): string | undefined => {
  const type = (raw as { resourceType?: unknown } | null)?.resourceType;
  return typeof type === "string" ? type : undefined;
};

/** A plan of this program: the own draft of who is signed in, a draft of somebody else, or a signed plan. */
export type Written = "draft" | "others-draft" | "signed";

export interface Proposal {
  readonly finding: string;
  readonly scope: "patient" | "injury" | "digit";
  readonly value: string | number;
  readonly from: Origin;
  /** The chart says different things: show all of them, suggest none. */
  readonly conflict: boolean;
  /** "documented 3 May 2024", "not confirmed in the chart" */
  readonly note?: string;
  /** The digit that its entry names, where separate entries name different digits. */
  readonly ofDigit?: string;
  /** It comes back from what this program wrote. Absent: it was written elsewhere. */
  readonly written?: Written;
}
export interface DateProposal {
  readonly field: "birthDate" | "injuredAt" | "lastTetanusDoseOn";
  /** As a case record wants it: yyyy-MM-dd, local yyyy-MM-ddTHH:mm, or partial. */
  readonly value: string;
  readonly from: Origin;
  readonly conflict: boolean;
  readonly note?: string;
}
/** What one reader found; the chart joins them. */
export interface Suggestions {
  readonly proposals: readonly Omit<Proposal, "conflict">[];
  readonly dates: readonly Omit<DateProposal, "conflict">[];
}
/** R4 condition-ver-status, allergyintolerance-verification: said, but not yet sure. */
export const UNSURE = ["unconfirmed", "provisional", "differential", "presumed"];
/** On a draft: the plan whose place it takes when it is signed. */
export const REVISES = ownExtension("revises");
