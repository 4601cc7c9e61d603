import { describe, expect, it } from "vitest";
import type { EffectLine } from "../../../src/pathway/assessment.ts";
import { VISIT_PURPOSES } from "../../../src/pathway/hand/effects.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told } from "./records.ts";

/*
 * What one more answer changes in the plan: what begins (+) and what ends (-), and nothing else. One line for each answer, or for several that
 * must count alike ("visible-dirt|water"). The lines were written down from what the rules say and then read one by one:
 *
 * - against a published source: who must be seen now or today (HS2, draft), antibiotic or not (METCALFE16, STEV03, SLOAN87, NG184 for bites,
 *   KIELY22 for the open growth plate), drug with an allergy (HS2, SARFANI22, SAMADE21), tetanus (CDC table), ages and doses of the
 *   anaesthetic (LIDO-LABEL), class names (Doyle and Wehbé-Schneider in BACH17, Leddy-Packer in RADREF-LP, Salter-Harris in UWRAD), refilm
 *   after a normal film (ACR19), repair of the flexor by day 10 (RADREF-LP), bony mallet seen late (COS12, BACH17);
 * - common practice, no source: days of visits other than those named in plan-by-class, days within which somebody is seen, what counts as
 *   displaced, visible dirt that is not gross, an allergy to the anaesthetic, a tendon that cannot be tested.
 *
 * Answers that only add a sentence (work, smoking, pregnancy) are not here. A line that changes is a clinical change.
 */
/** What the plan says, in words that a change of wording or of rule numbers leaves alone. */
function planOf(facts: Facts): readonly string[] {
  const { assessment: a, classes, published, calls, urgency } = told(facts);
  return [
    `urgency ${urgency ?? "not decided"}`,
    ...(a.quality.some((q) => q.effect.blocks) ? ["answers do not fit"] : []),
    ...a.exits.map((e) => `exit ${e.effect.exit}${e.effect.leaves ? " (leaves)" : ""} ${e.effect.urgency}`),
    ...[...classes, ...published].map((c) => `class ${c}`),
    ...new Set(calls),
    ...a.antibiotic.map(({ effect }) =>
      effect.kind === "antibiotic"
        ? `antibiotic ${effect.decision}`
        : `drug: ${effect.choose}${effect.avoid ? `, not ${effect.avoid}` : ""}`,
    ),
    ...a.tetanus.map(
      ({ effect: { vaccine, immunoglobulin } }) =>
        `tetanus ${[vaccine ? "vaccine" : "", immunoglobulin ? "immunoglobulin" : ""].filter(Boolean).join(" and ") || "nothing"}`,
    ),
    ...a.anaesthetic.flatMap((l) =>
      "effect" in l && (l as EffectLine<"epinephrine">).effect.kind === "epinephrine"
        ? [`epinephrine ${(l as EffectLine<"epinephrine">).effect.allow ? "allowed" : "refused"}`]
        : [],
    ),
    ...a.splints.map(({ splint: s }) => `splint ${s.joints.join(" ") || "no joint"} ${s.days.from}-${s.days.to}`),
    ...a.visits.map((v) => `${v.purpose} ${v.earliest}-${v.latest}${v.onlyIf ? ` ${v.onlyIf}` : ""}`),
  ];
}
const CALLS = ["non-operative", "must-refer", "discuss", "operative", "options"];
const isOrdinary = (line: string) =>
  CALLS.includes(line.slice(1)) ||
  line.startsWith("-splint ") ||
  VISIT_PURPOSES.some((purpose) => line.startsWith(`-${purpose} `));
/** What begins (+) and what ends (-) from one record to the other. */
function changed(before: Facts, after: Facts): string {
  const was = new Set(planOf(before));
  const is = new Set(planOf(after));
  const leaves = told(after).assessment.leftPathway && !told(before).assessment.leftPathway;
  const begun = [...is].filter((line) => !was.has(line)).map((line) => `+${line}`);
  const ended = [...was].filter((line) => !is.has(line)).map((line) => `-${line}`);
  // Once an exit leaves the pathway the whole plan of an ordinary fracture ends: that is one thing, not a list.
  const said = leaves ? ended.filter((line) => !isOrdinary(line)).concat("the ordinary plan ends") : ended;
  return [...begun, ...said].join("; ");
}
const linesOf = (table: string) =>
  table
    .trim()
    .split("\n")
    .map((line) => /^\s*(\w+) ([^:]+): (.+)$/.exec(line)!.slice(1) as [string, string, string]);
function changes(story: string, facts: Facts, table: string): void {
  describe(`${story}, and one more answer`, () => {
    for (const [finding, values, expected] of linesOf(table))
      for (const value of values.split("|"))
        it(`${finding} ${value}`, () => expect(changed(facts, { ...facts, [finding]: value })).toBe(expected));
  });
}
/** A limit, from the last value before it to the first value after it. */
function limits(story: string, facts: Facts, table: string): void {
  describe(`${story}, at its limits`, () => {
    for (const [finding, values, expected] of linesOf(table))
      it(`${finding} ${values}`, () => {
        const [low, high] = values.split(" to ").map(Number) as [number, number];
        expect(changed({ ...facts, [finding]: low }, { ...facts, [finding]: high })).toBe(expected);
      });
  });
}

changes(
  "an open tuft fracture in a healthy adult",
  { ...ADULT, fractureSite: "tuft", openness: "open-skin" },
  `
    diabetes yes: +antibiotic consider; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; +wound-check 2-3; -antibiotic not-routinely; -wound-check 2-5
    immuneCompromise yes: +antibiotic consider; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; +wound-check 2-3; -antibiotic not-routinely; -wound-check 2-5
    vasospasm yes: +epinephrine refused; -epinephrine allowed
    localAnaestheticAllergy yes: +urgency D0; +must-refer; +surgeon-review 0-1; -urgency none; -non-operative; -epinephrine allowed
    localAnaestheticAllergy sulfite: +epinephrine refused; -epinephrine allowed
    tetanusDoses none|one-or-two|not-known: +tetanus vaccine and immunoglobulin; -tetanus nothing
    mechanism human-bite: +urgency D0; +exit bite (leaves) D0; +antibiotic consider; +drug: co-amoxiclav; +surgeon-review 0-1; -urgency none; -antibiotic not-routinely; the ordinary plan ends
    mechanism high-pressure-injection: +urgency NOW; +exit high-pressure-injection (leaves) NOW; +antibiotic yes; +drug: ask the hand surgeon; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    mechanism burn-or-frostbite: +urgency D0; +exit burn-or-frostbite (leaves) D0; +clinic 0-1; -urgency none; the ordinary plan ends
    contamination visible-dirt|saliva|water|grease-or-paint: +antibiotic consider; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; -antibiotic not-routinely
    contamination heavy-dirt: +urgency NOW; +exit gross-contamination (leaves) NOW; +antibiotic yes; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; -urgency none; -antibiotic not-routinely; the ordinary plan ends
    contamination soil-or-manure: +urgency NOW; +exit gross-contamination (leaves) NOW; +antibiotic yes; +drug: co-amoxiclav; -urgency none; -antibiotic not-routinely; the ordinary plan ends
    otherSeriousInjury yes: +urgency NOW; +exit serious-illness (leaves) NOW; -urgency none; the ordinary plan ends
    tipColour pale|dusky|white: +epinephrine refused; -epinephrine allowed
    capillaryRefill slow: +epinephrine refused; -epinephrine allowed
    sensation reduced-radial|reduced-ulnar|absent: +urgency D1; +exit nerve D1; +clinic 0-3; -urgency none
    tissueLoss pulp-large: +urgency D0; +must-refer; +surgeon-review 0-1; -urgency none; -non-operative
    tissueLoss bone-exposed: +urgency D0; +exit amputation (leaves) D0; +antibiotic local-policy; +surgeon-review 0-1; -urgency none; -antibiotic not-routinely; the ordinary plan ends
    tissueLoss amputation-replantable: +urgency NOW; +exit amputation (leaves) NOW; +antibiotic local-policy; +epinephrine refused; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    tissueLoss amputation-not-replantable: +urgency D0; +exit amputation (leaves) D0; +antibiotic local-policy; +epinephrine refused; +surgeon-review 0-1; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    mangled yes: +urgency NOW; +exit mangled (leaves) NOW; +epinephrine refused; -urgency none; -epinephrine allowed; the ordinary plan ends
    jointDislocated yes-not-yet-reduced: +urgency D0; +exit dislocation (leaves) D0; +exit dislocation D0; +surgeon-review 0-1; -urgency none; the ordinary plan ends
    jointDislocated reduced: +urgency D0; +exit dislocation D0; +class DISLOCATION-REDUCED; +must-refer; +splint DIP 14-21; +surgeon-review 0-1; +film-true-lateral 7-14; +therapy 14-21; -urgency none; -non-operative; -splint no joint 21-28
    jointDislocated irreducible: +urgency NOW; +exit dislocation (leaves) NOW; -urgency none; the ordinary plan ends
    sheathSigns yes: +urgency NOW; +exit infection (leaves) NOW; +antibiotic treat-infection; +drug: ask the hand surgeon; +wire-out 0-1 if a wire is in and loose or infected; +wound-check 2-3; +film 10-14; +film 40-44; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    infectionSigns local: +urgency D1; +exit infection D1; +must-refer; +antibiotic treat-infection; +drug: ask the hand surgeon; +clinic 0-3; +wire-out 0-1 if a wire is in and loose or infected; +wound-check 2-3; +film 10-14; +film 40-44; +discharge-check 44-58; -urgency none; -non-operative; -antibiotic not-routinely; -epinephrine allowed; -wound-check 2-5; -discharge-check 42-56
    infectionSigns spreading: +urgency NOW; +exit infection (leaves) NOW; +antibiotic treat-infection; +drug: ask the hand surgeon; +wire-out 0-1 if a wire is in and loose or infected; +wound-check 2-3; +film 10-14; +film 40-44; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    infectionSigns tense-pulp-or-discharge: +urgency D0; +exit infection (leaves) D0; +antibiotic treat-infection; +drug: ask the hand surgeon; +surgeon-review 0-1; +wire-out 0-1 if a wire is in and loose or infected; +wound-check 2-3; +film 10-14; +film 40-44; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    openness closed: +antibiotic no; +splint no joint 14-28; +splint-review 7-10; +discharge-check 21-28; -antibiotic not-routinely; -epinephrine allowed; -splint no joint 21-28; -wound-check 2-5; -wound-check 6-7; -stitches-out 10-14 if it was stitched; -therapy 14-28; -wire-out 21-28 if a wire was placed; -film 28-42 if displaced or painful; -discharge-check 42-56
    openness skin-cut|skin-burst-or-flap: +splint no joint 14-28; +splint-review 7-10; +discharge-check 21-28; -epinephrine allowed; -splint no joint 21-28; -wound-check 6-7; -therapy 14-28; -wire-out 21-28 if a wire was placed; -film 28-42 if displaced or painful; -discharge-check 42-56
    devitalised yes: +antibiotic yes; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; +epinephrine refused; -antibiotic not-routinely; -epinephrine allowed
    devitalised artery-cut: +urgency D1; +epinephrine refused; +clinic 0-3; -urgency none; -epinephrine allowed
    washoutPossible inadequate: +antibiotic yes; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; -antibiotic not-routinely
    foreignBody yes: +urgency D1; +exit foreign-body D1; +must-refer; +clinic 0-3; -urgency none; -non-operative
    boneLesion yes: +urgency R2; +exit pathological-fracture (leaves) R2; +clinic 7-14; -urgency none; the ordinary plan ends
    lysisOrPeriostealReaction yes: +urgency D0; +exit infection (leaves) D0; +antibiotic treat-infection; +drug: ask the hand surgeon; +surgeon-review 0-1; +wire-out 0-1 if a wire is in and loose or infected; +wound-check 2-3; +film 10-14; +film 40-44; -urgency none; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    nailBed stellate|crushed-or-avulsed|germinal-matrix: +urgency D0; +must-refer; +surgeon-review 0-1; -urgency none; -non-operative
    activeExtension cannot-test: +urgency W1; +clinic 3-5; -urgency none
    passiveExtension blocked: +urgency W1; +answers do not fit; +clinic 3-7; -urgency none
    activeFlexion weak|cannot-test: +urgency W1; +clinic 3-5; -urgency none
    woundOverJoint cut|skin-and-tendon-lost: +urgency D0; +must-refer; +surgeon-review 0-1; -urgency none; -non-operative
    nailPlaneRotation rotated: +urgency D1; +discuss; +surgeon-review 0-3; +clinic 7-14; -urgency none
    fracturePattern comminuted|wedge: +class TUFT-C; -class TUFT-S
    corticalContact none: +urgency not decided; +answers do not fit; -urgency none
    jointPosition volar-subluxed|dorsal-subluxed: +urgency W1; +discuss; +surgeon-review 0-7; -urgency none
  `,
);
changes(
  "no fracture after a crush",
  { ...ADULT },
  `
    mechanism laceration|saw: +antibiotic not-routinely; -antibiotic no
    mechanism human-bite: +urgency D0; +exit bite (leaves) D0; +antibiotic consider; +drug: co-amoxiclav; +surgeon-review 0-1; -urgency none; -antibiotic no; the ordinary plan ends
    mechanism high-pressure-injection: +urgency NOW; +exit high-pressure-injection (leaves) NOW; +antibiotic yes; +drug: ask the hand surgeon; -urgency none; -antibiotic no; the ordinary plan ends
    mechanism burn-or-frostbite: +urgency D0; +exit burn-or-frostbite (leaves) D0; +antibiotic not-routinely; +clinic 0-1; -urgency none; -antibiotic no; the ordinary plan ends
    jointDislocated yes-not-yet-reduced: +urgency D0; +exit dislocation (leaves) D0; +epinephrine allowed; -urgency none; -class NO-FRACTURE-SEEN; the ordinary plan ends
    jointDislocated reduced: +urgency R2; +class DISLOCATION-REDUCED; +splint DIP 14-21; +film-true-lateral 7-14; +therapy 14-21; +discharge-check 42-56; -urgency none; -class NO-FRACTURE-SEEN; -film 10-14 if it still hurts
    jointDislocated irreducible: +urgency NOW; +exit dislocation (leaves) NOW; -urgency none; -class NO-FRACTURE-SEEN; the ordinary plan ends
    openness skin-cut|skin-burst-or-flap: +antibiotic not-routinely; +wound-check 2-5; +stitches-out 10-14 if it was stitched; -antibiotic no
    openness open-nail-bed|open-skin: +antibiotic not-routinely; +epinephrine allowed; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -antibiotic no
    bloodAtNailFold yes: +epinephrine allowed; +wound-check 2-5; +stitches-out 10-14 if it was stitched
    foreignBody yes: +urgency D1; +exit foreign-body D1; +clinic 0-3; -urgency none
    nailPlate avulsed-at-fold|missing|over-fold|split: +antibiotic not-routinely; +epinephrine allowed; +wound-check 2-5; +stitches-out 10-14 if it was stitched; -antibiotic no
    nailBed simple: +antibiotic not-routinely; +epinephrine allowed; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -antibiotic no
    activeExtension lag: +urgency W1; +class TENDINOUS-MALLET; +class DOYLE-I; +splint DIP 56-56; +splint-review 5-7; +therapy 56-56; +discharge-check 77-91; -urgency none; -class NO-FRACTURE-SEEN; -film 10-14 if it still hurts
    activeExtension cannot-test: +urgency W1; +class TENDON-NOT-CLEARED; +discuss; +splint DIP 0-7; +clinic 3-5; -urgency none; -class NO-FRACTURE-SEEN; -non-operative
    activeFlexion weak|cannot-test: +urgency W1; +class TENDON-NOT-CLEARED; +discuss; +splint DIP 0-7; +clinic 3-5; -urgency none; -class NO-FRACTURE-SEEN; -non-operative
    activeFlexion absent: +urgency D1; +class JERSEY; +class LEDDY-I-OR-II; +operative; +splint DIP PIP MCP wrist 42-42; +surgeon-review 0-1; +surgeon-review 2-10; +film 0-7 if bone was fixed; +wound-check 3-7 if operated; +therapy 3-7 if operated; +stitches-out 10-14 if it was stitched; +film 28-42 if bone was fixed; +wire-out 42-45 if a wire crosses the end joint; +splint-review 42-45 if operated; +discharge-check 84-112; -urgency none; -class NO-FRACTURE-SEEN; -non-operative; -film 10-14 if it still hurts
    woundOverJoint cut|skin-and-tendon-lost: +urgency D0; +must-refer; +antibiotic not-routinely; +epinephrine allowed; +surgeon-review 0-1; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -urgency none; -non-operative; -antibiotic no
    nailPlaneRotation rotated: +urgency D1; +surgeon-review 0-3; -urgency none
    filmTaken no: +urgency D0; +answers do not fit; -urgency none; -class NO-FRACTURE-SEEN; -non-operative; -film 10-14 if it still hurts
    trueLateral not-taken: +urgency D0; +answers do not fit; +splint DIP 0-7; -urgency none; -class NO-FRACTURE-SEEN; -non-operative; -film 10-14 if it still hurts
  `,
);
changes(
  "an open shaft fracture",
  { ...ADULT, fractureSite: "shaft", openness: "open-skin" },
  `
    localAnaestheticAllergy yes: -epinephrine allowed
    mechanism human-bite: +exit bite (leaves) D0; +antibiotic consider; +drug: co-amoxiclav; -antibiotic not-routinely; the ordinary plan ends
    mechanism high-pressure-injection: +urgency NOW; +exit high-pressure-injection (leaves) NOW; +antibiotic yes; +drug: ask the hand surgeon; -urgency D0; -antibiotic not-routinely; -epinephrine allowed; the ordinary plan ends
    contamination heavy-dirt: +urgency NOW; +exit gross-contamination (leaves) NOW; +antibiotic yes; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; -urgency D0; -antibiotic not-routinely; the ordinary plan ends
    contamination soil-or-manure: +urgency NOW; +exit gross-contamination (leaves) NOW; +antibiotic yes; +drug: co-amoxiclav; -urgency D0; -antibiotic not-routinely; the ordinary plan ends
    sensation reduced-radial|reduced-ulnar|absent: +exit nerve D1
    jointDislocated yes-not-yet-reduced: +exit dislocation (leaves) D0; +exit dislocation D0; the ordinary plan ends
    jointDislocated reduced: +exit dislocation D0
    openness closed: +urgency R2; +non-operative; +antibiotic no; -urgency D0; -must-refer; -antibiotic not-routinely; -epinephrine allowed; -surgeon-review 0-1; -wound-check 3-7; -stitches-out 10-14 if it was stitched
    openness skin-cut|skin-burst-or-flap: +urgency R2; +non-operative; +wound-check 2-5; -urgency D0; -must-refer; -epinephrine allowed; -surgeon-review 0-1; -wound-check 3-7
    devitalised artery-cut: +epinephrine refused; -epinephrine allowed
    foreignBody yes: +exit foreign-body D1
    boneLesion yes: +exit pathological-fracture (leaves) R2; +clinic 7-14; the ordinary plan ends
    activeExtension lag: +class TENDINOUS-MALLET; +class DOYLE-I; +splint DIP 56-56; +splint-review 5-7; +therapy 56-56; +discharge-check 77-91; -splint DIP 21-42
    nailPlaneRotation rotated: +class SHAFT-T1; +splint DIP 28-42; +wound-check 5-7 if a wire was placed; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -class SHAFT-T0; -splint DIP 21-42; -therapy 21-28; -film 28-35; -discharge-check 42-56
    filmTaken no: +answers do not fit; -class SHAFT-T0; -splint DIP 21-42; -film 7-10; -therapy 21-28; -film 28-35; -discharge-check 42-56
    fracturePattern comminuted|wedge: +class SHAFT-C; -class SHAFT-T0
    fracturePattern longitudinal: +class SHAFT-L; +splint DIP 21-28; -class SHAFT-T0; -splint DIP 21-42
    nailBedInGap yes: +class SHAFT-T1; +splint DIP 28-42; +wound-check 5-7 if a wire was placed; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -class SHAFT-T0; -splint DIP 21-42; -therapy 21-28; -film 28-35; -discharge-check 42-56
  `,
);
changes(
  "a bony mallet with a quarter of the joint",
  { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 25, mechanism: "axial-load" },
  `
    cannotKeepSplint yes: +discuss; +surgeon-review 0-7
    handDependentWork yes: +discuss; +surgeon-review 0-7
    jointDislocated yes-not-yet-reduced: +urgency D0; +exit dislocation (leaves) D0; +epinephrine allowed; -urgency W1; the ordinary plan ends
    jointDislocated irreducible: +urgency NOW; +exit dislocation (leaves) NOW; -urgency W1; the ordinary plan ends
    openness skin-cut: +antibiotic not-routinely; +wound-check 2-5; +stitches-out 10-14 if it was stitched; -antibiotic no
    openness open-nail-bed|open-skin: +urgency D0; +must-refer; +antibiotic not-routinely; +epinephrine allowed; +surgeon-review 0-1; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -urgency W1; -non-operative; -antibiotic no
    passiveExtension blocked: +answers do not fit; +discuss; +splint DIP 0-7; +clinic 3-7; -non-operative; -splint DIP 42-56; -splint-review 5-7; -film-true-lateral 42-56; -therapy 42-56; -discharge-check 77-91
    filmTaken no: +urgency D0; +answers do not fit; -urgency W1; -class MALLET; -class DOYLE-IVB; -class WEHBE-IA; -non-operative; -splint DIP 42-56; -splint-review 5-7; -film-true-lateral 7-10; -film-true-lateral 42-56; -therapy 42-56; -discharge-check 77-91
    trueLateral not-taken: +urgency D0; +answers do not fit; +splint DIP 0-7; -urgency W1; -class MALLET; -class DOYLE-IVB; -class WEHBE-IA; -non-operative; -splint DIP 42-56; -splint-review 5-7; -film-true-lateral 7-10; -film-true-lateral 42-56; -therapy 42-56; -discharge-check 77-91
    jointPosition volar-subluxed: +class DOYLE-IVB-SLIPPED; +class WEHBE-IIA; +must-refer; +splint DIP 0-7; +surgeon-review 0-7; +splint-review 5-7 if not operated; +film-true-lateral 7-10 if not operated; +wound-check 5-7 if a wire was placed; +film 7-10 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +film-true-lateral 42-56 if not operated; +therapy 42-56 if not operated; +therapy 28-42 if a wire was placed; +discharge-check 77-91 if not operated; +discharge-check 84-112 if a wire was placed; -class DOYLE-IVB; -class WEHBE-IA; -non-operative; -splint DIP 42-56; -splint-review 5-7; -film-true-lateral 7-10; -film-true-lateral 42-56; -therapy 42-56; -discharge-check 77-91
    jointPosition dorsal-subluxed: +class DORSAL-SUBLUXATION; +must-refer; +splint DIP 0-7; +surgeon-review 0-7; +splint-review 5-7 if not operated; +film-true-lateral 7-10 if not operated; +wound-check 5-7 if a wire was placed; +film 7-10 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +film-true-lateral 42-56 if not operated; +therapy 42-56 if not operated; +therapy 28-42 if a wire was placed; +discharge-check 77-91 if not operated; +discharge-check 84-112 if a wire was placed; -class DOYLE-IVB; -class WEHBE-IA; -non-operative; -splint DIP 42-56; -splint-review 5-7; -film-true-lateral 7-10; -film-true-lateral 42-56; -therapy 42-56; -discharge-check 77-91
  `,
);
changes(
  "a torn flexor with a fragment at the joint",
  {
    ...ADULT,
    activeFlexion: "absent",
    fractureSite: "base-volar",
    volarFragmentAt: "dip-or-a4",
    mechanism: "forced-extension",
  },
  `
    tissueLoss pulp-large: +urgency D0; +must-refer; +antibiotic not-routinely; +wound-check 3-7; -urgency D1; -antibiotic no
    tissueLoss bone-exposed: +urgency D0; +exit amputation (leaves) D0; +antibiotic local-policy; +epinephrine allowed; -urgency D1; -antibiotic no; the ordinary plan ends
    tissueLoss amputation-replantable: +urgency NOW; +exit amputation (leaves) NOW; +antibiotic local-policy; +epinephrine refused; -urgency D1; -antibiotic no; the ordinary plan ends
    tissueLoss amputation-not-replantable: +urgency D0; +exit amputation (leaves) D0; +antibiotic local-policy; +epinephrine refused; -urgency D1; -antibiotic no; the ordinary plan ends
    openness open-nail-bed|open-skin: +urgency D0; +must-refer; +antibiotic not-routinely; +epinephrine allowed; +wound-check 3-7; -urgency D1; -antibiotic no
    bloodAtNailFold yes: +epinephrine allowed; +wound-check 2-5
    nailPlate avulsed-at-fold|missing|over-fold|split: +antibiotic not-routinely; +epinephrine allowed; +wound-check 2-5; -antibiotic no
    nailBed simple: +urgency D0; +must-refer; +antibiotic not-routinely; +epinephrine allowed; +wound-check 3-7; -urgency D1; -antibiotic no
    activeFlexion cannot-test: +clinic 3-5
    tendonEndAt pip|palm: +class LEDDY-IV; -class LEDDY-III
    woundOverJoint cut|skin-and-tendon-lost: +urgency D0; +must-refer; +antibiotic not-routinely; +epinephrine allowed; +wound-check 3-7; -urgency D1; -antibiotic no
    filmTaken no: +urgency D0; +answers do not fit; -urgency D1
    trueLateral not-taken: +urgency D0; +answers do not fit; -urgency D1
    volarFragmentAt none: +class LEDDY-I-OR-II; -class LEDDY-III
    volarFragmentAt pip: +class LEDDY-II; -class LEDDY-III
    volarFragmentAt palm: +class LEDDY-I; -class LEDDY-III
    restOfPhalanx extra-articular-fracture: +class COMBINED-BASE; +class LEDDY-VA; +options; +splint DIP 28-42; +clinic 6-7 if not operated; +film 6-8 if not operated; +film 13-15 if not operated; +film 27-29 if not operated; +therapy 28-42 if not operated; +discharge-check 77-91 if not operated; -class LEDDY-III; -operative; -splint DIP PIP MCP wrist 42-42; -surgeon-review 2-10; -film 0-7 if bone was fixed; -wound-check 3-7 if operated; -therapy 3-7 if operated; -stitches-out 10-14 if it was stitched; -film 28-42 if bone was fixed; -wire-out 42-45 if a wire crosses the end joint; -splint-review 42-45 if operated; -discharge-check 84-112
    restOfPhalanx intra-articular-fracture: +class COMBINED-BASE; +class LEDDY-VB; +options; +splint DIP 28-42; +clinic 6-7 if not operated; +film 6-8 if not operated; +film 13-15 if not operated; +film 27-29 if not operated; +therapy 28-42 if not operated; +discharge-check 77-91 if not operated; -class LEDDY-III; -operative; -splint DIP PIP MCP wrist 42-42; -surgeon-review 2-10; -film 0-7 if bone was fixed; -wound-check 3-7 if operated; -therapy 3-7 if operated; -stitches-out 10-14 if it was stitched; -film 28-42 if bone was fixed; -wire-out 42-45 if a wire crosses the end joint; -splint-review 42-45 if operated; -discharge-check 84-112
  `,
);
changes(
  "a Seymour fracture",
  {
    ...CHILD,
    fractureSite: "physis",
    salterHarris: "I",
    nailPlate: "over-fold",
    activeExtension: "lag",
    openness: "open-nail-bed",
    bloodAtNailFold: "yes",
  },
  `
    arterialDisease yes: +epinephrine refused
    vasospasm yes: +epinephrine refused
    penicillinAllergy low-risk: +drug: clindamycin, not penicillins; -drug: first-generation cephalosporin
    penicillinAllergy severe: +drug: clindamycin, not penicillins and cephalosporins; -drug: first-generation cephalosporin
    localAnaestheticAllergy sulfite: +epinephrine refused
    tetanusDoses none|one-or-two|not-known: +tetanus vaccine and immunoglobulin; -tetanus nothing
    mechanism human-bite|cat-bite|dog-bite|other-animal-bite: +exit bite (leaves) D0; +drug: co-amoxiclav; -drug: first-generation cephalosporin; the ordinary plan ends
    mechanism high-pressure-injection: +urgency NOW; +exit high-pressure-injection (leaves) NOW; +drug: ask the hand surgeon; -urgency D0; -drug: first-generation cephalosporin; the ordinary plan ends
    mechanism burn-or-frostbite: +exit burn-or-frostbite (leaves) D0; +clinic 0-1; the ordinary plan ends
    contamination heavy-dirt: +urgency NOW; +exit gross-contamination (leaves) NOW; -urgency D0; the ordinary plan ends
    contamination soil-or-manure: +urgency NOW; +exit gross-contamination (leaves) NOW; +drug: co-amoxiclav; -urgency D0; -drug: first-generation cephalosporin; the ordinary plan ends
    tipColour pale|dusky|white: +epinephrine refused
    capillaryRefill slow: +epinephrine refused
    tissueLoss bone-exposed: +exit amputation (leaves) D0; the ordinary plan ends
    tissueLoss amputation-replantable: +urgency NOW; +exit amputation (leaves) NOW; +epinephrine refused; -urgency D0; the ordinary plan ends
    tissueLoss amputation-not-replantable: +exit amputation (leaves) D0; +epinephrine refused; the ordinary plan ends
    mangled yes: +urgency NOW; +exit mangled (leaves) NOW; +epinephrine refused; -urgency D0; the ordinary plan ends
    sheathSigns yes: +urgency NOW; +exit infection (leaves) NOW; +antibiotic treat-infection; +drug: clindamycin; +wire-out 0-1 if a wire is in and loose or infected; +film 10-14; +film 40-44; -urgency D0; -antibiotic yes; -drug: first-generation cephalosporin; the ordinary plan ends
    infectionSigns local: +exit infection D1; +antibiotic treat-infection; +drug: clindamycin; +wire-out 0-1 if a wire is in and loose or infected; +film 40-44; -antibiotic yes; -drug: first-generation cephalosporin
    infectionSigns spreading: +urgency NOW; +exit infection (leaves) NOW; +antibiotic treat-infection; +drug: clindamycin; +wire-out 0-1 if a wire is in and loose or infected; +film 10-14; +film 40-44; -urgency D0; -antibiotic yes; -drug: first-generation cephalosporin; the ordinary plan ends
    infectionSigns tense-pulp-or-discharge: +exit infection (leaves) D0; +antibiotic treat-infection; +drug: clindamycin; +wire-out 0-1 if a wire is in and loose or infected; +film 10-14; +film 40-44; -antibiotic yes; -drug: first-generation cephalosporin; the ordinary plan ends
    devitalised yes|artery-cut: +epinephrine refused
    boneLesion yes: +exit pathological-fracture (leaves) R2; +clinic 7-14; the ordinary plan ends
    lysisOrPeriostealReaction yes: +exit infection (leaves) D0; +antibiotic treat-infection; +drug: clindamycin; +wire-out 0-1 if a wire is in and loose or infected; +film 10-14; +film 40-44; -antibiotic yes; -drug: first-generation cephalosporin; the ordinary plan ends
    passiveExtension blocked: +clinic 3-7
    activeFlexion absent: +class JERSEY; +class LEDDY-I-OR-II; +splint DIP PIP MCP wrist 42-42; +surgeon-review 2-10; +film 0-7 if bone was fixed; +wound-check 3-7 if operated; +therapy 3-7 if operated; +stitches-out 10-14 if it was stitched; +film 28-42 if bone was fixed; +wire-out 42-45 if a wire crosses the end joint; +splint-review 42-45 if operated; +discharge-check 84-112; -splint DIP 28-28
    woundOverJoint cut: +class DOYLE-II; +wound-check 5-7 if a wire was placed; +film 7-10 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +therapy 28-42 if a wire was placed; +splint-review 42-56 if no wire was placed; +discharge-check 84-112 if a wire was placed; +discharge-check 84-112 if no wire was placed
    woundOverJoint skin-and-tendon-lost: +class DOYLE-III; +wound-check 5-7 if a wire was placed; +film 7-10 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +therapy 28-42 if a wire was placed; +splint-review 42-56 if no wire was placed; +discharge-check 84-112 if a wire was placed; +discharge-check 84-112 if no wire was placed
    filmTaken no: +answers do not fit; -class SALTER-HARRIS-I
    trueLateral not-taken: +answers do not fit
    salterHarris none|juxta-epiphyseal: -class SALTER-HARRIS-I; -class EQUIVALENT-A
    salterHarris II: +class SALTER-HARRIS-II; -class SALTER-HARRIS-I
    salterHarris III: +class MALLET-EQUIVALENT-B; +class SALTER-HARRIS-III; +class DOYLE-IVA; +class WEHBE-III; +film-true-lateral 6-8; +wound-check 5-7 if a wire was placed; +film-true-lateral 13-15; +film 26-30; -class SALTER-HARRIS-I; -class EQUIVALENT-A
    salterHarris IV: +class MALLET-EQUIVALENT-B; +class SALTER-HARRIS-IV; +class DOYLE-IVA; +class WEHBE-III; +film-true-lateral 6-8; +wound-check 5-7 if a wire was placed; +film-true-lateral 13-15; +film 26-30; -class SALTER-HARRIS-I; -class EQUIVALENT-A
    salterHarris V: +class SALTER-HARRIS-V; -class SALTER-HARRIS-I; -class EQUIVALENT-A
    epiphysisTurned turned-tendon-attached: +class MALLET-EQUIVALENT-C; +class DOYLE-IVA; +class WEHBE-III; +wound-check 5-7; +wound-check 5-7 if a wire was placed; -wound-check 6-7
    epiphysisTurned separated-tendon-avulsed: +class MALLET-EQUIVALENT-D; +class DOYLE-IVA; +class WEHBE-III; +wound-check 5-7; +wound-check 5-7 if a wire was placed; -wound-check 6-7
  `,
);
changes(
  "a closed growth plate fracture",
  { ...CHILD, fractureSite: "physis", salterHarris: "II" },
  `
    mechanism human-bite: +urgency D0; +exit bite (leaves) D0; +antibiotic consider; +drug: co-amoxiclav; +surgeon-review 0-1; -urgency W1; -antibiotic no; the ordinary plan ends
    mechanism burn-or-frostbite: +urgency D0; +exit burn-or-frostbite (leaves) D0; +antibiotic not-routinely; +clinic 0-1; -urgency W1; -antibiotic no; the ordinary plan ends
    tissueLoss pulp-large: +urgency D0; +must-refer; +antibiotic not-routinely; +surgeon-review 0-1; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -urgency W1; -non-operative; -antibiotic no
    jointDislocated yes-not-yet-reduced: +urgency D0; +exit dislocation (leaves) D0; -urgency W1; the ordinary plan ends
    nailPlate split: +antibiotic not-routinely; +wound-check 2-5; +stitches-out 10-14 if it was stitched; -antibiotic no
    activeExtension lag: +urgency D0; +class SEYMOUR-PATTERN-CLOSED; +class DOYLE-IVA; +class WEHBE-III; +class EQUIVALENT-A; +discuss; +clinic 0-0; +physis-film 180-365; -urgency W1; -class PHYSEAL-CLOSED; -non-operative; -clinic 5-7; -discharge-check 180-365
    activeExtension cannot-test: +clinic 3-5; -clinic 5-7
    activeFlexion absent: +urgency D1; +class JERSEY; +class LEDDY-I-OR-II; +operative; +splint DIP PIP MCP wrist 42-42; +surgeon-review 0-1; +surgeon-review 2-10; +film 0-7 if bone was fixed; +wound-check 3-7 if operated; +therapy 3-7 if operated; +stitches-out 10-14 if it was stitched; +film 28-42 if bone was fixed; +wire-out 42-45 if a wire crosses the end joint; +splint-review 42-45 if operated; +discharge-check 84-112; -urgency W1; -non-operative; -splint DIP 21-28
    nailPlaneRotation rotated: +urgency D1; +must-refer; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +wire-out 21-28 if a wire was placed; -urgency W1; -non-operative
    salterHarris none|juxta-epiphyseal: -class SALTER-HARRIS-II
    salterHarris I: +class SALTER-HARRIS-I; -class SALTER-HARRIS-II
    salterHarris III: +class MALLET-EQUIVALENT-B; +class SALTER-HARRIS-III; +class DOYLE-IVA; +class WEHBE-III; +splint DIP 28-42; +surgeon-review 0-7; +film-true-lateral 6-8; +wound-check 5-7 if a wire was placed; +film-true-lateral 13-15; +wire-out 21-28 if a wire was placed; +physis-film 180-365; -class PHYSEAL-CLOSED; -class SALTER-HARRIS-II; -splint DIP 21-28; -clinic 5-7; -film 7-10; -discharge-check 180-365
    salterHarris IV: +class MALLET-EQUIVALENT-B; +class SALTER-HARRIS-IV; +class DOYLE-IVA; +class WEHBE-III; +splint DIP 28-42; +surgeon-review 0-7; +film-true-lateral 6-8; +wound-check 5-7 if a wire was placed; +film-true-lateral 13-15; +wire-out 21-28 if a wire was placed; +physis-film 180-365; -class PHYSEAL-CLOSED; -class SALTER-HARRIS-II; -splint DIP 21-28; -clinic 5-7; -film 7-10; -discharge-check 180-365
    salterHarris V: +urgency R2; +class POSSIBLE-PHYSEAL; +class SALTER-HARRIS-V; +splint DIP 10-14; +film 10-14; +physis-film 180-365; -urgency W1; -class PHYSEAL-CLOSED; -class SALTER-HARRIS-II; -splint DIP 21-28; -clinic 5-7; -film 7-10; -film 26-30; -discharge-check 180-365
    epiphysisTurned turned-tendon-attached: +urgency D0; +class MALLET-EQUIVALENT-C; +class DOYLE-IVA; +class WEHBE-III; +operative; +splint DIP 0-7; +surgeon-review 0-1; +wound-check 3-7; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-28 if a wire was placed; +physis-film 180-365; -urgency W1; -class PHYSEAL-CLOSED; -non-operative; -splint DIP 21-28; -clinic 5-7; -film 26-30; -discharge-check 180-365
    epiphysisTurned separated-tendon-avulsed: +urgency D0; +class MALLET-EQUIVALENT-D; +class DOYLE-IVA; +class WEHBE-III; +operative; +splint DIP 0-7; +surgeon-review 0-1; +wound-check 3-7; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-28 if a wire was placed; +physis-film 180-365; -urgency W1; -class PHYSEAL-CLOSED; -non-operative; -splint DIP 21-28; -clinic 5-7; -film 26-30; -discharge-check 180-365
  `,
);
limits(
  "an open tuft fracture",
  { ...ADULT, fractureSite: "tuft", openness: "open-skin" },
  `
    ageYears 0.105 to 0.115: +tetanus nothing; -tetanus immunoglobulin
    ageYears 11.9 to 12: +epinephrine allowed
    ageYears 17.9 to 18: +splint no joint 21-28; -splint no joint 14-21
    tetanusYearsSinceLast 4.9 to 5: +tetanus vaccine; -tetanus nothing
    hoursSinceInjury 11.9 to 12: +antibiotic yes; +drug: anti-staphylococcal penicillin or first-generation cephalosporin; -antibiotic not-routinely
    hoursSinceInjury 23.9 to 24: +urgency D0; +exit late D0; +must-refer; +surgeon-review 1-2; +wound-check 3-6; +wound-check 7-8; -urgency none; -non-operative; -wound-check 2-5; -wound-check 6-7
    translationMm 1.9 to 2: +urgency not decided; +answers do not fit; -urgency none
    angulationDegrees 9.9 to 10: +urgency not decided; +answers do not fit; -urgency none
  `,
);
limits(
  "a shaft fracture that has moved",
  { ...ADULT, fractureSite: "shaft", displacement: "seen" },
  `
    translationMm 1.9 to 2: +urgency D1; +class SHAFT-T1; +must-refer; +epinephrine allowed; +splint DIP 28-42; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -urgency R2; -class SHAFT-T0; -non-operative; -splint DIP 21-42; -therapy 21-28; -film 28-35; -discharge-check 42-56
    angulationDegrees 9.9 to 10: +urgency D1; +class SHAFT-T1; +must-refer; +epinephrine allowed; +splint DIP 28-42; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -urgency R2; -class SHAFT-T0; -non-operative; -splint DIP 21-42; -therapy 21-28; -film 28-35; -discharge-check 42-56
  `,
);
limits(
  "a longitudinal shaft fracture that has moved",
  { ...ADULT, fractureSite: "shaft", displacement: "seen", fracturePattern: "longitudinal" },
  `
    translationMm 1.9 to 2: +urgency D1; +must-refer; +epinephrine allowed; +splint DIP 28-42; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -urgency R2; -non-operative; -splint DIP 21-28; -therapy 21-28; -film 28-35; -discharge-check 42-56
    angulationDegrees 9.9 to 10: +urgency D1; +must-refer; +epinephrine allowed; +splint DIP 28-42; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +stitches-out 10-14 if it was stitched; +wire-out 21-42 if a wire was placed; +therapy 21-42 if a wire was placed; +film 28-42 if no wire was placed; +film 56-70 if no wire was placed and union is late; +film 56-70 if a wire was placed and union is late; +discharge-check 70-84 if no wire was placed; +discharge-check 70-84 if a wire was placed; -urgency R2; -non-operative; -splint DIP 21-28; -therapy 21-28; -film 28-35; -discharge-check 42-56
    fragmentGapMm 2 to 2.1: +urgency W1; +discuss; +surgeon-review 0-7; -urgency R2; -non-operative
    jointStepMm 0.9 to 1: +urgency W1; +discuss; +surgeon-review 0-7; -urgency R2; -non-operative
  `,
);
limits(
  "a bony mallet with a gap",
  { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 25, mechanism: "axial-load", displacement: "seen" },
  `
    hoursSinceInjury 671.9 to 672: +exit late W1; +clinic 28-35; +splint-review 33-35; +film-true-lateral 35-38; +film-true-lateral 70-84; +therapy 70-84; +discharge-check 105-119; -splint-review 32-34; -film-true-lateral 34-37; -film-true-lateral 69-83; -therapy 69-83; -discharge-check 104-118
    hoursSinceInjury 839.9 to 840: +options; +clinic 35-42; +splint-review 40-42; +film-true-lateral 42-45; +film-true-lateral 77-91; +therapy 77-91; +discharge-check 112-126; -clinic 34-41; -splint-review 39-41; -film-true-lateral 41-44; -film-true-lateral 76-90; -therapy 76-90; -discharge-check 111-125
    hoursSinceInjury 2159.9 to 2160: +clinic 90-97; +splint-review 95-97; +film-true-lateral 97-100; +film-true-lateral 132-146; +therapy 132-146; +discharge-check 167-181; -clinic 89-96; -splint-review 94-96; -film-true-lateral 96-99; -film-true-lateral 131-145; -therapy 131-145; -discharge-check 166-180
    articularSharePercent 19.9 to 20: +class DOYLE-IVB; -class DOYLE-I
    articularSharePercent 33.2 to 33.3: +class WEHBE-IB; +discuss; +options; +surgeon-review 0-7; +film-true-lateral 6-8; +wound-check 5-7 if a wire was placed; +film 7-10 if a wire was placed; +film-true-lateral 13-15; +stitches-out 10-14 if it was stitched; +film-true-lateral 20-22; +wire-out 28-42 if a wire was placed; +therapy 28-42 if a wire was placed; +discharge-check 84-112 if a wire was placed; -class WEHBE-IA; -non-operative; -film-true-lateral 7-10
    articularSharePercent 50 to 50.1: +class DOYLE-IVC-IF-IT-SLIPS; -class DOYLE-IVB
    articularSharePercent 66.7 to 66.8: +class DOYLE-IVC; +class WEHBE-IC; +must-refer; -class DOYLE-IVC-IF-IT-SLIPS; -class WEHBE-IB
    fragmentGapMm 2 to 2.1: +discuss; +surgeon-review 0-7
  `,
);
limits(
  "a slipped bony mallet",
  { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 25, jointPosition: "volar-subluxed" },
  `
    articularSharePercent 33.2 to 33.3: +class WEHBE-IIB; +options; +discuss; +film-true-lateral 6-8; +film-true-lateral 13-15; +film-true-lateral 20-22; -class WEHBE-IIA; -film-true-lateral 7-10 if not operated
    articularSharePercent 50 to 50.1: +class DOYLE-IVC; -class DOYLE-IVB-SLIPPED
    articularSharePercent 66.7 to 66.8: +class WEHBE-IIC; -class WEHBE-IIB
  `,
);
limits(
  "a tendon mallet after its time in the splint",
  {
    ...ADULT,
    activeExtension: "lag",
    presentation: "again",
    fullSplintTimeDone: "yes",
    hoursSinceInjury: 1440,
    lagDegrees: 15,
  },
  `
    hoursSinceInjury 1007.9 to 1008: +options; +splint DIP 14-28; +clinic 42-49; -non-operative; -splint DIP 56-56; -clinic 41-48; -splint-review 46-48; -therapy 97-97; -discharge-check 118-132
    lagDegrees 10 to 10.1: +splint DIP 14-28
    lagDegrees 20 to 20.1: +discuss; -options; -splint DIP 14-28
  `,
);
limits(
  "a torn flexor with a fragment at the joint",
  {
    ...ADULT,
    activeFlexion: "absent",
    fractureSite: "base-volar",
    volarFragmentAt: "dip-or-a4",
    mechanism: "forced-extension",
  },
  `
    hoursSinceInjury 239.9 to 240: +exit late D1; +surgeon-review 10-21; +surgeon-review 10-11; -surgeon-review 9-10
    hoursSinceInjury 503.9 to 504: +surgeon-review 21-22; -surgeon-review 20-21
    hoursSinceInjury 2159.9 to 2160: +options; +surgeon-review 90-91; -operative; -splint DIP PIP MCP wrist 42-42; -surgeon-review 89-90; -film 0-7 if bone was fixed; -wound-check 3-7 if operated; -therapy 3-7 if operated; -stitches-out 10-14 if it was stitched; -film 28-42 if bone was fixed; -wire-out 42-45 if a wire crosses the end joint; -splint-review 42-45 if operated; -discharge-check 84-112
  `,
);
limits(
  "a torn flexor without a fragment",
  { ...ADULT, activeFlexion: "absent", mechanism: "forced-extension" },
  `
    hoursSinceInjury 239.9 to 240: +exit late D1; +surgeon-review 10-11; -surgeon-review 9-10
    hoursSinceInjury 2159.9 to 2160: +options; +surgeon-review 90-91; -operative; -splint DIP PIP MCP wrist 42-42; -surgeon-review 89-90; -film 0-7 if bone was fixed; -wound-check 3-7 if operated; -therapy 3-7 if operated; -stitches-out 10-14 if it was stitched; -film 28-42 if bone was fixed; -wire-out 42-45 if a wire crosses the end joint; -splint-review 42-45 if operated; -discharge-check 84-112
  `,
);
limits(
  "a pushed-in joint",
  { ...ADULT, fractureSite: "base-central", displacement: "seen" },
  `
    translationMm 1.9 to 2: +urgency D1; +must-refer; +splint DIP 0-7; +surgeon-review 0-1; +wound-check 5-7 if operated; +film 7-10; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +therapy 35-42; +discharge-check 84-91; -urgency W1; -discuss; -splint DIP 28-42; -clinic 5-7; -film 6-8; -film 13-15; -film 27-29; -discharge-check 77-91
    angulationDegrees 9.9 to 10: +urgency D1; +must-refer; +splint DIP 0-7; +surgeon-review 0-1; +wound-check 5-7 if operated; +film 7-10; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +therapy 35-42; +discharge-check 84-91; -urgency W1; -discuss; -splint DIP 28-42; -clinic 5-7; -film 6-8; -film 13-15; -film 27-29; -discharge-check 77-91
    jointStepMm 0.9 to 1: +urgency D1; +must-refer; +splint DIP 0-7; +surgeon-review 0-1; +wound-check 5-7 if operated; +film 7-10; +stitches-out 10-14 if it was stitched; +wire-out 28-42 if a wire was placed; +therapy 35-42; +discharge-check 84-91; -urgency W1; -discuss; -splint DIP 28-42; -clinic 5-7; -film 6-8; -film 13-15; -film 27-29; -discharge-check 77-91
  `,
);
limits(
  "a Seymour fracture",
  {
    ...CHILD,
    fractureSite: "physis",
    salterHarris: "I",
    nailPlate: "over-fold",
    activeExtension: "lag",
    openness: "open-nail-bed",
    bloodAtNailFold: "yes",
  },
  `
    ageYears 17.9 to 18: +answers do not fit; +must-refer; +antibiotic not-routinely; +wound-check 3-7; +stitches-out 10-14 if it was stitched; -class SEYMOUR; -class SALTER-HARRIS-I; -class EQUIVALENT-A; -operative; -options; -antibiotic yes; -drug: first-generation cephalosporin; -splint DIP 28-28; -wound-check 2-3; -wound-check 6-7; -film 7-10; -wire-out 21-28 if a wire was placed; -splint-review 28-30; -physis-film 84-98; -physis-film 180-365
    tetanusYearsSinceLast 4.9 to 5: +tetanus vaccine; -tetanus nothing
    hoursSinceInjury 23.9 to 24: +exit late D0; +drug: clindamycin; +surgeon-review 1-2; +wound-check 3-4; +wound-check 7-8; +film 8-11; +physis-film 85-99; +physis-film 181-366; -drug: first-generation cephalosporin; -surgeon-review 0-1; -wound-check 2-3; -wound-check 6-7; -film 7-10; -physis-film 84-98; -physis-film 180-365
  `,
);
limits(
  "a closed growth plate fracture that has moved",
  { ...CHILD, fractureSite: "physis", salterHarris: "II", displacement: "seen" },
  `
    ageYears 17.9 to 18: +urgency D0; +answers do not fit; -urgency W1; -class PHYSEAL-CLOSED; -class SALTER-HARRIS-II; -non-operative; -splint DIP 21-28; -clinic 5-7; -film 7-10; -film 26-30; -discharge-check 180-365
    translationMm 2 to 2.1: +urgency D1; +must-refer; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +wire-out 21-28 if a wire was placed; -urgency W1; -non-operative
    angulationDegrees 9.9 to 10: +urgency D1; +must-refer; +surgeon-review 0-3; +wound-check 5-7 if a wire was placed; +wire-out 21-28 if a wire was placed; -urgency W1; -non-operative
  `,
);
limits(
  "a bitten finger",
  { ...ADULT, mechanism: "cat-bite", biteBloodDrawn: "yes", openness: "skin-cut" },
  `
    hoursSinceInjury 23.9 to 24: +exit late D0; +surgeon-review 1-2; -surgeon-review 0-1
  `,
);
limits(
  "an injured finger of a person whose doses of tetanus vaccine are not known",
  { ...ADULT, openness: "open-skin", fractureSite: "tuft", tetanusDoses: "not-known" },
  `
    ageYears 0.105 to 0.115: +tetanus vaccine and immunoglobulin; -tetanus immunoglobulin
  `,
);
limits(
  "a clean cut",
  { ...ADULT, mechanism: "laceration", openness: "skin-cut" },
  `
    tetanusYearsSinceLast 9.9 to 10: +tetanus vaccine; -tetanus nothing
    hoursSinceInjury 23.9 to 24: +urgency D0; +exit late D0; +must-refer; +surgeon-review 1-2; +wound-check 4-8; -urgency none; -non-operative; -wound-check 2-5
  `,
);
