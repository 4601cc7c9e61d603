import { describe, expect, it } from "vitest";
import type { VisitWindow } from "../../../src/pathway/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told } from "./records.ts";

/*
 * The whole plan of one finger, for one story of each class and for its neighbours, so that what is said too much fails as well as what is
 * missing. First line: urgency, classes, calls, antibiotic, splint (joints held, days). Then the visits: "earliest-ideal-latest" day. The
 * plans were written down from what the rules say and then read line by line.
 *
 * Against a published source: open fracture, open joint, open growth plate, lost pulp and torn matrix on the day (HS2, draft, items 6 and 7;
 * KIELY22), no clinic for a tuft alone (exclusion of HS2); review of an open fracture within a week (HS2, item 12); day 2 to 5 and 7 (STEV03,
 * trial of open tips); antibiotic or not (METCALFE16, SLOAN87, KIELY22); laterals on day 7, 14 and 21 (SAVAGE21); wire across a growth plate 3
 * to 4 weeks (CHINSEY); wire across the end joint 6 weeks (BEDI); nail stitch day 10 (AO-D); second film day 10 to 14 (ACR19); base of both
 * sides in a splint (VIENNA24); splint of a bony mallet 6, of a tendon 8 weeks (MKUH, AAFP22); joint put back 2 to 3 weeks (AAFP22); flexor
 * repaired by day 10 (RADREF-LP).
 *
 * Everything else is common practice, no source: all other days, the windows D1, W1 and R2, every visit of a finger whose joint slipped
 * without a fracture, whose tendon cannot be tested or whose tip cannot be straightened, of a volar chip and of a pushed-in joint.
 */
const FROM = { treatment: " after treatment", operation: " after the operation", injury: "" } as const;
const inWords = (v: VisitWindow) =>
  `${v.purpose} ${v.earliest}-${v.ideal}-${v.latest}${FROM[v.countFrom ?? "injury"]}${v.onlyIf ? `, ${v.onlyIf}` : ""}${v.after ? `, once ${v.after}` : ""}`;
const visitsOf = new Map<string, readonly string[]>();
function story(name: string, facts: Facts, plan: string): void {
  const [first, ...said] = plan
    .trim()
    .split("\n")
    .map((line) => line.trim());
  const visits = said[0]?.startsWith("as: ") ? visitsOf.get(said[0].slice(4))! : said;
  visitsOf.set(name, visits);
  it(name, () => {
    const { urgency, classes, calls, antibiotic, assessment } = told(facts);
    const splints = assessment.splints.map(
      ({ splint: s }) => `${s.joints.join(" ") || "no joint"} ${s.days.from}-${s.days.to}`,
    );
    const words = [
      urgency ?? "not decided",
      classes.join(" ") || "no class",
      calls.join(" ") || "no call",
      `antibiotic ${antibiotic[0]}`,
      `splint ${splints.join(", ") || "none"}`,
    ];
    expect(words.join(" | ")).toBe(first);
    expect(assessment.visits.map(inWords)).toEqual(visits);
  });
}

describe("plan: tuft", () => {
  story(
    "tuft: simple and closed",
    { ...ADULT, fractureSite: "tuft" },
    `
    none | TUFT-S | non-operative | antibiotic no | splint no joint 14-28
    splint-review 7-8-10
    discharge-check 21-25-28
  `,
  );
  story(
    "tuft: in pieces and closed",
    { ...ADULT, fractureSite: "tuft", fracturePattern: "comminuted" },
    `
    none | TUFT-C | non-operative | antibiotic no | splint no joint 21-28
    splint-review 7-8-10
    discharge-check 21-25-28
  `,
  );
  story(
    "tuft: open, clean, repaired here",
    { ...ADULT, fractureSite: "tuft", openness: "open-skin" },
    `
    none | TUFT-S | non-operative | antibiotic not-routinely | splint no joint 21-28
    wound-check 2-4-5 after treatment
    wound-check 6-7-7 after treatment
    stitches-out 10-12-14 after treatment, if it was stitched
    therapy 14-21-28 after treatment
    wire-out 21-24-28 after treatment, if a wire was placed
    film 28-35-42, if displaced or painful, once wound-check
    discharge-check 42-49-56
  `,
  );
  story(
    "tuft: open, with a torn nail bed of stellate shape: the surgeon repairs it",
    { ...ADULT, fractureSite: "tuft", openness: "open-skin", nailBed: "stellate" },
    `
    D0 | TUFT-S | must-refer | antibiotic not-routinely | splint no joint 21-28
    surgeon-review 0-0-1 after treatment
    wound-check 2-4-5 after treatment
    wound-check 6-7-7 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    therapy 14-21-28 after the operation
    wire-out 21-24-28 after the operation, if a wire was placed
    film 28-35-42, if displaced or painful, once wound-check
    discharge-check 42-49-56
  `,
  );
  story(
    "tuft: closed, with a cut of the skin that does not reach it",
    { ...ADULT, fractureSite: "tuft", openness: "skin-cut" },
    `
    none | TUFT-S | non-operative | antibiotic not-routinely | splint no joint 14-28
    wound-check 2-4-5 after treatment
    splint-review 7-8-10
    stitches-out 10-12-14 after treatment, if it was stitched
    discharge-check 21-25-28
  `,
  );
  story(
    "tuft: closed, nail split: the nail is lifted and looked under",
    { ...ADULT, fractureSite: "tuft", nailPlate: "split" },
    `
    none | TUFT-S | options | antibiotic not-routinely | splint no joint 14-28
    as: tuft: closed, with a cut of the skin that does not reach it
  `,
  );
  story(
    "tuft: open and displaced",
    { ...ADULT, fractureSite: "tuft", openness: "open-skin", displacement: "seen", corticalContact: "none" },
    `
    R2 | TUFT-S | non-operative discuss | antibiotic not-routinely | splint no joint 21-28
    wound-check 2-4-5 after treatment
    wound-check 6-7-7 after treatment
    clinic 7-10-14 after treatment
    stitches-out 10-12-14 after treatment, if it was stitched
    therapy 14-21-28 after treatment
    wire-out 21-24-28 after treatment, if a wire was placed
    film 28-35-42, if displaced or painful, once wound-check
    discharge-check 42-49-56
  `,
  );
  story(
    "tuft: with a drooping tip: a mallet beside it",
    { ...ADULT, fractureSite: "tuft", activeExtension: "lag" },
    `
    W1 | TENDINOUS-MALLET TUFT-S | non-operative | antibiotic no | splint DIP 56-56
    splint-review 5-7-7 after treatment
    therapy 56-56-56 after treatment, once splint-review
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "tuft: with a flexor that does not move the tip",
    { ...ADULT, fractureSite: "tuft", activeFlexion: "absent" },
    `
    D1 | JERSEY TUFT-S | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    surgeon-review 0-1-1 after treatment
    surgeon-review 2-7-10
    film 0-5-7 after the operation, if bone was fixed
    wound-check 3-5-7 after the operation, if operated
    therapy 3-5-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    film 28-35-42 after the operation, if bone was fixed
    wire-out 42-42-45 after the operation, if a wire crosses the end joint
    splint-review 42-42-45 after the operation, if operated
    discharge-check 84-98-112 after the operation
  `,
  );
  story(
    "tuft: with a simple nail bed tear",
    { ...ADULT, fractureSite: "tuft", openness: "open-nail-bed", nailBed: "simple" },
    `
    none | TUFT-S | non-operative | antibiotic not-routinely | splint no joint 21-28
    as: tuft: open, clean, repaired here
  `,
  );
  story(
    "tuft: with a large pulp loss",
    { ...ADULT, fractureSite: "tuft", tissueLoss: "pulp-large" },
    `
    D0 | TUFT-S | must-refer | antibiotic not-routinely | splint no joint 14-28
    as: tuft: open, with a torn nail bed of stellate shape: the surgeon repairs it
  `,
  );
  story(
    "tuft: open, seen after two days",
    { ...ADULT, fractureSite: "tuft", openness: "open-skin", hoursSinceInjury: 48 },
    `
    D0 | TUFT-S | must-refer | antibiotic yes | splint no joint 21-28
    surgeon-review 2-2-3 after treatment
    wound-check 4-6-7 after treatment
    wound-check 8-9-9 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    therapy 14-21-28 after the operation
    wire-out 21-24-28 after the operation, if a wire was placed
    film 28-35-42, if displaced or painful, once wound-check
    discharge-check 42-49-56
  `,
  );
  story(
    "tuft: after a dislocation of the end joint that was put back",
    { ...ADULT, fractureSite: "tuft", jointDislocated: "reduced" },
    `
    R2 | TUFT-S DISLOCATION-REDUCED | non-operative | antibiotic no | splint DIP 14-21
    splint-review 7-8-10
    film-true-lateral 7-10-14 after treatment
    therapy 14-18-21 after treatment
    discharge-check 21-25-28
    discharge-check 42-49-56 after treatment
  `,
  );
});
describe("plan: shaft", () => {
  story(
    "shaft: transverse, in place",
    { ...ADULT, fractureSite: "shaft", fracturePattern: "transverse" },
    `
    R2 | SHAFT-T0 | non-operative | antibiotic no | splint DIP 21-42
    film 7-8-10
    therapy 21-24-28
    film 28-30-35
    discharge-check 42-49-56
  `,
  );
  story(
    "shaft: longitudinal, in place",
    { ...ADULT, fractureSite: "shaft", fracturePattern: "longitudinal" },
    `
    R2 | SHAFT-L | non-operative | antibiotic no | splint DIP 21-28
    as: shaft: transverse, in place
  `,
  );
  story(
    "shaft: longitudinal, a step of 1 mm in the joint",
    { ...ADULT, fractureSite: "shaft", fracturePattern: "longitudinal", displacement: "seen", jointStepMm: 1 },
    `
    W1 | SHAFT-L | discuss | antibiotic no | splint DIP 21-28
    surgeon-review 0-5-7 after treatment
    film 7-8-10
    therapy 21-24-28
    film 28-30-35
    discharge-check 42-49-56
  `,
  );
  story(
    "shaft: closed, without contact of the ends",
    { ...ADULT, fractureSite: "shaft", displacement: "seen", corticalContact: "none" },
    `
    D1 | SHAFT-T1 | must-refer | antibiotic no | splint DIP 28-42
    surgeon-review 0-1-3 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 21-28-42 after the operation, if a wire was placed, once film
    therapy 21-28-42 after the operation, if a wire was placed, once wire-out
    film 28-35-42 after treatment, if no wire was placed
    film 56-63-70 after treatment, if no wire was placed and union is late
    film 56-63-70 after the operation, if a wire was placed and union is late
    discharge-check 70-77-84 after treatment, if no wire was placed
    discharge-check 70-77-84 after the operation, if a wire was placed
  `,
  );
  story(
    "shaft: open, in place",
    { ...ADULT, fractureSite: "shaft", openness: "open-skin" },
    `
    D0 | SHAFT-T0 | must-refer | antibiotic not-routinely | splint DIP 21-42
    surgeon-review 0-0-1 after treatment
    wound-check 3-5-7 after treatment
    film 7-8-10
    stitches-out 10-12-14 after the operation, if it was stitched
    therapy 21-24-28
    film 28-30-35
    discharge-check 42-49-56
  `,
  );
  story(
    "shaft: open, with the nail bed in the gap",
    { ...ADULT, fractureSite: "shaft", openness: "open-skin", nailBedInGap: "yes" },
    `
    D0 | SHAFT-T1 | must-refer must-refer must-refer | antibiotic not-routinely | splint DIP 28-42
    surgeon-review 0-0-1 after treatment
    wound-check 3-5-7 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 21-28-42 after the operation, if a wire was placed, once film
    therapy 21-28-42 after the operation, if a wire was placed, once wire-out
    film 28-35-42 after treatment, if no wire was placed
    film 56-63-70 after treatment, if no wire was placed and union is late
    film 56-63-70 after the operation, if a wire was placed and union is late
    discharge-check 70-77-84 after treatment, if no wire was placed
    discharge-check 70-77-84 after the operation, if a wire was placed
  `,
  );
  story(
    "shaft: in place, nail plane rotated",
    { ...ADULT, fractureSite: "shaft", nailPlaneRotation: "rotated" },
    `
    D1 | SHAFT-T1 | must-refer | antibiotic no | splint DIP 28-42
    as: shaft: closed, without contact of the ends
  `,
  );
  story(
    "shaft: in place, with a drooping tip",
    { ...ADULT, fractureSite: "shaft", activeExtension: "lag" },
    `
    W1 | TENDINOUS-MALLET SHAFT-T0 | non-operative non-operative | antibiotic no | splint DIP 56-56
    splint-review 5-7-7 after treatment
    film 7-8-10
    therapy 21-24-28
    film 28-30-35
    discharge-check 42-49-56
    therapy 56-56-56 after treatment, once splint-review
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "shaft: in place, flexor torn",
    { ...ADULT, fractureSite: "shaft", activeFlexion: "absent" },
    `
    D1 | JERSEY SHAFT-T0 | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    surgeon-review 0-1-1 after treatment
    surgeon-review 2-7-10
    film 7-8-10
    film 0-5-7 after the operation, if bone was fixed
    wound-check 3-5-7 after the operation, if operated
    therapy 3-5-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    film 28-30-35
    film 28-35-42 after the operation, if bone was fixed
    wire-out 42-42-45 after the operation, if a wire crosses the end joint
    splint-review 42-42-45 after the operation, if operated
    discharge-check 84-98-112 after the operation
  `,
  );
  story(
    "shaft: of the base outside the joint",
    { ...ADULT, fractureSite: "base-extra-articular" },
    `
    D1 | BASE-X | must-refer | antibiotic no | splint DIP 28-42
    as: shaft: closed, without contact of the ends
  `,
  );
});
describe("plan: mallet", () => {
  story(
    "mallet: tendon only",
    { ...ADULT, activeExtension: "lag", mechanism: "forced-flexion" },
    `
    W1 | TENDINOUS-MALLET | non-operative | antibiotic no | splint DIP 56-56
    as: tuft: with a drooping tip: a mallet beside it
  `,
  );
  story(
    "mallet: small fragment, a fifth of the joint",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 },
    `
    W1 | MALLET | non-operative | antibiotic no | splint DIP 42-56
    splint-review 5-7-7 after treatment
    film-true-lateral 7-8-10 after treatment
    film-true-lateral 42-42-56 after treatment, once splint-review
    therapy 42-42-56 after treatment, once film-true-lateral
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "mallet: middle fragment, two fifths of the joint",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 },
    `
    W1 | MALLET | discuss options discuss | antibiotic no | splint DIP 42-56
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment
    film-true-lateral 6-7-8 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after the operation, if a wire was placed
    film-true-lateral 13-14-15 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    film-true-lateral 20-21-22 after treatment
    wire-out 28-35-42 after the operation, if a wire was placed, once film
    film-true-lateral 42-42-56 after treatment, once splint-review
    therapy 42-42-56 after treatment, once film-true-lateral
    therapy 28-42-42 after the operation, if a wire was placed, once wire-out
    discharge-check 77-84-91 after treatment
    discharge-check 84-98-112 after the operation, if a wire was placed
  `,
  );
  story(
    "mallet: middle fragment, gap over 2 mm",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40, displacement: "seen", fragmentGapMm: 3 },
    `
    W1 | MALLET | discuss discuss options discuss | antibiotic no | splint DIP 42-56
    as: mallet: middle fragment, two fifths of the joint
  `,
  );
  story(
    "mallet: large fragment, seven tenths of the joint",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 70 },
    `
    W1 | MALLET | must-refer options discuss | antibiotic no | splint DIP 42-56
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment
    film-true-lateral 6-7-8 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after the operation, if a wire was placed
    film-true-lateral 13-14-15 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    film-true-lateral 20-21-22 after treatment
    wire-out 28-35-42 after the operation, if a wire was placed, once film
    film-true-lateral 42-42-56 after treatment, once splint-review
    therapy 42-42-56 after treatment, once film-true-lateral
    therapy 28-42-42 after the operation, if a wire was placed, once wire-out
    discharge-check 77-84-91 after treatment
    discharge-check 84-98-112 after the operation, if a wire was placed
  `,
  );
  story(
    "mallet: small fragment, joint slipped to the palm",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20, jointPosition: "volar-subluxed" },
    `
    W1 | MALLET | must-refer | antibiotic no | splint DIP 0-7
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment, if not operated
    film-true-lateral 7-8-10 after treatment, if not operated
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after the operation, if a wire was placed
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 28-35-42 after the operation, if a wire was placed, once film
    film-true-lateral 42-42-56 after treatment, if not operated, once splint-review
    therapy 42-42-56 after treatment, if not operated, once film-true-lateral
    therapy 28-42-42 after the operation, if a wire was placed, once wire-out
    discharge-check 77-84-91 after treatment, if not operated
    discharge-check 84-98-112 after the operation, if a wire was placed
  `,
  );
  story(
    "mallet: open, tendon cut",
    { ...ADULT, activeExtension: "lag", woundOverJoint: "cut", openness: "open-skin" },
    `
    D0 | TENDINOUS-MALLET | operative | antibiotic not-routinely | splint DIP 0-7
    surgeon-review 0-0-1 after treatment
    wound-check 2-4-7 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after the operation, if a wire was placed
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 28-35-42 after the operation, if a wire was placed, once film
    therapy 28-42-42 after the operation, if a wire was placed, once wire-out
    splint-review 42-42-56 after the operation, if no wire was placed
    discharge-check 84-98-112 after the operation, if a wire was placed
    discharge-check 84-98-112 after the operation, if no wire was placed
  `,
  );
  story(
    "mallet: open, small fragment",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20, woundOverJoint: "cut", openness: "open-skin" },
    `
    D0 | MALLET | operative | antibiotic not-routinely | splint DIP 0-7
    as: mallet: open, tendon cut
  `,
  );
  story(
    "mallet: tendon only, tip that cannot be straightened",
    { ...ADULT, activeExtension: "lag", passiveExtension: "blocked" },
    `
    W1 | TENDINOUS-MALLET | discuss | antibiotic no | splint DIP 0-7
    clinic 3-5-7 after treatment
  `,
  );
  story(
    "mallet: small fragment, tip that cannot be straightened",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20, passiveExtension: "blocked" },
    `
    W1 | MALLET | discuss | antibiotic no | splint DIP 0-7
    clinic 3-5-7 after treatment
    film-true-lateral 7-8-10 after treatment
  `,
  );
  story(
    "mallet: tendon only, splint cannot be kept on",
    { ...ADULT, activeExtension: "lag", cannotKeepSplint: "yes" },
    `
    W1 | TENDINOUS-MALLET | discuss non-operative | antibiotic no | splint DIP 56-56
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment
    therapy 56-56-56 after treatment, once splint-review
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "mallet: tendon only, hands that cannot work in a splint",
    { ...ADULT, activeExtension: "lag", handDependentWork: "yes" },
    `
    W1 | TENDINOUS-MALLET | discuss non-operative | antibiotic no | splint DIP 56-56
    as: mallet: tendon only, splint cannot be kept on
  `,
  );
  story(
    "mallet: tendon only, eight weeks in the splint, lag of 15 degrees",
    {
      ...ADULT,
      activeExtension: "lag",
      presentation: "again",
      fullSplintTimeDone: "yes",
      hoursSinceInjury: 1344,
      lagDegrees: 15,
    },
    `
    W1 | TENDINOUS-MALLET | options | antibiotic no | splint DIP 14-28
    clinic 56-56-63 after treatment
  `,
  );
  story(
    "mallet: tendon only, eight weeks in the splint, lag of 5 degrees",
    {
      ...ADULT,
      activeExtension: "lag",
      presentation: "again",
      fullSplintTimeDone: "yes",
      hoursSinceInjury: 1344,
      lagDegrees: 5,
    },
    `
    W1 | TENDINOUS-MALLET | options | antibiotic no | splint none
    clinic 56-56-63 after treatment
  `,
  );
  story(
    "mallet: tendon only, seen first after 40 days",
    { ...ADULT, activeExtension: "lag", hoursSinceInjury: 960 },
    `
    W1 | TENDINOUS-MALLET | non-operative | antibiotic no | splint DIP 56-56
    clinic 40-40-47 after treatment
    splint-review 45-47-47 after treatment
    therapy 96-96-96 after treatment, once splint-review
    discharge-check 117-124-131 after treatment
  `,
  );
  story(
    "mallet: small fragment and a flexor that does not move the tip",
    { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20, activeFlexion: "absent" },
    `
    D1 | JERSEY MALLET | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    as: tuft: with a flexor that does not move the tip
  `,
  );
});
describe("plan: flexor", () => {
  story(
    "flexor: torn off, no bone, seen on the day",
    { ...ADULT, activeFlexion: "absent", mechanism: "forced-extension" },
    `
    D1 | JERSEY | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    as: tuft: with a flexor that does not move the tip
  `,
  );
  story(
    "flexor: torn off with a large fragment at the joint",
    {
      ...ADULT,
      fractureSite: "base-volar",
      activeFlexion: "absent",
      volarFragmentAt: "dip-or-a4",
      mechanism: "forced-extension",
    },
    `
    D1 | JERSEY | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    as: tuft: with a flexor that does not move the tip
  `,
  );
  story(
    "flexor: torn off with a large fragment, seen on day 12",
    {
      ...ADULT,
      fractureSite: "base-volar",
      activeFlexion: "absent",
      volarFragmentAt: "dip-or-a4",
      mechanism: "forced-extension",
      hoursSinceInjury: 288,
    },
    `
    D1 | JERSEY | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    surgeon-review 12-12-21
    surgeon-review 12-13-13 after treatment
    film 0-5-7 after the operation, if bone was fixed
    wound-check 3-5-7 after the operation, if operated
    therapy 3-5-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    film 28-35-42 after the operation, if bone was fixed
    wire-out 42-42-45 after the operation, if a wire crosses the end joint
    splint-review 42-42-45 after the operation, if operated
    discharge-check 84-98-112 after the operation
  `,
  );
  story(
    "flexor: torn off, no bone, seen on day 12",
    { ...ADULT, activeFlexion: "absent", mechanism: "forced-extension", hoursSinceInjury: 288 },
    `
    D1 | JERSEY | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    surgeon-review 12-13-13 after treatment
    film 0-5-7 after the operation, if bone was fixed
    wound-check 3-5-7 after the operation, if operated
    therapy 3-5-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    film 28-35-42 after the operation, if bone was fixed
    wire-out 42-42-45 after the operation, if a wire crosses the end joint
    splint-review 42-42-45 after the operation, if operated
    discharge-check 84-98-112 after the operation
  `,
  );
  story(
    "flexor: cut through",
    { ...ADULT, activeFlexion: "absent", mechanism: "laceration", openness: "open-skin" },
    `
    D1 | no class | no call | antibiotic not-routinely | splint DIP PIP MCP wrist 0-7
    surgeon-review 0-1-1 after treatment
    wound-check 3-5-7 after treatment
    surgeon-review 2-7-10, if not repaired when it is explored
    therapy 3-5-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    discharge-check 84-98-112 after the operation, if operated
  `,
  );
  story(
    "flexor: weak after the grip was pulled open, no fracture",
    { ...ADULT, activeFlexion: "weak", mechanism: "forced-extension" },
    `
    D1 | TENDON-NOT-CLEARED | discuss discuss | antibiotic no | splint DIP PIP MCP wrist 0-7
    surgeon-review 0-1-3 after treatment
    clinic 3-4-5 after treatment
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "flexor: not testable for pain after a crush, no fracture",
    { ...ADULT, activeFlexion: "cannot-test" },
    `
    W1 | TENDON-NOT-CLEARED | discuss | antibiotic no | splint DIP 0-7
    clinic 3-4-5 after treatment
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "flexor: working, with a volar chip",
    { ...ADULT, fractureSite: "base-volar" },
    `
    R2 | VOLAR-CHIP | non-operative | antibiotic no | splint DIP 14-21
    clinic 7-10-14 after treatment
  `,
  );
  story(
    "flexor: off the bone, rest of the phalanx broken outside the joint, hardly displaced",
    { ...ADULT, fractureSite: "base-volar", activeFlexion: "absent", restOfPhalanx: "extra-articular-fracture" },
    `
    D1 | JERSEY COMBINED-BASE | options | antibiotic no | splint DIP 28-42
    surgeon-review 0-1-1 after treatment
    clinic 6-7-7 after treatment, if not operated
    film 6-7-8 after treatment, if not operated
    film 13-14-15 after treatment, if not operated
    film 27-28-29 after treatment, if not operated
    therapy 28-30-42 after treatment, if not operated
    discharge-check 77-84-91 after treatment, if not operated
  `,
  );
  story(
    "flexor: off the bone, rest of the phalanx broken and displaced",
    {
      ...ADULT,
      fractureSite: "base-volar",
      activeFlexion: "absent",
      restOfPhalanx: "intra-articular-fracture",
      displacement: "seen",
      corticalContact: "none",
    },
    `
    D1 | JERSEY COMBINED-BASE | operative | antibiotic no | splint DIP PIP MCP wrist 0-7
    surgeon-review 0-1-1 after treatment
    wound-check 5-6-7 after the operation, if operated
    film 7-8-10 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 28-28-42 after the operation, if a wire was placed, once film
    therapy 35-37-42 after treatment
    discharge-check 84-86-91 after treatment
  `,
  );
});
describe("plan: base of both sides, or pushed in", () => {
  story(
    "base of both sides, or pushed in: both sides, in place",
    { ...ADULT, fractureSite: "base-both-sides" },
    `
    W1 | COMBINED-BASE | non-operative | antibiotic no | splint DIP 28-42
    clinic 6-7-7 after treatment
    film 6-7-8 after treatment
    film 13-14-15 after treatment
    film 27-28-29 after treatment
    therapy 28-30-42 after treatment
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "base of both sides, or pushed in: both sides, displaced",
    { ...ADULT, fractureSite: "base-both-sides", displacement: "seen", corticalContact: "none" },
    `
    D1 | COMBINED-BASE | operative | antibiotic no | splint DIP 0-7
    as: flexor: off the bone, rest of the phalanx broken and displaced
  `,
  );
  story(
    "base of both sides, or pushed in: both sides, flexor weak",
    { ...ADULT, fractureSite: "base-both-sides", activeFlexion: "weak" },
    `
    D1 | COMBINED-BASE | discuss | antibiotic no | splint DIP PIP MCP wrist 0-7
    surgeon-review 0-1-3 after treatment
    clinic 3-4-5 after treatment
    clinic 6-7-7 after treatment
    film 6-7-8 after treatment
    film 13-14-15 after treatment
    film 27-28-29 after treatment
    therapy 28-30-42 after treatment
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "base of both sides, or pushed in: pushed in, in place",
    { ...ADULT, fractureSite: "base-central" },
    `
    W1 | PILON-BASE | discuss | antibiotic no | splint DIP 28-42
    clinic 5-7-7 after treatment
    film 6-7-8 after treatment
    film 13-14-15 after treatment
    film 27-28-29 after treatment
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "base of both sides, or pushed in: pushed in, step of 2 mm in the joint",
    { ...ADULT, fractureSite: "base-central", displacement: "seen", jointStepMm: 2 },
    `
    D1 | PILON-BASE | must-refer | antibiotic no | splint DIP 0-7
    as: flexor: off the bone, rest of the phalanx broken and displaced
  `,
  );
  story(
    "base of both sides, or pushed in: pushed in, joint slipped",
    { ...ADULT, fractureSite: "base-central", jointPosition: "dorsal-subluxed" },
    `
    D1 | PILON-BASE | must-refer | antibiotic no | splint DIP 0-7
    surgeon-review 0-1-1 after treatment
    film 7-8-10 after treatment
    wound-check 5-6-7 after the operation, if operated
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 28-28-42 after the operation, if a wire was placed, once film
    therapy 35-37-42 after treatment
    discharge-check 84-86-91 after treatment
  `,
  );
});
describe("plan: no fracture", () => {
  story(
    "no fracture: good films, all works",
    { ...ADULT },
    `
    none | NO-FRACTURE-SEEN | non-operative | antibiotic no | splint none
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "no fracture: good films, open wound of the skin",
    { ...ADULT, openness: "open-skin" },
    `
    none | NO-FRACTURE-SEEN | non-operative | antibiotic not-routinely | splint none
    wound-check 3-5-7 after treatment
    film 10-12-14, if it still hurts
    stitches-out 10-12-14 after treatment, if it was stitched
  `,
  );
  story(
    "no fracture: good films, dislocation put back",
    { ...ADULT, jointDislocated: "reduced" },
    `
    R2 | DISLOCATION-REDUCED | non-operative | antibiotic no | splint DIP 14-21
    film-true-lateral 7-10-14 after treatment
    therapy 14-18-21 after treatment
    discharge-check 42-49-56 after treatment
  `,
  );
  story(
    "no fracture: no true lateral, tip straight",
    { ...ADULT, trueLateral: "not-taken" },
    `
    D0 | no class | no call | antibiotic no | splint DIP 0-7
  `,
  );
  story(
    "no fracture: no film yet, tip droops",
    { ...ADULT, filmTaken: "no", activeExtension: "lag" },
    `
    D0 | no class | no call | antibiotic no | splint DIP 0-7
  `,
  );
  story(
    "no fracture: good films, extension not testable",
    { ...ADULT, activeExtension: "cannot-test" },
    `
    W1 | TENDON-NOT-CLEARED | discuss | antibiotic no | splint DIP 0-7
    clinic 3-4-5 after treatment
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "no fracture: good films, painful haematoma, weak defence against infection",
    { ...ADULT, haematoma: "over-half", haematomaPainful: "yes", immuneCompromise: "yes" },
    `
    none | NO-FRACTURE-SEEN | non-operative | antibiotic consider | splint none
    wound-check 2-3-7 after treatment
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "no fracture: good films, painful haematoma",
    { ...ADULT, haematoma: "over-half", haematomaPainful: "yes" },
    `
    none | NO-FRACTURE-SEEN | non-operative | antibiotic no | splint none
    film 10-12-14, if it still hurts
  `,
  );
  story(
    "no fracture: good films, joint slipped",
    { ...ADULT, jointPosition: "volar-subluxed" },
    `
    W1 | no class | discuss | antibiotic no | splint none
    surgeon-review 0-5-7 after treatment
  `,
  );
  story(
    "no fracture: infected tip",
    { ...ADULT, infectionSigns: "local", openness: "open-skin" },
    `
    D1 | NO-FRACTURE-SEEN | non-operative | antibiotic treat-infection | splint none
    clinic 0-0-3 after treatment
    wire-out 0-1-1 after treatment, if a wire is in and loose or infected
    wound-check 2-3-3 after treatment
    film 10-12-14 after treatment
    film 10-12-14, if it still hurts
    stitches-out 10-12-14 after treatment, if it was stitched
    film 40-42-44 after treatment
  `,
  );
});
describe("plan: child", () => {
  story(
    "child: tuft, closed",
    { ...CHILD, fractureSite: "tuft" },
    `
    none | TUFT-S | non-operative | antibiotic no | splint no joint 14-21
    splint-review 7-8-10
    discharge-check 21-25-28
  `,
  );
  story(
    "child: tuft, open",
    { ...CHILD, fractureSite: "tuft", openness: "open-skin" },
    `
    none | TUFT-S | non-operative | antibiotic not-routinely | splint no joint 14-21
    as: tuft: open, clean, repaired here
  `,
  );
  story(
    "child: shaft, in place",
    { ...CHILD, fractureSite: "shaft" },
    `
    R2 | SHAFT-T0 | non-operative | antibiotic no | splint DIP 21-42
    as: shaft: transverse, in place
  `,
  );
  story(
    "child: growth plate, Salter-Harris II, closed, tip straight",
    { ...CHILD, fractureSite: "physis", salterHarris: "II" },
    `
    W1 | PHYSEAL-CLOSED | non-operative | antibiotic no | splint DIP 21-28
    clinic 5-7-7
    film 7-7-10
    film 26-28-30
    discharge-check 180-200-365
  `,
  );
  story(
    "child: growth plate, Salter-Harris II, closed, displaced 3 mm",
    { ...CHILD, fractureSite: "physis", salterHarris: "II", displacement: "seen", translationMm: 3 },
    `
    D1 | PHYSEAL-CLOSED | must-refer | antibiotic no | splint DIP 21-28
    surgeon-review 0-1-3 after treatment
    clinic 5-7-7
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-7-10
    film 26-28-30
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    discharge-check 180-200-365
  `,
  );
  story(
    "child: growth plate, Salter-Harris I, closed, tip droops",
    { ...CHILD, fractureSite: "physis", salterHarris: "I", activeExtension: "lag" },
    `
    D0 | SEYMOUR-PATTERN-CLOSED | discuss | antibiotic no | splint DIP 21-28
    clinic 0-0-0 after treatment
    film 7-8-10
    film 26-28-30
    physis-film 180-270-365
  `,
  );
  story(
    "child: growth plate, nail over its fold (Seymour)",
    { ...CHILD, fractureSite: "physis", salterHarris: "I", nailPlate: "over-fold", activeExtension: "lag" },
    `
    D0 | SEYMOUR | operative options | antibiotic yes | splint DIP 28-28
    surgeon-review 0-0-1 after treatment
    wound-check 2-3-3 after treatment
    wound-check 6-7-7 after treatment
    film 7-8-10 after treatment
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    splint-review 28-28-30 after the operation
    physis-film 84-91-98 after treatment
    physis-film 180-270-365 after treatment
  `,
  );
  story(
    "child: no fracture seen, nail over its fold",
    { ...CHILD, nailPlate: "over-fold" },
    `
    D0 | POSSIBLE-PHYSEAL | must-refer | antibiotic consider | splint DIP 10-14
    surgeon-review 0-0-1 after treatment
    wound-check 3-5-7 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    film 10-12-14
    physis-film 180-270-365
  `,
  );
  story(
    "child: Salter-Harris III, dorsal, congruent",
    { ...CHILD, fractureSite: "base-dorsal", salterHarris: "III" },
    `
    W1 | MALLET-EQUIVALENT-B | non-operative | antibiotic no | splint DIP 28-42
    surgeon-review 0-5-7 after treatment
    film-true-lateral 6-7-8 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film-true-lateral 13-14-15 after treatment
    film 26-28-30
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    physis-film 180-270-365
  `,
  );
  story(
    "child: Salter-Harris III, dorsal, open",
    { ...CHILD, fractureSite: "base-dorsal", salterHarris: "III", openness: "open-skin" },
    `
    D0 | MALLET-EQUIVALENT-B | operative | antibiotic yes | splint DIP 28-42
    surgeon-review 0-0-1 after treatment
    wound-check 2-3-3 after treatment
    wound-check 6-7-7 after treatment
    film-true-lateral 6-7-8 after treatment
    film 7-8-10 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film-true-lateral 13-14-15 after treatment
    film 26-28-30
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    splint-review 28-28-30 after the operation
    physis-film 84-91-98 after treatment
    physis-film 180-270-365 after treatment
  `,
  );
  story(
    "child: epiphysis turned, tendon attached",
    { ...CHILD, fractureSite: "physis", salterHarris: "III", epiphysisTurned: "turned-tendon-attached" },
    `
    D0 | MALLET-EQUIVALENT-C | operative | antibiotic no | splint DIP 0-7
    surgeon-review 0-0-1 after treatment
    wound-check 3-5-7 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after treatment
    stitches-out 10-12-14 after the operation, if it was stitched
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    physis-film 180-270-365
  `,
  );
  story(
    "child: epiphysis turned, open",
    {
      ...CHILD,
      fractureSite: "physis",
      salterHarris: "III",
      epiphysisTurned: "separated-tendon-avulsed",
      openness: "open-skin",
    },
    `
    D0 | MALLET-EQUIVALENT-D | operative | antibiotic yes | splint DIP 0-7
    surgeon-review 0-0-1 after treatment
    wound-check 2-3-3 after treatment
    wound-check 5-6-7 after treatment
    wound-check 5-6-7 after the operation, if a wire was placed
    film 7-8-10 after treatment
    wire-out 21-28-28 after the operation, if a wire was placed, once film
    splint-review 28-28-30 after the operation
    physis-film 84-91-98 after treatment
    physis-film 180-270-365 after treatment
  `,
  );
  story(
    "child: crush, no fracture seen, tender plate",
    { ...CHILD, physisTender: "yes" },
    `
    R2 | POSSIBLE-PHYSEAL | non-operative | antibiotic no | splint DIP 10-14
    film 10-12-14
    physis-film 180-270-365
  `,
  );
  story(
    "child: no fracture, tip droops",
    { ...CHILD, activeExtension: "lag" },
    `
    W1 | TENDINOUS-MALLET | non-operative | antibiotic no | splint DIP 56-56
    as: tuft: with a drooping tip: a mallet beside it
  `,
  );
  story(
    "child: flexor torn off",
    { ...CHILD, activeFlexion: "absent", mechanism: "forced-extension" },
    `
    D1 | JERSEY | operative | antibiotic no | splint DIP PIP MCP wrist 42-42
    as: tuft: with a flexor that does not move the tip
  `,
  );
});

/* The class's splint and visits without those of an operation, and the clinic of the lesion in week 2 (RAMOS18). */
describe("plan: through a bone lesion", () => {
  const lesion = { boneLesion: "yes", mechanism: "no-adequate-trauma" } as const;
  story(
    "lesion: mallet, small fragment",
    { ...ADULT, ...lesion, fractureSite: "base-dorsal", articularSharePercent: 20 },
    `
    W1 | MALLET | no call | antibiotic no | splint DIP 42-56
    splint-review 5-7-7 after treatment
    clinic 7-7-14 after treatment
    film-true-lateral 7-8-10 after treatment
    film-true-lateral 42-42-56 after treatment, once splint-review
    therapy 42-42-56 after treatment, once film-true-lateral
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "lesion: mallet, two fifths of the joint",
    { ...ADULT, ...lesion, fractureSite: "base-dorsal", articularSharePercent: 40 },
    `
    W1 | MALLET | no call | antibiotic no | splint DIP 42-56
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment
    film-true-lateral 6-7-8 after treatment
    clinic 7-7-14 after treatment
    film-true-lateral 13-14-15 after treatment
    film-true-lateral 20-21-22 after treatment
    film-true-lateral 42-42-56 after treatment, once splint-review
    therapy 42-42-56 after treatment, once film-true-lateral
    discharge-check 77-84-91 after treatment
  `,
  );
  story(
    "lesion: mallet, joint slipped",
    { ...ADULT, ...lesion, fractureSite: "base-dorsal", articularSharePercent: 20, jointPosition: "volar-subluxed" },
    `
    W1 | MALLET | no call | antibiotic no | splint DIP 0-7
    surgeon-review 0-5-7 after treatment
    splint-review 5-7-7 after treatment, if not operated
    clinic 7-7-14 after treatment
    film-true-lateral 7-8-10 after treatment, if not operated
    film-true-lateral 42-42-56 after treatment, if not operated, once splint-review
    therapy 42-42-56 after treatment, if not operated, once film-true-lateral
    discharge-check 77-84-91 after treatment, if not operated
  `,
  );
  story(
    "lesion: closed growth plate fracture, tip droops",
    { ...CHILD, ...lesion, fractureSite: "physis", salterHarris: "I", activeExtension: "lag" },
    `
    D0 | SEYMOUR-PATTERN-CLOSED | no call | antibiotic no | splint DIP 21-28
    clinic 0-0-0 after treatment
    clinic 7-7-14 after treatment
    film 7-8-10
    film 26-28-30
    physis-film 180-270-365
  `,
  );
  story(
    "lesion: closed growth plate fracture, tip straight",
    { ...CHILD, ...lesion, fractureSite: "physis", salterHarris: "II" },
    `
    W1 | PHYSEAL-CLOSED | no call | antibiotic no | splint DIP 21-28
    clinic 5-7-7
    film 7-7-10
    film 26-28-30
    discharge-check 180-200-365
  `,
  );
  story(
    "lesion: tuft",
    { ...ADULT, ...lesion, fractureSite: "tuft" },
    `
    R2 | TUFT-S | no call | antibiotic no | splint none
    clinic 7-7-14 after treatment
  `,
  );
  story(
    "lesion: mallet, and the tip stays white: nothing of an ordinary plan",
    {
      ...ADULT,
      ...lesion,
      fractureSite: "base-dorsal",
      articularSharePercent: 20,
      tipColour: "white",
      perfusionAfterFirstSteps: "still-poor",
    },
    `
    NOW | MALLET | no call | antibiotic no | splint none
    clinic 7-7-14 after treatment
  `,
  );
});
