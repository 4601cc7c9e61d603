import fc from "fast-check";
import { assessDigit } from "../../../src/pathway/index.ts";
import { completeRecord, pathway } from "./records.ts";
const seen:any={};
for (const seed of [11,12,13]) for (const r of fc.sample(completeRecord,{numRuns:120000,seed})) {
  const a=assessDigit(pathway,r);
  const calls=a.management.map(m=>m.effect.call);
  let key="";
  if(calls.includes("non-operative")&&(calls.includes("operative")||calls.includes("must-refer"))) key="contra "+a.management.map(c=>c.rule).join();
  else if(a.splints.length>1) key="splints "+a.splints.map(c=>c.rule).join();
  else if(!a.urgency.level) key="nourg";
  else if(!a.classes.some(c=>!pathway.module.classes[c.class]!.scheme)&&a.exits.length===0&&!a.quality.some(q=>q.effect.blocks)) key="noclass";
  if(key) seen[key]=(seen[key]??0)+1;
}
console.log(seen);
