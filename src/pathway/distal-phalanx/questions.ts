import { HAND_GROUPS, HAND_QUESTIONS } from "../hand/questions.ts";
import type { Option, Question, QuestionGroup } from "../module.ts";
import type { FindingId } from "./findings.ts";

const o = (value: string, label: string, hint?: string): Option => ({ value, label, ...(hint ? { hint } : {}) });
const YES_NO = [o("yes", "Yes"), o("no", "No")];

interface Asked {
  readonly hint?: string;
  readonly options?: readonly Option[];
  readonly cannotTell?: string;
  /** Films and their reports are in the chart; nail and tendons are examined. */
  readonly fromChart?: true;
}
const ask = (finding: FindingId, wording: string, { fromChart, ...rest }: Asked = {}): Question => ({
  finding,
  scope: "digit",
  wording,
  chartMayPropose: fromChart === true,
  ...rest,
});
const ON_FILM = "Cannot judge on this film";

const OWN_QUESTIONS: readonly Question[] = [
  ask("nailPlate", "Nail plate", {
    options: [
      o("intact-seated", "Intact and seated"),
      o("loose-distally", "Loose at the tip, seated at the fold"),
      o("avulsed-at-fold", "Partly torn out at the fold"),
      o("over-fold", "Its root lies on top of the nail fold", "In a child: Seymour fracture until excluded"),
      o("split", "Split through"),
      o("missing", "Missing"),
    ],
    cannotTell: "Cannot see it",
  }),
  ask("haematoma", "Blood under the nail", {
    hint: "Its size does not decide what to do",
    options: [
      o("none", "None"),
      o("under-quarter", "Less than a quarter"),
      o("quarter-to-half", "A quarter to a half"),
      o("over-half", "More than half"),
    ],
    cannotTell: "Cannot see (dark or varnished nail)",
  }),
  ask("haematomaPainful", "Does the blood under the nail throb or hurt?", { options: YES_NO }),
  ask("acrylicNail", "Artificial nail?", { hint: "It burns: no flame or cautery", options: YES_NO }),
  ask("nailBed", "Nail bed", {
    options: [
      o("not-seen", "Not seen: nail lies over it"),
      o("intact", "Seen, intact"),
      o("simple", "Simple cut"),
      o("stellate", "Star-shaped cut"),
      o("crushed-or-avulsed", "Crushed or part lost"),
      o("germinal-matrix", "Root (germinal matrix) torn"),
    ],
    cannotTell: "Cannot tell",
  }),
  ask("activeExtension", "Patient straightens the tip", {
    options: [
      o("full", "Fully"),
      o("lag", "Tip droops", "Extensor lag"),
      o("cannot-test", "Cannot test because of pain", "Test again after a block or on day 3 to 5"),
    ],
  }),
  ask("lagDegrees", "Droop when the patient straightens it", { hint: "Degrees short of straight" }),
  ask("fullSplintTimeDone", "Full time in the splint already over?", {
    hint: "Day and night, never dropped",
    options: YES_NO,
  }),
  ask("restingPosition", "Tip at rest, beside its neighbours", {
    hint: "Hand lying open; the fingers curl more from index to little finger",
    options: [
      o("in-line", "In line with them"),
      o("too-straight", "Lies too straight", "Flexor tendon"),
      o("droops", "Droops", "Extensor tendon or growth plate"),
    ],
  }),
  ask("activeFlexion", "Patient bends the tip, middle joint held straight", {
    options: [
      o("present", "Bends"),
      o("weak", "Weak or painful"),
      o("absent", "Does not bend", "Deep flexor tendon (FDP) torn until excluded"),
      o("cannot-test", "Cannot test because of pain", "Test again after a block or on day 3 to 5"),
    ],
  }),
  ask("passiveExtension", "You straighten the tip", {
    options: [o("full", "Straightens"), o("blocked", "Blocked", "Slipped joint, fragment, or old injury")],
    cannotTell: "Cannot test because of pain",
  }),
  ask("nailPlaneRotation", "Twist of the nail, compared with the other hand", {
    options: [o("none", "None"), o("rotated", "Twisted or tilted sideways")],
    cannotTell: "Cannot compare",
  }),
  ask("woundOverJoint", "Wound over the back of the end joint", {
    options: [o("no", "None"), o("cut", "Cut"), o("skin-and-tendon-lost", "Skin and tendon lost")],
    cannotTell: "Cannot tell",
  }),
  ask("tendonEndAt", "Where is the torn flexor tendon end?", {
    hint: "Felt, or seen by ultrasound; the film misleads",
    options: [
      o("not-located", "Not located yet"),
      o("dip-or-a4", "At the end joint or A4 pulley"),
      o("pip", "At the middle joint"),
      o("palm", "In the palm"),
    ],
  }),
  ask("filmTaken", "Film of this digit", {
    options: [o("yes", "Taken"), o("no", "Not taken yet")],
    fromChart: true,
  }),
  ask("trueLateral", "True lateral view", {
    hint: "Without it no fracture of the base can be judged",
    options: [o("seen", "Seen"), o("not-taken", "Not taken, or oblique only")],
    fromChart: true,
  }),
  ask("fractureSite", "Where is the fracture?", {
    options: [
      o("tuft", "Tuft"),
      o("shaft", "Shaft"),
      o("base-extra-articular", "Base, not into the joint"),
      o("base-dorsal", "Base, dorsal lip", "Bony mallet"),
      o("base-volar", "Base, volar lip"),
      o("base-both-sides", "Base, dorsal and volar"),
      o("base-central", "Base, centre of the joint", "Impaction or split"),
      o("physis", "Growth plate"),
      o("no-fracture-seen", "No fracture seen"),
    ],
    cannotTell: ON_FILM,
    fromChart: true,
  }),
  ask("fracturePattern", "Pattern", {
    options: [
      o("simple", "One line"),
      o("transverse", "Transverse"),
      o("oblique", "Short oblique"),
      o("longitudinal", "Longitudinal"),
      o("wedge", "Wedge"),
      o("comminuted", "Three or more pieces"),
    ],
    cannotTell: ON_FILM,
    fromChart: true,
  }),
  ask("displacement", "Displacement or gap", {
    options: [o("none-seen", "None to see"), o("seen", "Seen", "Then measure it")],
    cannotTell: ON_FILM,
  }),
  ask("translationMm", "Step between the fragments", { cannotTell: ON_FILM }),
  ask("corticalContact", "Do the fragments touch?", {
    options: [o("yes", "Yes, in both views"), o("none", "No contact in one view")],
    cannotTell: ON_FILM,
  }),
  ask("angulationDegrees", "Angulation on the lateral", { cannotTell: ON_FILM }),
  ask("tiltOfTip", "Which way is the tip tilted?", {
    options: [
      o("to-palm", "To the palm", "Apex dorsal, the usual way"),
      o("to-back", "To the back of the hand", "Apex volar"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("nailBedInGap", "Nail bed caught in the fracture?", { options: YES_NO, cannotTell: "Cannot tell" }),
  ask("jointPosition", "End joint on the true lateral", {
    options: [
      o("congruent", "Congruent"),
      o("volar-subluxed", "Slipped volar"),
      o("dorsal-subluxed", "Slipped dorsal"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("jointInSplint", "Film in the splint: the joint", {
    options: [
      o("not-filmed", "Not filmed in it yet"),
      o("goes-back", "Goes back into place"),
      o("stays-out", "Stays slipped"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("articularSharePercent", "Share of the joint surface on the fragment", {
    hint: "Measured on the true lateral",
    cannotTell: ON_FILM,
  }),
  ask("fragmentGapMm", "Gap between fragment and bone", { cannotTell: ON_FILM }),
  ask("jointStepMm", "Step in the joint surface", { cannotTell: ON_FILM }),
  ask("volarFragmentAt", "Where does the volar fragment lie?", {
    options: [
      o("none", "No fragment"),
      o("dip-or-a4", "At the end joint or middle phalanx"),
      o("pip", "At the middle joint"),
      o("palm", "In the palm"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("restOfPhalanx", "Rest of the phalanx, beside the volar fragment", {
    options: [
      o("intact", "Intact"),
      o("extra-articular-fracture", "Broken, not into the joint"),
      o("intra-articular-fracture", "Broken into the joint"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("physis", "Growth plate on the film", {
    hint: "From memory: closes at about 13 to 15 years in girls, 15 to 17 in boys",
    options: [
      o("open", "Open"),
      o("closing", "Closing"),
      o("closed", "Closed"),
      o("cannot-judge", "Cannot judge", "Treated as open"),
    ],
  }),
  ask("salterHarris", "Salter-Harris type", {
    options: [
      o("none", "None"),
      o("I", "I", "Through the plate"),
      o("II", "II", "Exits through the metaphysis, here a tiny dorsal triangle"),
      o("juxta-epiphyseal", "Line 1 to 2 mm beyond the plate"),
      o("III", "III", "Exits into the joint"),
      o("IV", "IV", "Metaphysis, plate and epiphysis"),
      o("V", "V suspected", "Crush of the plate"),
    ],
    cannotTell: ON_FILM,
    fromChart: true,
  }),
  ask("dorsalPhysealWidening", "Growth plate wider at the back on the lateral?", {
    options: YES_NO,
    cannotTell: ON_FILM,
  }),
  ask("epiphysisTurned", "Epiphysis turned or pushed out?", {
    options: [
      o("no", "No"),
      o("turned-tendon-attached", "Yes, tendon still on it"),
      o("separated-tendon-avulsed", "Yes, and the tendon is torn off"),
    ],
    cannotTell: ON_FILM,
  }),
  ask("physisTender", "Tender over the growth plate?", { options: YES_NO, cannotTell: "Cannot tell" }),
];

export const QUESTIONS: readonly Question[] = [...HAND_QUESTIONS, ...OWN_QUESTIONS];

const SKIN_AND_NAIL: QuestionGroup = {
  id: "skin-and-nail",
  title: "Skin and nail",
  findings: [
    "openness",
    "nailPlate",
    "haematoma",
    "haematomaPainful",
    "bloodAtNailFold",
    "opennessOnSecondLook",
    "nailBed",
    "acrylicNail",
    "woundOverJoint",
  ],
  quick: [
    {
      label: "Closed, nail intact and seated, no blood under it, no wound over the joint",
      sets: {
        openness: "closed",
        nailPlate: "intact-seated",
        haematoma: "none",
        bloodAtNailFold: "no",
        nailBed: "not-seen",
        woundOverJoint: "no",
      },
    },
  ],
};
const MOVEMENT: QuestionGroup = {
  id: "movement",
  title: "Movement",
  findings: [
    "activeExtension",
    "activeFlexion",
    "passiveExtension",
    "restingPosition",
    "nailPlaneRotation",
    "tendonEndAt",
    "fullSplintTimeDone",
    "lagDegrees",
  ],
  quick: [
    {
      label: "Tip droops, can be straightened, bends actively, no twist",
      sets: { activeExtension: "lag", passiveExtension: "full", activeFlexion: "present", nailPlaneRotation: "none" },
    },
    {
      label: "Straightens and bends actively, no twist",
      sets: { activeExtension: "full", passiveExtension: "full", activeFlexion: "present", nailPlaneRotation: "none" },
    },
  ],
};
const FILM: QuestionGroup = {
  id: "film",
  title: "Film",
  findings: [
    "filmTaken",
    "trueLateral",
    "fractureSite",
    "fracturePattern",
    "jointPosition",
    "displacement",
    "translationMm",
    "corticalContact",
    "angulationDegrees",
    "tiltOfTip",
    "nailBedInGap",
    "articularSharePercent",
    "jointInSplint",
    "fragmentGapMm",
    "jointStepMm",
    "volarFragmentAt",
    "restOfPhalanx",
  ],
  quick: [
    {
      label: "Dorsal lip fragment, true lateral seen, joint congruent, nothing displaced",
      sets: {
        filmTaken: "yes",
        fractureSite: "base-dorsal",
        trueLateral: "seen",
        jointPosition: "congruent",
        displacement: "none-seen",
      },
    },
    {
      label: "True lateral seen, joint congruent, nothing displaced",
      sets: { filmTaken: "yes", trueLateral: "seen", jointPosition: "congruent", displacement: "none-seen" },
    },
  ],
};
const GROWTH_PLATE: QuestionGroup = {
  id: "growth-plate",
  title: "Growth plate",
  findings: ["physis", "salterHarris", "dorsalPhysealWidening", "epiphysisTurned", "physisTender"],
  quick: [
    {
      label: "Open, looks normal, not tender",
      sets: {
        physis: "open",
        salterHarris: "none",
        dorsalPhysealWidening: "no",
        epiphysisTurned: "no",
        physisTender: "no",
      },
    },
  ],
};

/** The bone's own groups stand around the wound: the nail before it, tendons and film after it. */
const BEFORE_WOUND: readonly QuestionGroup[] = [SKIN_AND_NAIL];
const AFTER_WOUND: readonly QuestionGroup[] = [MOVEMENT, FILM, GROWTH_PLATE];
const own = new Set([...BEFORE_WOUND, ...AFTER_WOUND].flatMap((g) => g.findings));

export const GROUPS: readonly QuestionGroup[] = HAND_GROUPS.flatMap((group): readonly QuestionGroup[] => {
  // A finding stands in one group only; the bone's own group has the first claim.
  const rest: QuestionGroup = { ...group, findings: group.findings.filter((f) => !own.has(f)) };
  return group.id === "skin-and-wound" ? [...BEFORE_WOUND, rest, ...AFTER_WOUND] : [rest];
});
