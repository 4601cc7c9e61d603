import { HAND_FINDINGS } from "../hand/findings.ts";
import { choice, type FindingsOf, quantity, yesNo } from "../reasoning/finding.ts";

/** What the clinician sees, moves and reads on the film of one distal phalanx (thumb: interphalangeal joint, same rules). */
export const DISTAL_PHALANX_FINDINGS = {
  ...HAND_FINDINGS,
  // nail
  nailPlate: choice("digit", "intact-seated", "loose-distally", "avulsed-at-fold", "missing", "over-fold", "split"),
  haematoma: choice("digit", "none", "under-quarter", "quarter-to-half", "over-half"),
  haematomaPainful: yesNo("digit"),
  nailBed: choice("digit", "not-seen", "intact", "simple", "stellate", "crushed-or-avulsed", "germinal-matrix"), // not-seen: plate over it
  acrylicNail: yesNo("digit"),
  // tendons
  // "cannot-test" (pain) has a consequence of its own, so it is a value and never counts as normal
  activeExtension: choice("digit", "full", "lag", "cannot-test"),
  lagDegrees: quantity("digit", "degrees", 0, 90), // read once a full splint time is over
  fullSplintTimeDone: yesNo("digit"),
  passiveExtension: choice("digit", "full", "blocked"),
  activeFlexion: choice("digit", "present", "weak", "absent", "cannot-test"), // FDP, with the PIP held straight
  restingPosition: choice("digit", "in-line", "too-straight", "droops"), // beside its neighbours, hand at rest
  tendonEndAt: choice("digit", "not-located", "dip-or-a4", "pip", "palm"), // felt or seen by ultrasound
  woundOverJoint: choice("digit", "no", "cut", "skin-and-tendon-lost"), // dorsal, over the DIP
  nailPlaneRotation: choice("digit", "none", "rotated"),
  // film
  filmTaken: choice("digit", "yes", "no"),
  trueLateral: choice("digit", "seen", "not-taken"),
  fractureSite: choice(
    "digit",
    "tuft",
    "shaft",
    "base-extra-articular",
    "base-dorsal",
    "base-volar",
    "base-both-sides",
    "base-central",
    "physis",
    "no-fracture-seen",
  ),
  fracturePattern: choice("digit", "simple", "comminuted", "transverse", "oblique", "longitudinal", "wedge"),
  displacement: choice("digit", "none-seen", "seen"), // "seen" opens the measurements below
  translationMm: quantity("digit", "mm", 0, 30),
  corticalContact: choice("digit", "yes", "none"),
  angulationDegrees: quantity("digit", "degrees", 0, 180),
  tiltOfTip: choice("digit", "to-palm", "to-back"), // apex dorsal, apex volar
  nailBedInGap: yesNo("digit"), // soft tissue folded into an open fracture
  articularSharePercent: quantity("digit", "%", 0, 100), // on a true lateral
  jointPosition: choice("digit", "congruent", "volar-subluxed", "dorsal-subluxed"),
  jointInSplint: choice("digit", "not-filmed", "goes-back", "stays-out"), // film in the splint
  fragmentGapMm: quantity("digit", "mm", 0, 30),
  jointStepMm: quantity("digit", "mm", 0, 30),
  physis: choice("digit", "open", "closing", "closed", "cannot-judge"), // cannot-judge under 18: treated as open
  salterHarris: choice("digit", "none", "I", "II", "III", "IV", "V", "juxta-epiphyseal"),
  dorsalPhysealWidening: yesNo("digit"),
  physisTender: yesNo("digit"),
  epiphysisTurned: choice("digit", "no", "turned-tendon-attached", "separated-tendon-avulsed"),
  volarFragmentAt: choice("digit", "none", "dip-or-a4", "pip", "palm"),
  restOfPhalanx: choice("digit", "intact", "extra-articular-fracture", "intra-articular-fracture"), // beside a volar avulsion
} as const;
export type DistalPhalanxFindings = FindingsOf<typeof DISTAL_PHALANX_FINDINGS>;
export type FindingId = keyof DistalPhalanxFindings;
