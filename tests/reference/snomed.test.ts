import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { SNOMED_FRACTURES, SNOMED_NAILS, SNOMED_SIDES } from "../../src/coding/other-systems.ts";
import { SITE_SNOMED } from "../../src/fhir/coded-condition.ts";
import { HISTORY_CODES } from "../../src/fhir/condition.ts";
import { ALLERGY_CODES, ANTICOAGULANTS, NO_KNOWN } from "../../src/fhir/medication-allergy.ts";

/**
 * SNOMED CT identifiers: form and Verhoeff check digit (SNOMED CT Release File Specification; tables of Verhoeff 1969), and, where the official
 * HL7 R4 value set expansions or examples hold the id, its meaning. A right check digit alone proves no meaning.
 */
const TIMES = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 2, 3, 4, 0, 6, 7, 8, 9, 5],
  [2, 3, 4, 0, 1, 7, 8, 9, 5, 6],
  [3, 4, 0, 1, 2, 8, 9, 5, 6, 7],
  [4, 0, 1, 2, 3, 9, 5, 6, 7, 8],
  [5, 9, 8, 7, 6, 0, 4, 3, 2, 1],
  [6, 5, 9, 8, 7, 1, 0, 4, 3, 2],
  [7, 6, 5, 9, 8, 2, 1, 0, 4, 3],
  [8, 7, 6, 5, 9, 3, 2, 1, 0, 4],
  [9, 8, 7, 6, 5, 4, 3, 2, 1, 0],
];
const PERMUTE = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 5, 7, 6, 2, 8, 3, 0, 9, 4],
  [5, 8, 0, 3, 7, 9, 6, 1, 4, 2],
  [8, 9, 1, 6, 0, 4, 3, 5, 2, 7],
  [9, 4, 5, 3, 1, 2, 6, 8, 7, 0],
  [4, 2, 8, 6, 5, 7, 3, 9, 0, 1],
  [2, 7, 9, 3, 8, 0, 6, 4, 1, 5],
  [7, 0, 4, 6, 9, 1, 3, 2, 5, 8],
];
const isConceptId = (id: string): boolean =>
  /^[1-9]\d{5,17}$/.test(id) &&
  ["00", "10"].includes(id.slice(-3, -1)) &&
  [...id].reverse().reduce((sum, digit, i) => TIMES[sum]![PERMUTE[i % 8]![Number(digit)]!]!, 0) === 0;

const RXNORM_IDS: readonly string[] = [
  ...Object.values(ALLERGY_CODES).flatMap((c) => [...c.rxnorm]),
  ...ANTICOAGULANTS.rxnorm,
];
const sources = readdirSync("src/fhir").map((file) => ({ file, text: readFileSync(`src/fhir/${file}`, "utf8") }));
const used = [
  ...new Set(sources.flatMap(({ text }) => [...text.matchAll(/["\s](\d{6,18})(?=["\s:,])/g)].map((m) => m[1]!))),
].filter((id) => !RXNORM_IDS.includes(id));

describe("check digits", () => {
  it("hold for every SNOMED CT id in the readers and writers", () => {
    expect(used.length).toBeGreaterThan(60);
    expect(used.filter((id) => !isConceptId(id))).toEqual([]);
  });
  it("catch a mistyped digit, two swapped digits, and an id of another kind", () => {
    expect(isConceptId("24424003")).toBe(true);
    expect(isConceptId("24424013")).toBe(false);
    expect(isConceptId("24442003")).toBe(false);
    expect(isConceptId("680946014")).toBe(false); // a description id, not a concept
  });
});

describe("meanings in the official HL7 R4 content", () => {
  const text = [
    "Bundle-valueset-expansions",
    "List-example-double-cousin-relationship",
    "MedicationRequest-medrx0321",
    "AllergyIntolerance-nka",
  ]
    .map((name) => readFileSync(`node_modules/hl7.fhir.r4.examples/${name}.json`, "utf8"))
    .join("\n");
  const meaning = new Map<string, string>();
  for (const m of text.matchAll(
    /"system"\s*:\s*"http:\/\/snomed\.info\/sct"[^{}]{0,80}?"code"\s*:\s*"(\d+)"[^{}]{0,40}?"display"\s*:\s*"([^"]*)"/g,
  ))
    meaning.set(m[1]!, m[2]!);
  const history = (finding: string) => HISTORY_CODES.find((h) => h.finding === finding)!.snomed;

  it.each([
    ["diabetes", history("diabetes"), /^Diabetes mellitus/],
    ["anticoagulation", history("bleedingTendency"), /anticoagulant/],
    ["immune suppression", history("immuneCompromise"), /immunosuppressive/],
    ["pregnancy", history("pregnant"), /^Pregnancy/],
    ["smoking", history("smoker"), /^Smoker$/],
    ["warfarin", ANTICOAGULANTS.snomed, /^Warfarin$/],
    ["penicillins", ALLERGY_CODES.penicillin.snomed, /cillin.*allergy$/i],
    ["other antibiotics", ALLERGY_CODES.otherAntibiotic.snomed, /(cephalosporin|clindamycin|macrolide) allergy$/i],
    ["local anaesthetics", ALLERGY_CODES.localAnaesthetic.snomed, /(local anesthetic drug|caine) allergy$/i],
    ["adhesive", ALLERGY_CODES.latexOrAdhesive.snomed.filter((id) => id !== "300916003"), /adhesive allergy$/],
    ["no known allergy", NO_KNOWN, /no known/i],
  ])("%s", (_, ids, words) => {
    expect(ids.length).toBeGreaterThan(0);
    for (const id of ids)
      expect([id, meaning.get(id) ?? "not in the official content"]).toEqual([id, expect.stringMatching(words)]);
  });
  it("never says latex allergy for the statement that there is none", () => {
    expect(meaning.get("716184000")).toMatch(/no known/i);
    expect(ALLERGY_CODES.latexOrAdhesive.snomed).not.toContain("716184000");
  });
});

describe("what a coded encounter may carry", () => {
  it("names nail and side by ids with a right check digit, each once", () => {
    const all = [...Object.values(SNOMED_NAILS), ...Object.values(SNOMED_SIDES)].map((c) => c.code);
    expect(new Set(all).size).toBe(7);
    for (const id of all) expect(isConceptId(id), id).toBe(true);
  });
});

describe("what a condition may carry", () => {
  it("keeps thumb and finger, open and closed apart", () => {
    const all = [
      ...Object.values(SNOMED_FRACTURES).flatMap((group) => Object.values(group)),
      ...Object.values(SITE_SNOMED),
    ];
    expect(new Set(all.map((c) => c.code)).size).toBe(all.length);
    for (const [group, byOpenness] of Object.entries(SNOMED_FRACTURES)) {
      for (const coding of Object.values(byOpenness)) expect(coding.display).toContain(`phalanx of ${group}`);
      expect(byOpenness.yes.display).toMatch(/^Open/);
      expect(byOpenness.no.display).toMatch(/^Closed/);
      expect(byOpenness.unknown.display).toMatch(/^Fracture/);
    }
  });
});
