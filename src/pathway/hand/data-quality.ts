import { commonPractice } from "../evidence/citation.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import type { HandTable } from "./hand-table.ts";

/** What the record itself needs before it is believed. The module adds the lines on its own bone. */
export const dataQuality = (_policy: SitePolicy): HandTable => {
  return {
    id: "DQ",
    question: "Can the record be relied on?",
    answers: "every",
    rules: [
      {
        id: "DQ4a",
        when: { openness: "uncertain", openFracture: "yes" },
        then: [
          {
            kind: "quality",
            blocks: false,
            say: "Open or closed was uncertain, and blood at the nail fold, a displaced nail or the second look speaks for open: treated as open.",
          },
        ],
        because: "Blood at the fold or a displaced nail means the fracture has a way out until shown otherwise.",
        sources: [commonPractice],
      },
      {
        id: "DQ4b",
        when: { openness: "uncertain", bloodAtNailFold: "no" },
        then: [
          {
            kind: "quality",
            blocks: false,
            say: "Open or closed was uncertain at the first look: look again at the whole nail fold in good light. The second look decides.",
          },
        ],
        because: "Antibiotic, wash-out and tetanus all hang on this answer.",
        sources: [commonPractice],
      },
      {
        id: "DQ4d",
        when: { openness: ["closed", "skin-cut", "skin-burst-or-flap"], openFracture: "yes" },
        then: [
          {
            kind: "quality",
            blocks: false,
            say: "Recorded as closed, but another answer opens it (torn nail bed, wound over the joint or bone exposed): treated as open. Correct one of the two.",
          },
        ],
        because: "A way from outside to bone or joint makes the injury open, whatever was ticked.",
        sources: [commonPractice],
      },
      {
        id: "DQ4c",
        when: { openness: "closed", bloodAtNailFold: "yes" },
        then: [
          { kind: "quality", blocks: false, say: "Recorded as closed, but with blood at the nail fold: look again." },
        ],
        because: "The two answers do not fit together.",
        sources: [commonPractice],
      },
    ],
  };
};
