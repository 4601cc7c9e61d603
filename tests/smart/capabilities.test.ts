import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { capabilitiesIn, lessRefused } from "../../src/smart/capabilities.ts";

const statement = (rest: object) => ({
  resourceType: "CapabilityStatement",
  status: "active",
  kind: "instance",
  fhirVersion: "4.0.1",
  format: ["json"],
  rest: [{ mode: "server", ...rest }],
});
const type = (name: string, ...codes: string[]) => ({ type: name, interaction: codes.map((code) => ({ code })) });
const NOTHING = { create: false, update: false, search: false, conditionalCreate: false };

describe("what a record system says it supports", () => {
  it("P1 counts only what it states: no statement of an interaction is a no", () => {
    const said = capabilitiesIn(
      statement({
        resource: [
          { ...type("CarePlan", "read", "search-type", "create"), conditionalCreate: true },
          type("Appointment", "read", "search-type"),
          { type: "Condition" },
        ],
      }),
    );
    expect(said).toMatchObject({ known: true, transaction: false });
    expect(said.offers("CarePlan")).toEqual({ create: true, update: false, search: true, conditionalCreate: true });
    expect(said.offers("Appointment")).toEqual({ ...NOTHING, search: true });
    expect(said.offers("Condition")).toEqual(NOTHING);
    expect(said.offers("ServiceRequest")).toEqual(NOTHING);
    expect(said.offers("__proto__")).toEqual(NOTHING);
  });

  it("P1 a batch is no transaction, and what a client half of the statement says is not the server's", () => {
    const rest = { interaction: [{ code: "batch" }], resource: [] };
    expect(capabilitiesIn(statement(rest)).transaction).toBe(false);
    expect(capabilitiesIn(statement({ ...rest, interaction: [{ code: "transaction" }] })).transaction).toBe(true);
    const client = { mode: "client", interaction: [{ code: "transaction" }], resource: [type("CarePlan", "create")] };
    const both = capabilitiesIn({ ...statement(rest), rest: [client, { mode: "server", ...rest }] });
    expect([both.transaction, both.offers("CarePlan").create]).toEqual([false, false]);
  });

  it.each([
    ["nothing", undefined],
    ["a sign-in page", "<html>"],
    ["another resource", { resourceType: "Patient" }],
    ["a statement without its REST part", { resourceType: "CapabilityStatement", status: "active" }],
    ["an empty REST part", { resourceType: "CapabilityStatement", rest: [] }],
  ])("P1 %s in its place is 'not known', never 'nothing supported'", (_, json) => {
    const said = capabilitiesIn(json);
    expect([said.known, said.transaction, said.offers("CarePlan").create]).toEqual([false, true, true]);
  });

  it("one type that cannot be read is not offered and does not spoil the others", () => {
    const said = capabilitiesIn(
      statement({
        resource: [null, 7, { type: 3 }, { type: "Condition", interaction: "all" }, type("CarePlan", "create")],
      }),
    );
    expect([said.offers("Condition").create, said.offers("CarePlan").create]).toEqual([false, true]);
  });

  it("never throws, whatever comes back", () => {
    fc.assert(
      fc.property(
        fc.oneof(
          fc.jsonValue(),
          fc.jsonValue().map((rest) => ({ resourceType: "CapabilityStatement", rest })),
        ),
        (json) => {
          expect(typeof capabilitiesIn(json).offers("Condition").create).toBe("boolean");
        },
      ),
      { numRuns: 500 },
    );
  });

  it("P1 REL-33 a refusal counts against the statement, for what was refused and nothing else", () => {
    const all = ["create", "update", "search-type"];
    const said = capabilitiesIn(
      statement({
        interaction: [{ code: "transaction" }],
        resource: ["CarePlan", "Condition"].map((name) => ({ ...type(name, ...all), conditionalCreate: true })),
      }),
    );
    const less = lessRefused(said, [
      { what: "create", type: "CarePlan", said: "no" },
      { what: "update", type: "Condition" },
    ]);
    expect(less.transaction).toBe(true);
    expect(less.offers("CarePlan")).toMatchObject({ create: false, update: true });
    expect(less.offers("Condition")).toMatchObject({ create: true, update: false });
    expect(lessRefused(said, [{ what: "transaction" }]).transaction).toBe(false);
    expect(lessRefused(said, [{ what: "conditional-create" }]).offers("Condition").conditionalCreate).toBe(false);
  });
});
