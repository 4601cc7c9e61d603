import { describe, expect, it } from "vitest";
import { ADULT, told } from "./records.ts";

describe("an end joint that was put back, no fracture", () => {
  const words = (dislocationDirection: string) =>
    told({ ...ADULT, jointDislocated: "reduced", dislocationDirection })
      .assessment.management.map((m) => m.text)
      .join(" ");
  it("is splinted bent after the tip went to the back, straight after it went to the palm, and never both", () => {
    expect(words("dorsal")).toMatch(/bent 15 to 30 degrees/);
    expect(words("dorsal")).not.toMatch(/straight;/);
    expect(words("volar")).toMatch(/end joint straight/);
    expect(words("volar")).not.toMatch(/bent/);
  });
  it("with the direction not known each position says for which it is", () =>
    expect(words("not-asked")).toMatch(/If the tip went to the back: Splint.*If the tip went to the palm: Splint/));
});

describe("an end joint that was put back while the deep flexor is in doubt", () => {
  it.each(["dorsal", "volar"])(
    "tip gone %s, flexor weak, finger lying too straight: no weeks in a splint nor motion before the tendon is cleared",
    (dislocationDirection) => {
      const found = { activeFlexion: "weak", restingPosition: "too-straight", jointDislocated: "reduced" };
      for (const fractureSite of ["tuft", "no-fracture-seen"]) {
        const a = told({ ...ADULT, ...found, fractureSite, dislocationDirection });
        expect(a.calls).toContain("discuss");
        expect(a.calls).not.toContain("non-operative");
        expect(a.assessment.management.map((m) => m.text).join(" ")).not.toMatch(/then motion/);
      }
    },
  );
});

describe("an open tuft", () => {
  it("that needs a wire after the repair has it out at 3 to 4 weeks", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", openness: "open-skin" });
    expect(a.assessment.management.map((m) => m.text).join()).toContain("out at 3 to 4 weeks");
    expect(a.assessment.visits.find((v) => v.purpose === "wire-out")).toMatchObject({
      earliest: 21,
      latest: 28,
      onlyIf: "if a wire was placed",
    });
  });
});
