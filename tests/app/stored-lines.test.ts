import { describe, expect, it } from "vitest";
import { storedLines } from "../../src/app/tasks/read-plans/stored.ts";
import { draftPlan } from "../../src/fhir/drafts.ts";
import { visitAsOrder } from "../../src/fhir/stand-ins.ts";
import { inputFor, MALLET, PLAN_ID } from "../fhir/cases.ts";

/** The plan of a closed mallet as it is stored, with its visits as themselves or as orders. */
function stored(visits: "as visits" | "as orders") {
  const all = draftPlan(inputFor(MALLET));
  const items = all.map((item) => (item.kind === "visit" && visits === "as orders" ? visitAsOrder(item, all) : item));
  return {
    planId: PLAN_ID,
    title: "Plan",
    status: "active",
    signed: true,
    items: items.map(({ key, resource }, n) => ({
      key,
      planItem: `${PLAN_ID}:${key}`,
      type: resource.resourceType,
      reference: `${resource.resourceType}/${n}`,
      status: "active",
      resource: resource as unknown as Record<string, unknown>,
    })),
  };
}
const said = (plan: ReturnType<typeof stored>, kind: "visit" | "request") =>
  storedLines(plan)
    .filter((line) => line.kind === kind)
    .map(({ what, when }) => `${what}, ${when}`);

describe("W3 a visit that the clinic booked outside the days of the plan", () => {
  it("says so, and why, where the doctor reads the saved plan", () => {
    const plan = stored("as visits");
    const item = plan.items.find(({ type }) => type === "Appointment")!;
    const url = "https://fingerpost.example/fhir/StructureDefinition/outside-days-because";
    const booked = { ...item.resource, status: "booked", start: "2026-12-03T09:15:00Z", end: "2026-12-03T09:30:00Z" };
    const told = (resource: Record<string, unknown>) =>
      storedLines({ ...plan, items: [{ ...item, resource }] }).map(({ when }) => when)[0];
    expect(told(booked)).toMatch(/^booked for [^:]*2026, \d\d:\d\d$/);
    expect(told({ ...booked, extension: [{ url, valueString: "Away for work until then" }] })).toMatch(
      /^booked for .*, outside the days of this plan: Away for work until then$/,
    );
  });
});

describe("P6 a saved plan whose visits the record system took as orders", () => {
  it("lists them among its visits, as one whose visits are visits does, and not as second orders", () => {
    const [asVisits, asOrders] = [stored("as visits"), stored("as orders")];
    expect(said(asVisits, "visit").length).toBeGreaterThan(2);
    expect(said(asOrders, "visit")).toEqual(said(asVisits, "visit"));
    expect(said(asOrders, "request")).toEqual(said(asVisits, "request"));
  });
});
