import { codeEncounter } from "../../src/coding/code-encounter.ts";
import { deriveForCoding } from "../../src/coding/derive.ts";
import type { CodedEncounter, EncounterToCode } from "../../src/coding/encounter.ts";
import { csvExport, dg1Export, type ExportFormat, exported } from "../../src/coding/export.ts";
import { allTables } from "../../src/coding/tables.ts";
import { ndjsonExport } from "../../src/fhir/coded-encounter.ts";
import { MODULES, pathwayFor, readCase, readSitePolicy } from "../../src/pathway/index.ts";
import type { Measured } from "./report.ts";

const RECORDS = 100_000;
const META = { appVersion: "0.1.0", knowledgeVersion: "0" };
const SITES = ["tuft", "shaft", "base-dorsal", "base-volar", "no-fracture-seen"];
const DIGITS = ["thumb", "index", "middle", "ring", "little"];
const OPEN = ["closed", "open-nail-bed", "open-skin", "skin-cut", "uncertain"];
const MEGABYTE = 1_000_000;

/** A population export: findings to classes to codes to text, for 100,000 records, and how much memory it holds on to. */
export async function measureCoding(): Promise<Measured[]> {
  const policy = readSitePolicy(undefined);
  if (!policy.ok) throw new Error("the default policy is refused");
  const pathway = pathwayFor(MODULES[0]!, policy.policy);
  const [table] = await allTables();
  const at = <T>(values: readonly T[], n: number) => values[n % values.length]!;
  const encounter = (n: number): EncounterToCode => {
    const read = readCase({
      assessedAt: "2026-11-26T12:00",
      patient: { ageYears: 20 + (n % 60) },
      injury: { mechanism: "crush", presentation: "first" },
      digits: [
        {
          digit: at(DIGITS, n),
          side: n % 2 ? "left" : "right",
          filmTaken: "yes",
          trueLateral: "seen",
          fractureSite: at(SITES, n >> 1),
          openness: at(OPEN, n >> 2),
          displacement: n % 3 ? "seen" : "none-seen",
          tissueLoss: "none",
        },
      ],
    });
    if (!read.ok) throw new Error(read.problems[0]?.problem);
    const derived = deriveForCoding(pathway, read.record);
    return {
      id: `E-${n}`,
      date: "2026-11-26",
      kind: "initial",
      record: read.record,
      derived,
      stated: { circumstances: { causes: ["W23.2"], place: "Y92.63" } },
    };
  };
  function* coded(): Generator<CodedEncounter> {
    for (let n = 0; n < RECORDS; n++) yield codeEncounter(encounter(n), table, { changes: false });
  }
  const run = async (name: string, format: ExportFormat): Promise<Measured[]> => {
    let bytes = 0;
    let peak = 0;
    const start = performance.now();
    const before = process.memoryUsage().rss;
    for await (const piece of exported(format, coded(), () => {
      peak = Math.max(peak, process.memoryUsage().rss - before);
    }))
      bytes += piece.length;
    const seconds = (performance.now() - start) / 1000;
    return [
      { name: `${name}: ${RECORDS} records, ${(bytes / MEGABYTE).toFixed(0)} MB of text`, value: seconds, unit: "s" },
      { name: `${name}: memory added`, value: peak / MEGABYTE, unit: "MB", target: { atMost: 200 } },
    ];
  };
  return [
    ...(await run("CSV", csvExport(META))),
    ...(await run("DG1", dg1Export(META))),
    ...(await run("NDJSON", ndjsonExport(META))),
  ];
}
