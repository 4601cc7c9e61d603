import fc from "fast-check";
import { assessDigit } from "../../../src/pathway/index.ts";
import { completeRecord, pathway } from "./records.ts";
const N=30000; const ex:any={}; let k:any={}; const rules=new Set<string>();
const bump=(n:string,a:any,r:any)=>{k[n]=(k[n]??0)+1;(ex[n]??=[]).length<4&&ex[n].push(`${a.classes.map((c:any)=>c.class)} M:${a.management.map((c:any)=>c.rule+c.effect.call)} S:${a.splints.map((c:any)=>c.rule)} site ${r.fractureSite} SH ${r.salterHarris} flex ${r.activeFlexion} ext ${r.activeExtension} lat ${r.trueLateral} phys ${r.physis} age ${r.ageYears}`)};
for (const r of fc.sample(completeRecord,{numRuns:N,seed:3})) {
  const a=assessDigit(pathway,r);
  if(!a.urgency.level) bump("noUrg",a,r);
  const blocked=a.quality.some(q=>q.effect.blocks);
  if(a.classes.filter(c=>!pathway.module.classes[c.class]!.scheme).length===0&&a.exits.length===0&&!blocked) bump("noClass",a,r);
  const calls=a.management.map(m=>m.effect.call);
  if(calls.includes("non-operative")&&(calls.includes("operative")||calls.includes("must-refer"))) bump("contra",a,r);
  if(a.splints.length>1) bump("splints",a,r);
  if(!a.leftPathway&&!blocked&&a.splints.length===0&&!a.classes.some(c=>c.class==="NO-FRACTURE-SEEN")) bump("nosplint",a,r);
  if(!a.leftPathway&&!blocked&&a.management.length===0) bump("nomanage",a,r);
  if(!a.leftPathway&&!blocked&&a.visits.length===0) bump("novisit",a,r);
  if(a.state!=="settled"&&a.state!=="cannot-decide") bump("prov",a,r);
  for(const v of pathway.evaluate(r).verdicts) for(const x of v.sure) rules.add(x.id);
}
console.log(k);for(const n in ex){console.log(n);for(const e of ex[n])console.log("  ",e);}
const all=pathway.tables.flatMap(t=>t.rules.map(r=>r.id)); console.log("unreached",all.filter(x=>!rules.has(x)).join(" "), all.length);
