import type { Option, Question, QuestionGroup } from "../module.ts";
import { HAND_FINDINGS, type HandFindings } from "./findings.ts";
import { FRESH_REDNESS_HOURS, LARGE_PULP_LOSS_CM2 } from "./limits.ts";

export const o = (value: string, label: string, hint?: string): Option => ({ value, label, ...(hint ? { hint } : {}) });
export const YES_NO = [o("yes", "Yes"), o("no", "No")];
const PULP = LARGE_PULP_LOSS_CM2;

interface Asked {
  readonly hint?: string;
  readonly options?: readonly Option[];
  readonly cannotTell?: string;
}
const question = (finding: keyof HandFindings, wording: string, chartMayPropose: boolean, rest: Asked): Question => ({
  finding,
  scope: HAND_FINDINGS[finding].scope,
  wording,
  chartMayPropose,
  ...rest,
});
/** Found by looking, touching and moving: a chart never proposes the answer. */
export const examined = (finding: keyof HandFindings, wording: string, rest: Asked = {}) =>
  question(finding, wording, false, rest);
/** The chart may propose the answer; the clinician confirms it. */
export const known = (finding: keyof HandFindings, wording: string, rest: Asked = {}) =>
  question(finding, wording, true, rest);

/** Which digit it is. */
export const NAMING_QUESTIONS: readonly Question[] = [
  known("digit", "Which digit is injured?", {
    options: [
      o("thumb", "Thumb"),
      o("index", "Index"),
      o("middle", "Middle"),
      o("ring", "Ring"),
      o("little", "Little"),
    ],
  }),
  known("side", "Which hand?", { options: [o("left", "Left"), o("right", "Right")] }),
];

export const RED_FLAG_QUESTIONS: readonly Question[] = [
  examined("tissueLoss", "Is any tissue missing?", {
    options: [
      o("none", "None"),
      o("pulp-small", `Pulp, less than ${PULP} cm²`),
      o("pulp-large", `Pulp, ${PULP} cm² or more`),
      o("bone-exposed", "Bone exposed"),
      o("amputation-replantable", "Amputated, part may be replanted"),
      o("amputation-not-replantable", "Amputated, cannot be replanted"),
    ],
  }),
  examined("mangled", "Saw or crush with loss across two or more digits?", { options: YES_NO }),
  examined("jointDislocated", "Is the end joint dislocated?", {
    options: [
      o("no", "No"),
      o("yes-not-yet-reduced", "Yes, not yet reduced"),
      o("reduced", "It was, now reduced"),
      o("irreducible", "Yes, cannot be reduced"),
    ],
    cannotTell: "Cannot tell before the film",
  }),
  examined("sheathSigns", "Any sign of flexor sheath infection?", {
    hint: "Swollen along its length, held bent, tender along the sheath, pain on passive straightening",
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("infectionSigns", "Signs of infection", {
    hint: `Redness and warmth are ordinary in the first ${FRESH_REDNESS_HOURS.from} to ${FRESH_REDNESS_HOURS.to} hours after a crush`,
    options: [
      o("none", "None", "Also the ordinary redness of a fresh injury"),
      o("local", "Local infection", "Redness or warmth that grows, comes later or comes with rising pain"),
      o("spreading", "Spreading, red streak or fever"),
      o("tense-pulp-or-discharge", "Tense pulp or discharge"),
    ],
    cannotTell: "Cannot tell",
  }),
  examined("foreignBody", "Foreign body or gas on the film or in the wound?", {
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("boneLesion", "Is the break through a bone lesion?", {
    hint: "Lucent area, thin cortex, matrix",
    options: YES_NO,
    cannotTell: "Cannot tell on this film",
  }),
  examined("lysisOrPeriostealReaction", "Lysis or periosteal reaction on the film?", {
    options: YES_NO,
    cannotTell: "Cannot tell on this film",
  }),
  examined("otherSeriousInjury", "Is the patient seriously ill or injured elsewhere?", { options: YES_NO }),
];

/** The groups on the screen before all others: all that a page must have loaded to take the first answers. */
export const FIRST_GROUPS: readonly QuestionGroup[] = [
  { id: "which-digit", title: "Injured digit", findings: ["digit", "side"], quick: [] },
  {
    id: "red-flags",
    title: "Emergencies first",
    hint: "Is any of these present?",
    findings: [
      "otherSeriousInjury",
      "mangled",
      "tissueLoss",
      "jointDislocated",
      "infectionSigns",
      "sheathSigns",
      "foreignBody",
      "boneLesion",
      "lysisOrPeriostealReaction",
    ],
    quick: [
      {
        label: "None of these",
        sets: {
          otherSeriousInjury: "no",
          mangled: "no",
          tissueLoss: "none",
          jointDislocated: "no",
          infectionSigns: "none",
          sheathSigns: "no",
          foreignBody: "no",
          boneLesion: "no",
          lysisOrPeriostealReaction: "no",
        },
      },
    ],
  },
];
