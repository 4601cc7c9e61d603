import loadHighs from "highs";
import { describe, expect, it } from "vitest";
import { assessDigit, makeReady } from "../../src/pathway/index.ts";
import { ADULT, CHILD, pathway } from "../pathway/distal-phalanx/records.ts";
import { PUBLISHED_CASES } from "../reference/published-cases.ts";
import {
  answersTo,
  answersUntil,
  askedFor,
  completeRecords,
  decidedBy,
  differenceMadeBy,
  mean,
  PARTS,
  publishedRecord,
  smallestCertificate,
} from "./questions.ts";
import { spaceOf } from "./space.ts";

const RECORDS = 1_000;
const WITH_EACH_QUESTION = 12;
const WITH_CERTIFICATE = 40;
const SEED = Number(process.env.FAST_CHECK_SEED ?? 20_261_125);
const QUESTIONS = Object.keys(pathway.module.findings).length;

const decided = decidedBy(spaceOf(pathway));
makeReady(pathway);
const records = completeRecords(RECORDS, SEED);
const asked = records.map((record) => askedFor(pathway, record));
const shown = (values: readonly number[]) => `mean ${mean(values).toFixed(1)}, most ${Math.max(...values)}`;

describe("following the next question from a blank form", () => {
  it.each(Object.values(PUBLISHED_CASES).map(({ report, facts }) => [report, facts] as const))(
    "%s: nothing is left to ask, and a question is left out",
    (_, facts) => {
      const record = publishedRecord(facts);
      const answers = askedFor(pathway, record);
      expect(assessDigit(pathway, answersTo(answers, record)).ask).toEqual([]);
      expect(answers.length).toBeLessThan(QUESTIONS);
    },
  );
  it("leads every one of a thousand records to what all its answers together say, in fewer questions", () => {
    const flaws = records.filter((record, i) => {
      const short = assessDigit(pathway, answersTo(asked[i]!, record));
      const all = assessDigit(pathway, record);
      const said = (a: typeof all) => [
        a.exits,
        a.classes,
        a.urgency.sure,
        a.management,
        a.splints,
        a.visits,
        a.antibiotic,
      ];
      return short.ask.length > 0 || JSON.stringify(said(short)) !== JSON.stringify(said(all));
    });
    expect(flaws.slice(0, 1)).toEqual([]);
    expect(Math.max(...asked.map((a) => a.length))).toBeLessThan(QUESTIONS);
    const until = records.map((record, i) => answersUntil(decided, record, asked[i]!));
    const lines = PARTS.map((part) => `${part} ${shown(until.map((u) => u[part]))}`);
    console.log(`answers of ${QUESTIONS} until settled, ${RECORDS} records: ${lines.join("; ")}`);
  });
  it("asks nothing that cannot matter: for each question two patients differ in its answer alone, and are told different things", () => {
    const flaws = records.slice(0, WITH_EACH_QUESTION).flatMap((record, i) =>
      asked[i]!.filter((finding, k) => {
        const made = differenceMadeBy(decided, answersTo(asked[i]!.slice(0, k), record), finding);
        return made === undefined || made.said[0] === made.said[1];
      }),
    );
    expect(flaws).toEqual([]);
  });
});

describe("the fewest answers that settle a record", () => {
  const few = records.slice(0, WITH_CERTIFICATE);
  it("settle it alone, and none of them can be left out", async () => {
    const highs = await loadHighs();
    for (const record of [...few.slice(0, 5), ADULT, CHILD] as typeof few) {
      const certificate = smallestCertificate(decided, highs, record);
      expect(assessDigit(pathway, answersTo(certificate, record)).ask).toEqual([]);
      for (const left of certificate) {
        const rest = certificate.filter((finding) => finding !== left);
        expect([left, assessDigit(pathway, answersTo(rest, record)).ask.length]).not.toEqual([left, 0]);
      }
    }
  });
  it("are hardly fewer than the clinical order asks", async () => {
    const highs = await loadHighs();
    const floor = few.map((record) => smallestCertificate(decided, highs, record).length);
    const needed = asked.slice(0, WITH_CERTIFICATE).map((a) => a.length);
    expect(needed.filter((count, i) => count < floor[i]!)).toEqual([]);
    console.log(`asked ${shown(needed)}; smallest certificate ${shown(floor)}`);
    expect(mean(needed) / mean(floor)).toBeLessThanOrEqual(1.15);
  });
});
