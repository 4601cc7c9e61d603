import { FIGURES_READ, HAND_POLICY, handFigures, handSigns, handSignsAfterModule, handTables } from "../hand/index.ts";
import type { EffectTable, InjuryModule } from "../module.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import type { AnySign } from "../reasoning/program.ts";
import { adviceTable } from "./advice.ts";
import { DISTAL_PHALANX_ASKED } from "./asked.ts";
import { aoTable, CLASSES, classTable } from "./classes.ts";
import { combinedBaseTable } from "./combined-base.ts";
import { complicationTable } from "./complications.ts";
import { contradictionTable, dataQualityTable } from "./data-quality.ts";
import { followUpAnywayTable, followUpTable } from "./follow-up.ts";
import { jerseyNameTable, jerseyTable } from "./jersey.ts";
import { malletNameTable, malletTable } from "./mallet.ts";
import { nailHereTable, nailTable } from "./nail.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { seymourTable } from "./seymour.ts";
import { shaftTable } from "./shaft.ts";
import { ALSO_OPEN, ALSO_WOUND, distalPhalanxSigns } from "./signs.ts";
import { splintBesideLesionTable, splintTable } from "./splint.ts";
import { tuftTable } from "./tuft.ts";
import { urgencyTable } from "./urgency.ts";

const ordinary = (table: EffectTable): EffectTable => ({ ...table, ordinary: true });

/** Fracture of the distal phalanx of finger or thumb. */
export const distalPhalanx: InjuryModule = {
  ...DISTAL_PHALANX_ASKED,
  policy: { ...HAND_POLICY, ...DISTAL_PHALANX_POLICY },
  classes: CLASSES,
  signs: (policy: SitePolicy): readonly AnySign[] => [
    ...handSigns(policy, ALSO_OPEN, ALSO_WOUND),
    ...distalPhalanxSigns(policy),
    ...handSignsAfterModule(policy),
  ],
  tables: (policy: SitePolicy): readonly EffectTable[] => [
    ...handTables(policy),
    dataQualityTable(policy),
    { ...contradictionTable(), checks: true },
    classTable(policy),
    malletNameTable(),
    jerseyNameTable(),
    aoTable(),
    urgencyTable(policy),
    nailTable(policy),
    splintBesideLesionTable(policy),
    followUpAnywayTable(policy),
    // Never a reason to ask today.
    { ...ordinary(complicationTable(policy)), checks: true },
    ...[
      nailHereTable,
      seymourTable,
      jerseyTable,
      malletTable,
      combinedBaseTable,
      shaftTable,
      tuftTable,
      splintTable,
      followUpTable,
      adviceTable,
    ].map((make) => ordinary(make(policy))),
  ],
  figures: handFigures,
  figuresRead: FIGURES_READ,
};
