/** Questions asked until a record is settled, in the shipped order, beside the fewest that any order could do with. */
import loadHighs from "highs";
import { makeReady } from "../../src/pathway/index.ts";
import { pathway } from "../pathway/distal-phalanx/records.ts";
import {
  answersUntil,
  askedFor,
  completeRecords,
  decidedBy,
  mean,
  PARTS,
  publishedRecord,
  smallestCertificate,
} from "../proof/questions.ts";
import { spaceOf } from "../proof/space.ts";
import { PUBLISHED_CASES } from "../reference/published-cases.ts";
import type { Measured } from "./report.ts";

const RECORDS = 1_000;
const WITH_CERTIFICATE = 150;
const SEED = 20_261_125;

export async function measureQuestions(): Promise<Measured[]> {
  makeReady(pathway);
  const decided = decidedBy(spaceOf(pathway));
  const highs = await loadHighs();
  const questions = Object.keys(pathway.module.findings).length;
  const unit = `of ${questions} answers`;

  const published = Object.values(PUBLISHED_CASES).flatMap(({ report, facts }): Measured[] => {
    const record = publishedRecord(facts);
    const asked = askedFor(pathway, record);
    const until = answersUntil(decided, record, asked);
    return [
      {
        name: `${report}; ${PARTS.map((part) => `${part} after ${until[part]}`).join(", ")}; fewest possible`,
        value: smallestCertificate(decided, highs, record).length,
        unit,
      },
    ];
  });

  const records = completeRecords(RECORDS, SEED);
  const asked = records.map((record) => askedFor(pathway, record));
  const until = records.map((record, i) => answersUntil(decided, record, asked[i]!));
  const few = records.slice(0, WITH_CERTIFICATE);
  const floor = mean(few.map((record) => smallestCertificate(decided, highs, record).length));
  const needed = mean(asked.slice(0, WITH_CERTIFICATE).map((a) => a.length));
  return [
    ...published,
    ...PARTS.flatMap((part): Measured[] => {
      const counts = until.map((u) => u[part]);
      return [
        { name: `${RECORDS} random records, ${part} settled, mean`, value: mean(counts), unit },
        { name: `${RECORDS} random records, ${part} settled, most`, value: Math.max(...counts), unit },
      ];
    }),
    { name: `${WITH_CERTIFICATE} random records, asked, mean`, value: needed, unit },
    { name: `${WITH_CERTIFICATE} random records, smallest certificate, mean`, value: floor, unit },
    { name: "asked / smallest certificate", value: needed / floor, unit: "", target: { atMost: 1.15 } },
  ];
}
