/** What must hold for every complete record. Each check gives a record for which it does not. */
import type { Effect } from "../../src/pathway/hand/effects.ts";
import { handFigures } from "../../src/pathway/hand/index.ts";
import { type SitePolicy, URGENCIES, type Urgency } from "../../src/pathway/index.ts";
import { ALWAYS, NEVER, type Node, OPEN } from "../../src/pathway/reasoning/statements.ts";
import { from, under } from "../../src/pathway/reasoning/table.ts";
import { always, atLeast, type Flaw, never, type Space, someSays, witnessOf } from "./space.ts";

/** Tables that answer with one row: no record without a row, none with two. */
export function exactlyOne(space: Space): Flaw[] {
  const { diagrams } = space.statements;
  const tables = space.pathway.tables.filter((t) => t.answers === "one");
  return tables.flatMap((table) => {
    const rows = space.rules.filter((r) => r.table === table);
    const some = diagrams.any(rows.map((r) => r.holds));
    return [
      ...always(space, ALWAYS, some, `${table.id}: no row holds`),
      ...rows.flatMap((a, i) =>
        rows
          .slice(i + 1)
          .flatMap((b) => never(space, diagrams.and(a.holds, b.holds), `${a.rule.id} and ${b.rule.id} both hold`)),
      ),
    ];
  });
}

/** A place for every record: an urgency, and a class, an exit, or a line that says why neither can be said yet. */
export function everyRecordPlaced(space: Space): Flaw[] {
  const { classes } = space.pathway.module;
  const placed = someSays(
    space,
    (e) => e.kind === "exit" || (e.kind === "class" && !classes[e.class]?.scheme) || (e.kind === "quality" && e.blocks),
  );
  return [
    ...always(space, ALWAYS, atLeast(space, "none"), "no urgency is said"),
    ...always(space, ALWAYS, placed, "neither class nor exit, and nothing says why"),
  ];
}

/** Nobody is told both to wait and to be operated or referred: with either, the urgency is a week or less. */
export function nothingRoutineIsOperated(space: Space): Flaw[] {
  const soon = atLeast(space, "W1");
  const surgeon = someSays(space, (e) => e.kind === "manage" && (e.call === "operative" || e.call === "must-refer"));
  const atOnce = someSays(
    space,
    (e) => e.kind === "visit" && e.visit.purpose === "surgeon-review" && e.visit.latest <= 2,
  );
  return [
    ...always(space, surgeon, soon, "operated or referred, and routine"),
    ...always(space, atOnce, atLeast(space, "D1"), "a surgeon within two days, and routine"),
  ];
}

/** Levels that can be the most urgent one said. Exactly one is for each record, as they are ordered; none may be out of reach. */
export function urgenciesReached(space: Space): readonly Urgency[] {
  const { diagrams } = space.statements;
  return URGENCIES.filter((u, i) => {
    const less = i === 0 ? NEVER : atLeast(space, URGENCIES[i - 1]!);
    return diagrams.and(diagrams.and(atLeast(space, u), diagrams.not(less)), space.complete) !== NEVER;
  });
}

/** Ceilings printed for a finger block that lie above the label, over weights and ages. One flaw is enough to show each. */
export function dosesAboveLabel(policy: SitePolicy): Flaw[] {
  const flaws: Flaw[] = [];
  for (const ageYears of [0.1, 0.4, 0.6, 3, 5, 5.9, 6, 11.9, 12, 17, 40, 80])
    for (let weightKg = 0.5; weightKg <= 350; weightKg += 0.5) {
      const facts = { blockLikely: "yes", blockForbidden: "no", digit: "ring", ageYears, weightKg };
      for (const { text } of handFigures(facts, policy).anaesthetic) {
        const printed = text.match(/(\d+(?:\.\d+)?) mg = [\d.]+ mL/)?.[1];
        const label = /epinephrine/i.test(text) ? Math.min(7 * weightKg, 500) : Math.min(4.5 * weightKg, 300);
        if (printed !== undefined && Number(printed) > label) flaws.push({ what: `G6: ${text}`, witness: facts });
      }
      const unweighed = handFigures({ ...facts, weightKg: "not-asked" }, policy).anaesthetic;
      if (unweighed.some((l) => / mg = /.test(l.text)))
        flaws.push({ what: "G6: a dose without a weight", witness: facts });
    }
  return flaws;
}

const BITES = ["human-bite", "cat-bite", "dog-bite", "other-animal-bite"];
const antibiotic =
  (...decisions: readonly string[]) =>
  (e: Effect) =>
    e.kind === "antibiotic" && decisions.includes(e.decision);

/** What must never happen, whatever else is known. Each holds for all complete records, and so for whatever a partial one can become. */
export function guards(space: Space): Flaw[] {
  const { statements, left } = space;
  const { diagrams } = statements;
  const row = (when: Readonly<Record<string, unknown>>) => statements.row(when);
  const and = (...nodes: readonly Node[]) => diagrams.all(nodes);
  const named = (pattern: RegExp) => someSays(space, (e) => e.kind === "class" && pattern.test(e.class));

  const nailOverFold = row({
    ageYears: under(18),
    physis: ["open", "closing", "cannot-judge"],
    nailPlate: "over-fold",
  });
  const flexorLost = row({ activeFlexion: "absent" });
  const noBlood = row({ poorPerfusion: "yes", perfusionAfterFirstSteps: "still-poor" });
  const dangerous = diagrams.any([row({ mechanism: [...BITES, "high-pressure-injection"] }), noBlood]);
  const middleMallet = and(
    row({ onLateral: "yes", fractureSite: "base-dorsal", physisOpen: "no", flexorInDoubt: "no", openMallet: "no" }),
    row({ articularSharePercent: from(33.3, 66.7) }),
    diagrams.not(left),
  );
  const lateralOn = (day: number) =>
    someSays(space, (e) => e.kind === "visit" && e.visit.purpose === "film-true-lateral" && e.visit.ideal === day);
  const narrowVessels = diagrams.any([row({ poorPerfusion: "yes" }), row({ vasospasm: "yes" })]);
  const needsDrug = diagrams.any([
    row({ seymour: "yes" }),
    row({ mechanism: ["human-bite", "cat-bite", "other-animal-bite"], biteBloodDrawn: "yes" }),
    row({ mechanism: "dog-bite", biteBloodDrawn: "yes", biteDeepOrDirty: "yes" }),
    row({ grossContamination: "yes" }),
  ]);
  const brokenLesion = row({ boneLesion: "yes" });
  // A glomus tumour is looked for by the clinic of the lesion.
  const otherExit = someSays(
    space,
    (e) => e.kind === "exit" && e.leaves && !["pathological-fracture", "glomus"].includes(e.exit),
  );
  const lesionAlone = row({ lesionAlone: "yes" });
  return [
    ...never(space, and(lesionAlone, otherExit), "a plan of the fracture beside an exit that takes it over"),
    ...always(
      space,
      and(brokenLesion, diagrams.not(otherExit)),
      lesionAlone,
      "a break through a lesion without a plan of the fracture",
    ),
    ...never(space, and(nailOverFold, named(/^TUFT|^MALLET$|^TENDINOUS/)), "G1: called tuft or mallet"),
    ...always(space, nailOverFold, atLeast(space, "D0"), "G1: not seen within a day"),
    ...always(space, flexorLost, atLeast(space, "D1"), "G2: lost deep flexor in routine care"),
    ...always(space, dangerous, left, "G3: ordinary pathway"),
    ...always(space, dangerous, atLeast(space, "D0"), "G3: not seen within a day"),
    ...[7, 14, 21].flatMap((day) => always(space, middleMallet, lateralOn(day), `G4: no lateral on day ${day}`)),
    ...never(
      space,
      and(
        narrowVessels,
        someSays(space, (e) => e.kind === "epinephrine" && e.allow),
      ),
      "G5: epinephrine",
    ),
    ...always(
      space,
      row({ openFracture: "yes", mechanism: "crush" }),
      row({ tetanusDirtyWound: "yes" }),
      "G7: a clean wound",
    ),
    ...never(space, and(needsDrug, someSays(space, antibiotic("no", "not-routinely"))), "G8: no antibiotic"),
    ...always(space, needsDrug, someSays(space, antibiotic("yes", "treat-infection")), "G8: antibiotic not said"),
    ...never(
      space,
      and(row({ mechanism: BITES, biteBloodDrawn: "yes" }), someSays(space, antibiotic("no"))),
      "G8: bite with blood",
    ),
  ];
}

/** A danger: these answers of one finding (absent: all others), against those that are harmless. */
export interface RedFlag {
  readonly finding: string;
  readonly danger?: readonly string[];
  readonly harmless: readonly string[];
}
const yes = (finding: string): RedFlag => ({ finding, danger: ["yes"], harmless: ["no"] });
export const RED_FLAGS: readonly RedFlag[] = [
  yes("otherSeriousInjury"),
  yes("mangled"),
  yes("sheathSigns"),
  yes("foreignBody"),
  yes("boneLesion"),
  yes("lysisOrPeriostealReaction"),
  yes("biteBloodDrawn"),
  yes("biteDeepOrDirty"),
  yes("diabetes"),
  yes("immuneCompromise"),
  yes("arterialDisease"),
  yes("vasospasm"),
  { finding: "tipColour", danger: ["pale", "dusky", "white"], harmless: ["pink"] },
  { finding: "capillaryRefill", danger: ["slow"], harmless: ["brisk"] },
  { finding: "perfusionAfterFirstSteps", danger: ["still-poor", "not-yet"], harmless: ["restored"] },
  {
    finding: "tissueLoss",
    danger: ["pulp-small", "pulp-large", "bone-exposed", "amputation-replantable", "amputation-not-replantable"],
    harmless: ["none"],
  },
  { finding: "jointDislocated", danger: ["yes-not-yet-reduced", "irreducible"], harmless: ["no"] },
  { finding: "infectionSigns", danger: ["local", "spreading", "tense-pulp-or-discharge"], harmless: ["none"] },
  { finding: "sensation", harmless: ["normal"] },
  { finding: "contamination", danger: ["heavy-dirt", "soil-or-manure"], harmless: ["clean", "visible-dirt", "water"] },
  { finding: "activeFlexion", danger: ["absent", "weak", "cannot-test"], harmless: ["present"] },
  { finding: "nailPlaneRotation", danger: ["rotated"], harmless: ["none"] },
  { finding: "washoutPossible", danger: ["inadequate"], harmless: ["done-well"] },
  { finding: "devitalised", danger: ["yes", "artery-cut"], harmless: ["no"] },
  { finding: "woundOverJoint", danger: ["cut", "skin-and-tendon-lost"], harmless: ["no"] },
  { finding: "openness", danger: ["open-nail-bed", "open-skin"], harmless: ["closed"] },
  {
    finding: "mechanism",
    danger: [...BITES, "high-pressure-injection", "burn-or-frostbite"],
    harmless: ["crush", "axial-load", "forced-flexion", "fall", "other", "laceration", "saw"],
  },
];

/**
 * A red flag against its harmless answer, all else being equal, over the whole space: the urgency is never lower, and every exit is still said
 * unless something more urgent than it takes its place.
 */
export function redFlagsNeverCalm(space: Space, flags: readonly RedFlag[] = RED_FLAGS): Flaw[] {
  const { statements } = space;
  const { diagrams, variables } = statements;
  const exits = new Map<string, { exit: string; urgency: Urgency }>();
  for (const { effects } of space.rules)
    for (const e of effects)
      if (e.kind === "exit") exits.set(`${e.exit} ${e.urgency}`, { exit: e.exit, urgency: e.urgency });
  const moreUrgentThan = (u: Urgency) => {
    const i = URGENCIES.indexOf(u);
    return i === 0 ? NEVER : atLeast(space, URGENCIES[i - 1]!);
  };
  const said = [
    ...URGENCIES.map((u) => ({ what: `less urgent than ${u}`, before: atLeast(space, u), after: atLeast(space, u) })),
    ...[...exits.values()].map(({ exit, urgency }) => ({
      what: `no longer sent out for ${exit}`,
      before: someSays(space, (e) => e.kind === "exit" && e.exit === exit && e.urgency === urgency),
      after: diagrams.or(
        someSays(space, (e) => e.kind === "exit" && e.exit === exit),
        moreUrgentThan(urgency),
      ),
    })),
  ];
  return flags.flatMap(({ finding, danger, harmless }) => {
    const v = variables.findIndex((c) => c.name === finding);
    const values = variables[v]?.codes;
    if (!values) throw new Error(`${finding} is no finding with values`);
    const given = (nodes: readonly Node[], value: string) => {
      const code = values.get(value);
      if (code === undefined) throw new Error(`${finding} has no value ${value}`);
      const codes = new Uint8Array(variables.length).fill(OPEN);
      codes[v] = code;
      return diagrams.restrict(nodes, codes);
    };
    return harmless.flatMap((good) => {
      const before = given(
        said.map((x) => diagrams.and(x.before, space.complete)),
        good,
      );
      return (danger ?? [...values.keys()].filter((x) => !harmless.includes(x))).flatMap((bad) => {
        const after = given(
          said.map((x) => x.after),
          bad,
        );
        return said.flatMap(({ what }, i): Flaw[] => {
          const witness = witnessOf(space, diagrams.and(before[i]!, diagrams.not(after[i]!)));
          return witness
            ? [{ what: `${finding} ${bad} instead of ${good}: ${what}`, witness: { ...witness, [finding]: bad } }]
            : [];
        });
      });
    });
  });
}

/** Rules that no complete record makes heard. */
export const silentRules = (space: Space): string[] =>
  space.rules.filter((r) => space.statements.diagrams.and(r.heard, space.complete) === NEVER).map((r) => r.rule.id);
