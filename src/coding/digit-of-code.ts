export interface CodedDigit {
  readonly digit?: "thumb" | "index" | "middle" | "ring" | "little";
  readonly side?: "left" | "right";
  readonly fracture: boolean;
  /** False for healing, sequela and other later encounters (seventh character not A or B): an old injury, not today's. */
  readonly current: boolean;
}
const FINGERS = ["index", "middle", "ring", "little"] as const;

/**
 * Codes whose last character before the encounter counts fingers and sides like the fracture codes do (right index 0, left index 1, up to
 * left little 7): wound, crush, strain or cut of a tendon, dislocation of the end joint, amputation. S63, S66 and S68 are from memory.
 */
const EIGHT_FINGERS = /^S(?:626\d|6719|61[23]\d|6329|66[13]\d|681[12]|686[12])([0-7])/;
/** Bruises: the fifth character names the digit (1 thumb to 5 little finger), the sixth the side (1 right, 2 left). [from memory] */
const BRUISE = /^S60[01]([1-5])([12])?/;
/** Other and unspecified injuries of wrist, hand and fingers: the side only (1 right, 2 left). [from memory] */
const SIDE_ONLY = /^S69[89]([12])?/;
const SIDES = { "1": "right", "2": "left" } as const;
const sided = (character: string | undefined) =>
  character === "1" || character === "2" ? { side: SIDES[character] } : {};

/**
 * Digit and side that an ICD-10-CM injury code of the finger or hand names (S60.0-S60.1 bruise, S61.0-S61.3 wound, S62.5-S62.6 fracture,
 * S63.29 dislocation, S66.1 and S66.3 tendon, S67.0-S67.19 crush, S68.1 and S68.6 amputation, S69.8-S69.9 side only); undefined for every
 * other code. Digit characters of wound, fracture and crush as in the official table.
 */
export function digitOfCode(code: string): CodedDigit | undefined {
  const plain = code.replace(".", "").toUpperCase();
  if (!/^S(60[01]|61[0-3]|62[56]|6329|66[13]|67[01]|68[16]|69[89])/.test(plain)) return undefined;
  const fracture = plain.startsWith("S62");
  const current = plain.length < 7 || /[AB]$/.test(plain);
  const finger = EIGHT_FINGERS.exec(plain)?.[1];
  if (finger !== undefined) {
    const at = Number(finger);
    return { digit: FINGERS[at >> 1]!, side: at % 2 === 0 ? "right" : "left", fracture, current };
  }
  const bruise = BRUISE.exec(plain);
  if (bruise) {
    const digit = (["thumb", ...FINGERS] as const)[Number(bruise[1]) - 1]!;
    return { digit, ...sided(bruise[2]), fracture, current };
  }
  const hand = SIDE_ONLY.exec(plain);
  if (hand) return { ...sided(hand[1]), fracture, current };
  // Thumb: 1 right, 2 left; nondisplaced fractures repeat the pattern as 4 and 5.
  const thumb = /^S(?:625\d|61[01]\d|670)(\d)?/.exec(plain);
  if (thumb) {
    const repeated = fracture ? { "4": "1", "5": "2" }[thumb[1] ?? ""] : undefined;
    return { digit: "thumb", ...sided(repeated ?? thumb[1]), fracture, current };
  }
  return { fracture, current };
}
