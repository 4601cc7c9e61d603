import { commonPractice } from "../../src/pathway/evidence/citation.ts";
import type { InjuryModule } from "../../src/pathway/index.ts";
import { choice, type FindingsOf, quantity, yesNo } from "../../src/pathway/reasoning/finding.ts";
import { from, table, under } from "../../src/pathway/reasoning/table.ts";

const FINDINGS = {
  hoursSinceInjury: quantity("injury", "hours", 0, 200_000),
  penicillinAllergy: choice("patient", "none", "severe"),
  digit: choice("digit", "thumb", "index", "middle", "ring", "little"),
  side: choice("digit", "left", "right"),
  glows: yesNo("digit"),
  hums: yesNo("digit"),
  bendDegrees: quantity("digit", "degrees", 0, 90),
} as const;
const row = table<FindingsOf<typeof FINDINGS>>();

/** An injury that does not exist, so that the screens are seen to know nothing of the real one. */
export const practiceBone: InjuryModule = {
  id: "practice-bone",
  title: "Practice bone",
  findings: FINDINGS,
  questions: [
    {
      finding: "digit",
      scope: "digit",
      wording: "Which digit?",
      chartMayPropose: true,
      options: ["thumb", "index", "middle", "ring", "little"].map((value) => ({ value, label: value })),
    },
    {
      finding: "side",
      scope: "digit",
      wording: "Which hand?",
      chartMayPropose: true,
      options: [
        { value: "left", label: "Left" },
        { value: "right", label: "Right" },
      ],
    },
    { finding: "hoursSinceInjury", scope: "injury", wording: "Hours since", chartMayPropose: true },
    {
      finding: "glows",
      scope: "digit",
      wording: "Does it glow?",
      chartMayPropose: false,
      options: [
        { value: "yes", label: "Glows" },
        { value: "no", label: "Stays dark" },
      ],
      cannotTell: "Too bright to tell",
    },
    {
      finding: "hums",
      scope: "digit",
      wording: "Does it hum?",
      chartMayPropose: false,
      options: [
        { value: "yes", label: "Hums" },
        { value: "no", label: "Is silent" },
      ],
    },
    {
      finding: "penicillinAllergy",
      scope: "patient",
      wording: "Penicillin allergy",
      chartMayPropose: true,
      options: [
        { value: "none", label: "None" },
        { value: "severe", label: "Severe" },
      ],
    },
    {
      finding: "bendDegrees",
      scope: "digit",
      wording: "Bend of the bone",
      chartMayPropose: true,
      cannotTell: "No protractor",
    },
  ],
  groups: [
    { id: "name", title: "Name it", findings: ["digit", "side", "hoursSinceInjury"], quick: [] },
    {
      id: "alarm",
      title: "Alarms",
      findings: ["glows", "hums", "penicillinAllergy"],
      quick: [{ label: "All quiet", sets: { glows: "no", hums: "no", penicillinAllergy: "none" } }],
    },
    { id: "shape", title: "Shape", findings: ["bendDegrees"], quick: [] },
  ],
  policy: {},
  classes: {
    bent: { name: "Bent practice bone", definition: "Bent by a quarter or more" },
    straight: { name: "Straight practice bone", definition: "Hardly bent" },
  },
  signs: () => [],
  tables: () => [
    {
      gate: true,
      ...row({
        id: "EX",
        question: "Is it an emergency?",
        answers: "every",
        rules: [
          {
            id: "EX-1",
            when: { glows: "yes" },
            because: "Glowing bones leave the pathway.",
            sources: [commonPractice],
            then: [
              {
                kind: "exit",
                exit: "glow",
                title: "Glowing bone",
                urgency: "NOW",
                sendTo: "Lamp room",
                say: "Cover it and phone.",
                leaves: false,
              },
            ],
          },
          {
            id: "EX-2",
            when: { hums: "yes" },
            because: "Humming bones leave the pathway.",
            sources: [commonPractice],
            then: [
              {
                kind: "exit",
                exit: "hum",
                title: "Humming bone",
                urgency: "NOW",
                sendTo: "Sound room",
                say: "Muffle it and phone.",
                leaves: false,
              },
            ],
          },
          {
            id: "EX-3",
            when: { penicillinAllergy: "severe" },
            because: "Then choose another agent.",
            sources: [commonPractice],
            then: [{ kind: "warn", say: "Avoid penicillin." }],
          },
        ],
      }),
    },
    row({
      id: "CL",
      question: "Which class?",
      answers: "one",
      rules: [
        {
          id: "CL-1",
          when: { bendDegrees: from(45) },
          because: "It is bent.",
          sources: [commonPractice],
          then: [
            { kind: "class", class: "bent" },
            { kind: "urgency", urgency: "D1", say: "See it tomorrow." },
            { kind: "manage", call: "operative", say: "Unbend it." },
          ],
        },
        {
          id: "CL-2",
          when: { bendDegrees: under(45) },
          because: "It is straight.",
          sources: [commonPractice],
          then: [
            { kind: "class", class: "straight" },
            { kind: "urgency", urgency: "R2", say: "See it later." },
            {
              kind: "visit",
              visit: {
                purpose: "clinic",
                who: "bone clinic",
                earliest: 7,
                ideal: 10,
                latest: 14,
                check: "Still straight?",
              },
            },
          ],
        },
      ],
    }),
  ],
  figures: () => ({ anaesthetic: [], needs: [] }),
};
