import { assessDigit } from "../../../src/pathway/index.ts";
import { distalPhalanx, pathway } from "./records.ts";

const q = (g: string, n = 0) => distalPhalanx.groups.find((x) => x.id === g)!.quick[n]!.sets;
let f: any = { ageYears: 34 };
const step = (name: string, set: any) => {
  f = { ...f, ...set };
  const a = assessDigit(pathway, f);
  console.log(
    name,
    "|",
    a.state,
    JSON.stringify({ l: a.urgency.level, o: a.urgency.open, s: a.urgency.sure }),
    "ask",
    a.ask.join(","),
  );
  return a;
};
step("start", {});
step("digit", { digit: "middle", side: "right" });
step("flags", q("red-flags"));
step("circ", q("circulation-and-feeling"));
step("mech", { mechanism: "axial-load" });
step("acc", q("accident"));
step("skin", q("skin-and-nail"));
step("move", q("movement"));
step("film", q("film"));
step("site", { fractureSite: "base-dorsal" });
const a = step("share", { articularSharePercent: 40, hoursSinceInjury: 5 });
const b = step("history", q("history"));
console.log(a.classes.map((c) => c.name).join(" | "));
for (const k of [
  "quality",
  "management",
  "splints",
  "today",
  "antibiotic",
  "tetanus",
  "anaesthetic",
  "warnings",
  "tasks",
] as const)
  for (const l of b[k] as any) console.log(k, "-", l.text);
for (const v of b.visits) console.log(v.purpose, v.who, v.earliest, v.ideal, v.latest, v.check);
console.log("still", b.stillPossible.map((l) => l.rule).join(" "));
