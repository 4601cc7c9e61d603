/**
 * Rules of the ICD-10-CM Official Guidelines for Coding and Reporting (CMS/NCHS, yearly) and notes printed in the Tabular List, in our own
 * words. `checked`: "printed" when the note was read in the Tabular List; "from memory" where section number and wording still have to be
 * held against the guidelines of the year.
 */
export interface Guideline {
  readonly section: string;
  readonly says: string;
  readonly checked: "printed" | "from memory";
}
const printed = (section: string, says: string): Guideline => ({ section, says, checked: "printed" });
const remembered = (section: string, says: string): Guideline => ({ section, says, checked: "from memory" });

export const GUIDELINES = {
  OPEN: printed("Tabular List, note at S62; I.C.19.c", "A fracture not stated as open or closed is coded closed."),
  DISPLACED: printed(
    "Tabular List, note at S62; I.C.19.c",
    "A fracture not stated as displaced or not displaced is coded displaced.",
  ),
  SEVENTH: printed(
    "Tabular List, 7th characters",
    "The seventh character names the encounter, from those of the category.",
  ),
  ACTIVE: remembered(
    "I.C.19.a; I.C.19.c.1",
    "Initial encounter means active treatment, also by another clinician and also after a delay.",
  ),
  HEALING: remembered(
    "I.C.19.a; I.C.19.c.1",
    "After active treatment the seventh character says how the fracture heals; an aftercare code is not added.",
  ),
  SEQUELA: remembered("I.B.10; I.C.19.a", "The late effect comes first, then the injury with seventh character S."),
  EACH: remembered("I.C.19.b", "Each injury has its own code, the most serious first."),
  SUPERFICIAL: remembered("I.C.19.b.1", "A superficial injury is not coded beside a more severe one of the same site."),
  NERVE: remembered("I.C.19.b.2", "Damage to nerves and vessels follows the primary injury."),
  SEVERAL: remembered("I.C.19.c.2", "Several fractures are listed by severity."),
  PHYSEAL: remembered(
    "I.C.19.c.3",
    "A growth plate fracture has a code of its own where one exists; for the finger none does.",
  ),
  CURRENT: remembered("I.C.13.b", "A current injury belongs to chapter 19, an old one to chapter 13."),
  OSTEOPOROSIS: remembered(
    "I.C.13.d.2",
    "A fracture in osteoporosis after a force that breaks no healthy bone is coded to M80.",
  ),
  NEOPLASM: remembered("I.C.2.l.6", "Where the fracture is what is treated, it comes first and the neoplasm follows."),
  UNCERTAIN: remembered("IV.H", "An outpatient's possible, probable or suspected diagnosis is not coded."),
  EXCLUDES1: remembered("I.A.12.a", "Codes that exclude each other do not stand together for the same digit."),
  USE_ADDITIONAL: remembered("I.A.13; I.B.7", "The code that asks for an additional code comes before it."),
  SIDE: remembered("I.B.13; I.B.14", "The side may come from any clinician's note; contradiction is asked about."),
  FIRST: remembered("IV.A", "First comes the condition chiefly responsible for the encounter."),
  PLACEHOLDER: remembered("I.A.4; I.A.5", "X fills up to the seventh character."),
  SPECIFIED_FINGER: printed(
    "Tabular List, inclusion terms",
    "A named finger of unknown side is an other finger, not an unspecified one.",
  ),
  CRUSH: printed(
    "Tabular List, note at S67",
    "The crushing injury comes first, with additional codes for all that goes with it.",
  ),
  AMPUTATION: printed(
    "Tabular List, note at S68",
    "An amputation not stated as partial or complete is coded complete.",
  ),
  AMPUTATION_LEVEL: printed(
    "Tabular List, inclusion terms at S68.0 and S68.1",
    "An amputation of a digit without a level is coded at the knuckle.",
  ),
  WOUND_INFECTION: printed(
    "Tabular List, notes at S61 and T84.6",
    "An infection has its own code beside the wound or the device.",
  ),
  RETAINED: printed("Tabular List, note at chapter 19", "Material that remains has an additional code."),
  TENDON: remembered(
    "Alphabetic Index: Rupture, tendon, traumatic",
    "A closed rupture of a tendon is indexed to strain of its muscle and tendon.",
  ),
  DISLOCATION: remembered(
    "Alphabetic Index: Dislocation, with fracture",
    "A dislocation with a fracture is coded as the fracture.",
  ),
  CAUSE: remembered(
    "I.C.20.a; I.C.20.h",
    "Causes follow all diagnoses, at each encounter, in the phase of the injury; unknown intent is accidental.",
  ),
  PLACE: printed("Tabular List, note at Y92; I.C.20.b", "The place is recorded once, at the initial encounter."),
  ACTIVITY: remembered("I.C.20.c", "The activity is recorded once, at the initial encounter."),
  STATUS: remembered(
    "I.C.20.k",
    "The status is recorded once, at the initial encounter, and only beside another external cause.",
  ),
  IMMUNISATION: remembered("I.C.21.c.2", "A vaccine given at the encounter for an injury may be added."),
} as const satisfies { readonly [id: string]: Guideline };
export type GuidelineId = keyof typeof GUIDELINES;
