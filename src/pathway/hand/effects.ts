/** What a rule may say. Effects combine by kind, never by order (see assess.ts). */

/** Most urgent first. NOW: phone the hand surgeon, patient stays. D0: within 24 h of injury. D1: next working day. W1: 7 days. R2: 7-14 days. */
export const URGENCIES = ["NOW", "D0", "D1", "W1", "R2", "none"] as const;
export type Urgency = (typeof URGENCIES)[number];

export interface Splint {
  readonly what: string;
  readonly joints: readonly Joint[];
  readonly free: readonly Joint[];
  readonly position: string;
  /** Days after it is put on, or after the operation: may stop from, should stop by. */
  readonly days: { readonly from: number; readonly to: number };
  readonly wear: string;
}
export type Joint = "DIP" | "PIP" | "MCP" | "wrist";

export const VISIT_PURPOSES = [
  "wound-check",
  "film",
  "film-true-lateral",
  "stitches-out",
  "wire-out",
  "splint-review",
  "therapy",
  "clinic",
  "physis-film",
  "discharge-check",
  "surgeon-review",
] as const;
export type VisitPurpose = (typeof VISIT_PURPOSES)[number];
export interface Visit {
  readonly purpose: VisitPurpose;
  /** Who sees the patient, in trade words: "hand clinic", "hand therapist", "general practice". */
  readonly who: string;
  /** Days after day 0, inclusive. In an assessment day 0 is always the injury. */
  readonly earliest: number;
  readonly ideal: number;
  readonly latest: number;
  readonly check: string;
  /** Purpose that must have happened before, if any. */
  readonly after?: VisitPurpose;
  /** The visit is needed only then: "if a wire was placed". `check` begins with it. */
  readonly onlyIf?: string;
  /**
   * What its days start with; absent: the injury. "treatment": the splint was put on, the wound repaired, the test failed. "operation": an
   * operation whose day is not yet known when the plan is made, so the visit has no date until it is.
   */
  readonly countFrom?: "injury" | "treatment" | "operation";
  /** Days after the injury by which it must have happened; said as a date once the day of the injury is known. */
  readonly dueDay?: number;
}

export type AntibioticDecision = "no" | "not-routinely" | "consider" | "yes" | "treat-infection" | "local-policy";
export type ManagementCall = "non-operative" | "must-refer" | "discuss" | "operative" | "options";
export type TodayTopic =
  | "first-minutes"
  | "perfusion"
  | "imaging"
  | "wash-out"
  | "reduction"
  | "haematoma"
  | "nail"
  | "dressing"
  | "examination"
  | "referral";

export type Effect =
  | {
      readonly kind: "exit";
      readonly exit: string;
      readonly title: string;
      readonly urgency: Urgency;
      readonly sendTo: string;
      readonly say: string;
      /** True: everything that assumes an ordinary fracture falls silent. */
      readonly leaves: boolean;
      /** It stands only until somebody has looked again: no assessment that says it is settled. */
      readonly untilRechecked?: true;
      /** Who does what by when, if this line decides the urgency; absent: said from `urgency` and `sendTo`. */
      readonly means?: string;
    }
  | { readonly kind: "quality"; readonly say: string; readonly blocks: boolean }
  | { readonly kind: "class"; readonly class: string }
  | {
      readonly kind: "urgency";
      readonly urgency: Urgency;
      readonly say: string;
      /** Who does what by when, if this line decides the urgency; absent: the hand surgery team. */
      readonly means?: string;
    }
  | { readonly kind: "today"; readonly topic: TodayTopic; readonly say: string }
  | { readonly kind: "antibiotic"; readonly decision: AntibioticDecision; readonly say: string }
  | { readonly kind: "antibiotic-class"; readonly choose: string; readonly avoid?: string; readonly say: string }
  | { readonly kind: "tetanus"; readonly vaccine: boolean; readonly immunoglobulin: boolean; readonly say: string }
  | { readonly kind: "epinephrine"; readonly allow: boolean; readonly say: string }
  | {
      readonly kind: "manage";
      readonly call: ManagementCall;
      readonly say: string;
      /** Days after the injury by which it is done; said as a date once the day of the injury is known. */
      readonly dueDay?: number;
    }
  | { readonly kind: "splint"; readonly splint: Splint; readonly say: string }
  | { readonly kind: "visit"; readonly visit: Visit }
  | { readonly kind: "warn"; readonly say: string }
  | { readonly kind: "advise"; readonly point: string; readonly say: string; readonly redFlag: boolean }
  /** `dueDay`: days after the injury by which it is done; said as a date once the day of the injury is known. */
  | { readonly kind: "task"; readonly say: string; readonly dueDay?: number }
  /** What to look for in the weeks and months after today, and what it leads to: "Pain out of proportion: pain team and therapist". */
  | { readonly kind: "later"; readonly find: string; readonly say: string };
export type EffectKind = Effect["kind"];
