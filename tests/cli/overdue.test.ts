import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { format } from "date-fns";
import type { Bundle, List } from "fhir/r4";
import Papa from "papaparse";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { lostBundle, lostRows } from "../../src/fhir/lost-list.ts";
import { readLost } from "../../src/smart/nothing-lost.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { clinicLaunched, control, openPractice, type Practice } from "../smart/on-practice.ts";
import { clinicCommand, tokenOf } from "./clinic-command.ts";

const ZONE = Intl.DateTimeFormat().resolvedOptions().timeZone;
const overdue = (words: readonly string[], token: string | undefined) => clinicCommand("overdue", words, token);

describe("the nightly check over the practice EHR", () => {
  let practice: Practice;
  let session: ClinicSession;
  let token = "";
  beforeAll(async () => {
    practice = await openPractice(true);
    session = await clinicLaunched(practice);
    token = await tokenOf(session);
  });
  afterAll(async () => {
    vi.unstubAllGlobals();
    await practice.close();
  });
  const ofTheScreen = async () => {
    const answer = await readLost(session, { today: format(new Date(), "yyyy-MM-dd"), zone: ZONE });
    if (!answer.ok) throw new Error(answer.problem.title);
    return answer.value;
  };

  it("W6 lists the same visits for the same reasons as the screen, as CSV and as a Bundle, and exits with 3: somebody has to act", async () => {
    const today = format(new Date(), "yyyy-MM-dd");
    const lost = await ofTheScreen();
    const csv = await overdue(["--zone", ZONE, practice.fhirBase], token);
    expect(csv.said).toEqual([]);
    expect(csv.exit).toBe(3);
    const { data, meta } = Papa.parse<Record<string, string>>(csv.out, { header: true, skipEmptyLines: true });
    expect(meta.linebreak).toBe("\r\n");
    expect(data).toEqual(lostRows(lost, today));
    expect(data.filter(({ why }) => why!.startsWith("overdue")).length).toBeGreaterThan(5);
    expect(data.filter(({ why }) => why!.startsWith("missed")).length).toBeGreaterThanOrEqual(4);
    expect(data.some(({ name }) => name!.includes("Wyverley"))).toBe(true);

    const fhir = await overdue(["--format", "bundle", "--zone", ZONE, practice.fhirBase], token);
    expect(fhir.exit).toBe(3);
    const bundle = JSON.parse(fhir.out) as Bundle;
    const list = bundle.entry![0]!.resource as List;
    expect(list.entry!.map(({ flag }) => flag!.text)).toEqual(data.map(({ why }) => why));
    expect(list.entry!.map(({ item }) => item.reference)).toEqual(
      data.map(({ visit }) => `${practice.fhirBase}/${visit}`),
    );
    const inside = new Set(bundle.entry!.map(({ fullUrl }) => fullUrl));
    expect(list.entry!.filter(({ item }) => !inside.has(item.reference!))).toEqual([]);
  });

  it("W6 SEC-22 says with exit code 2 that its list is not complete, writes what it could read, and no cell is a formula", async () => {
    const lost = await ofTheScreen();
    const visit = lost.due[0]!.entry.resource;
    const patient = practice.stored("Patient").find(({ id }) => id === "osric-pellingham")!;
    await control(practice, {
      enter: [
        { ...visit, modifierExtension: [{ url: "https://ward.example/not-for-this", valueBoolean: true }] },
        { ...patient, name: [{ text: '=HYPERLINK("x")' }] },
      ],
    });
    const { out, said, exit } = await overdue([practice.fhirBase], token);
    await control(practice, { reset: true, reseed: true });
    expect(exit).toBe(2);
    expect(said.join(" ")).toContain(`Appointment/${visit.id}`);
    expect(out).toContain(`"'=HYPERLINK(""x"")"`);
  });

  it("a token that is refused is told as that", async () => {
    const { exit, out, said } = await overdue([practice.fhirBase], "nobody-gave-this");
    expect([exit, out]).toEqual([2, ""]);
    expect(said.join(" ")).toContain("The token was refused: get a new one and set FINGERPOST_TOKEN.");
  });
});

describe("the nightly check refuses", () => {
  it("what it cannot use, says of each what is allowed, and writes nothing", async () => {
    const { exit, out, said } = await overdue(
      ["--format", "xml", "--zone", "Mars/Base", "http://ehr.example/fhir"],
      undefined,
    );
    expect([exit, out]).toEqual([2, ""]);
    expect(said).toEqual([
      "options: http://ehr.example/fhir cannot be used; allowed: https://HOST/PATH, or http on this computer, without user or query",
      "options: --format xml; allowed: csv, bundle",
      "options: --zone Mars/Base; allowed: an IANA name such as Europe/London",
      "environment: FINGERPOST_TOKEN is not set; allowed: an access token of the server",
    ]);
  });
  it.each([
    ["a token on the command line", ["--token", "t", "https://ehr.example/fhir"], "t", "see --help"],
    [
      "two addresses and a token that is none",
      ["https://a.example", "https://b.example"],
      "a\nb",
      "is no bearer token",
    ],
  ] as const)("%s", async (_, words, token, allowed) => {
    const { exit, out, said } = await overdue(words, token);
    expect([exit, out]).toEqual([2, ""]);
    expect(said.join(" ")).toContain(allowed);
  });
  it("a server that gives no FHIR, and says which", async () => {
    const server = createServer((_, answer) => answer.setHeader("content-type", "text/html").end("<p>Sign in</p>"));
    await new Promise<void>((on) => server.listen(0, "127.0.0.1", on));
    const { port } = server.address() as AddressInfo;
    const { exit, said } = await overdue([`http://127.0.0.1:${port}/fhir`], "t");
    server.close();
    expect(exit).toBe(2);
    expect(said.join(" ")).toContain(`http://127.0.0.1:${port}/fhir: The answer could not be understood.`);
  });
});

describe("a list with nothing in it", () => {
  it("R4 lst-1 is a List that says why it is empty", () => {
    const none = { due: [], missed: [], flagged: [] };
    const bundle = lostBundle(none, "2026-03-10", { base: "https://ehr.example/fhir", at: "2026-03-10T03:00:00Z" });
    const list = bundle.entry![0]!.resource as List;
    expect(list.entry).toBeUndefined();
    expect(list.emptyReason?.coding?.[0]?.code).toBe("nilknown");
    expect(lostRows(none, "2026-03-10")).toEqual([]);
  });
});
