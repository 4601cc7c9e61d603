import fc from "fast-check";
import { assessDigit } from "../../../src/pathway/index.ts";
import { completeRecord, pathway } from "./records.ts";
const s=fc.sample(completeRecord,{numRuns:1000,seed:2});
const cpu=()=>process.cpuUsage().user;
for(let k=0;k<3;k++){let t=cpu(); for(let i=0;i<50;i++) for(const r of s) pathway.evaluate(r); console.log("evaluate us",(cpu()-t)/50000);
t=cpu(); for(let i=0;i<20;i++) for(const r of s) assessDigit(pathway,r); console.log("assess us",(cpu()-t)/20000);
t=cpu(); for(let i=0;i<20;i++) for(const r of s.slice(0,200)) assessDigit(pathway,{ageYears:34,digit:"middle"}); console.log("assess empty us",(cpu()-t)/4000);}
