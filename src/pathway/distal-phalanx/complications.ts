import { type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Row, type Rule, type Table, table } from "../reasoning/table.ts";
import { later } from "./effects-in-short.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

const PIN = [
  "Wire in, pin site red or weeping",
  "minor: clean it and give the antibiotic by mouth; major, or wire loose: wire out.",
] as const;
const PIN_SOURCES = [
  cite("KWIRE07", "B", "children: 7.9 % infected, 2 % major, whatever the time or the wound"),
] as const;
const SLIPPED = [
  "Days 7 to 21, over 2 mm change on the film, or the joint no longer congruent",
  "hand surgeon within 48 hours.",
] as const;
const broken = { boneBroken: "yes" } as const;

/**
 * What to look for in the weeks and months after today, and what it leads to. It is no reason to ask anything today. The thresholds stand in
 * these words alone: nobody is assessed by them here, the clinic is. Lag after a mallet splint stands in the mallet table and the visits.
 */
export const complicationTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const rule = (
    id: string,
    when: Row<DistalPhalanxFacts>,
    [find, say]: readonly [string, string],
    because: string,
    ...sources: readonly [Citation, ...Citation[]]
  ): Rule<DistalPhalanxFacts, readonly Effect[]> => ({ id, when, then: [later(find, say)], because, sources });
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "complications",
    question: "What is looked for later, and what does it lead to?",
    answers: "every",
    rules: [
      rule(
        "CPL-1",
        { woundPresent: "yes" },
        [
          "Days 2 to 14, spreading redness, warmth, pus or rising pain",
          "swab, oral antibiotic of the class for this wound, dressing off, look again in 24 to 48 hours.",
        ],
        "Skin infection caught early does not reach the bone.",
        commonPractice,
      ),
      rule(
        "CPL-2",
        { openFracture: "yes" },
        [
          "Day 3 to week 8, pain out of proportion, sausage-like tip, discharge, lysis or new bone on the film, CRP up",
          "hand surgery the same day: debridement, culture.",
        ],
        "Bone infection shows late, and most often after late treatment.",
        cite("REYES17", "C"),
        cite("SAMADE21", "B"),
        cite("ALA-ACEP", "C"),
      ),
      rule("CPL-3", { wirePossible: "yes" }, PIN, "A wire is a way in for germs.", ...PIN_SOURCES),
      rule("CPL-4", { malletBony: "yes", wirePossible: "no" }, PIN, "A wire is a way in for germs.", ...PIN_SOURCES),
      rule("CPL-5", { baseDisplaced: "yes", wirePossible: "no" }, PIN, "A wire is a way in for germs.", ...PIN_SOURCES),
      rule(
        "CPL-6",
        { physisDisplaced: "yes", physealInjury: "yes", wirePossible: "no" },
        PIN,
        "A wire is a way in for germs.",
        ...PIN_SOURCES,
      ),
      rule(
        "CPL-7",
        { ...broken, isolatedTuft: "no" },
        SLIPPED,
        "A slip is put right while the bone is soft; extension-block pinning still works before 5 weeks.",
        cite("SAVAGE21", "B"),
        cite("COS12", "C"),
        commonPractice,
      ),
      rule(
        "CPL-8",
        broken,
        [
          "At any visit, no active bending of the end joint",
          "hand surgeon today or next working day: deep flexor off until shown otherwise.",
        ],
        "A tendon that comes off later is as urgent as one torn at once.",
        cite("AAFP22", "C"),
        cite("TRUMBLE92", "C"),
      ),
      rule(
        "CPL-9",
        { malletInjury: "yes" },
        [
          "Weeks 6 to 12, droop",
          "up to 10 degrees accept; 10 to 20 splint longer; over 20 to 25, or swan-neck, hand clinic.",
        ],
        "A third keep 20 degrees or more, about 14 on average; over 25 degrees with lasting pain counts as poor.",
        commonPractice,
        cite("GRUBER14", "A", "mean 14 degrees, 34 % 20 or more"),
        cite("SAVAGE21", "B", "quotes Crawford: poor over 25 degrees with pain"),
      ),
      rule(
        "CPL-10",
        broken,
        [
          "Is it united",
          "no tenderness, no movement at the site and a loaded tip are enough to stop the splint, even when the line shows; bridging on the film comes weeks to months later.",
        ],
        "The finger unites before its film does.",
        commonPractice,
        cite("NONUN23", "B", "film lags in the tuft"),
        cite("NEEDLE20", "B", "needled within 40 days, n 60"),
        cite("COS12", "C", "pinned mallet: 38 days"),
        cite("JOSR19", "C", "late open fixation: 7.6 weeks, 5 to 13"),
        cite("EBP17", "B", "mallet: all by 3 months, pinned or splinted"),
        cite("CHINSEY", "C", "Seymour: 1 to 2 months, mean 1.4"),
      ),
      rule(
        "CPL-11",
        { ...broken, isolatedTuft: "no" },
        [
          "Weeks 8 to 12, still tender and no bridging",
          "stop smoking, protect, film again at 3 months; a painful shaft goes to the clinic.",
        ],
        "Late union has no published definition for this bone.",
        commonPractice,
        fromMemory,
      ),
      rule(
        "CPL-12",
        { tuft: "yes" },
        ["Tuft not united after 12 months", "pain-free: leave it. Painful: graft and wire, better known by 3 months."],
        "19 of 143 were not united at a year, and none needed surgery; tenderness matters, not the line.",
        cite("NONUN23", "B", "13 %, 18 of 19 patients open"),
        cite("CLINADV", "C", "fibrous union is frequent"),
        cite("ELCERR", "C", "graft united at about 8 weeks"),
      ),
      rule(
        "CPL-13",
        broken,
        [
          "After 3 months, tip tilted over 10 to 15 degrees, nail turned, or nail hooked over lost bone",
          "nail or hand clinic, at 6 months or later.",
        ],
        "Bone and nail settle first, then they can be put right.",
        commonPractice,
        cite("HORWITZ", "C"),
      ),
      rule(
        "CPL-14",
        { nailMayFall: "yes" },
        ["Months 4 to 9, nail ridged, split, narrow or not held", "wait 6 to 12 months, then nail clinic."],
        "Most nails grow back well; 13 % were fair or poor after draining.",
        cite("MEEK98", "C", "13 % fair or poor"),
        cite("HORWITZ", "C"),
      ),
      rule(
        "CPL-15",
        { physealInjury: "yes" },
        ["Months 6 to 18, dorsal bump, short or crooked tip", "film of both sides, children's hand clinic."],
        "A hurt growth plate may stop growing.",
        cite("KRUSCHE13", "C", "5 of 24"),
      ),
      rule(
        "CPL-16",
        broken,
        [
          "Tip sore, cold or numb",
          "sore to touch for over 6 weeks: hand therapist; still numb after 6 to 8 weeks: nerve looked at, odd feeling up to a year can be normal; cold pain: gloves and time, 2 to 10 years in some.",
        ],
        "Cold is the commonest late complaint.",
        cite("HORWITZ", "C"),
        cite("CLINADV", "C"),
      ),
      rule(
        "CPL-17",
        { ...broken, isolatedTuft: "no" },
        ["Weeks 4 to 12, end joint bends under 45 degrees, or the middle joint stiff", "hand therapist."],
        "Stiffness gives way to early exercise.",
        cite("EATON", "C"),
      ),
      rule(
        "CPL-18",
        broken,
        [
          "Weeks 2 to 12, pain out of proportion with a symptom in 3 and a sign in 2 of 4 groups (feeling; colour or warmth; sweat or swelling; movement, skin or nail)",
          "complex regional pain syndrome (Budapest): pain team and hand therapist by the next working day.",
        ],
        "Early movement and treatment decide how it ends.",
        fromMemory,
      ),
      rule(
        "CPL-19",
        broken,
        ["New lucency on a late film", "tumour or infection until shown otherwise: hand clinic."],
        "A healing bone gets denser, not emptier.",
        commonPractice,
      ),
    ],
  });
};
