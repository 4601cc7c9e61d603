export interface CodedDigit {
  readonly digit?: "thumb" | "index" | "middle" | "ring" | "little";
  readonly side?: "left" | "right";
  readonly fracture: boolean;
  /** False for healing, sequela and other later encounters (seventh character not A or B): an old injury, not today's. */
  readonly current: boolean;
}
const FINGERS = ["index", "middle", "ring", "little"] as const;

/**
 * Digit and side that an ICD-10-CM injury code of the finger names (S61.0-S61.3 wound, S62.5-S62.6 fracture, S67.0-S67.19 crush);
 * undefined for every other code. Digit characters as in the official table: right index 0, left index 1, up to left little 7.
 */
export function digitOfCode(code: string): CodedDigit | undefined {
  const plain = code.replace(".", "").toUpperCase();
  if (!/^S(61[0-3]|62[56]|67[01])/.test(plain)) return undefined;
  const fracture = plain.startsWith("S62");
  const current = plain.length < 7 || /[AB]$/.test(plain);
  const finger = /^S(?:626\d|6719|61[23]\d)([0-7])/.exec(plain)?.[1];
  if (finger !== undefined) {
    const at = Number(finger);
    return { digit: FINGERS[at >> 1]!, side: at % 2 === 0 ? "right" : "left", fracture, current };
  }
  // Thumb: 1 right, 2 left; nondisplaced fractures repeat the pattern as 4 and 5.
  const thumb = /^S(?:625\d|61[01]\d|670)(\d)?/.exec(plain);
  if (thumb) {
    const side = { "1": "right", "2": "left", ...(fracture ? { "4": "right", "5": "left" } : {}) }[thumb[1] ?? ""] as
      | "left"
      | "right"
      | undefined;
    return { digit: "thumb", ...(side ? { side } : {}), fracture, current };
  }
  return { fracture, current };
}
