import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { LIFE_ACTS, type LifeAct, type LifeType, moveOf, NONE, PLAN_LIFE } from "../../src/fhir/plan-life.ts";
import { lifeActivity } from "../../src/fhir/provenance.ts";

/** Official expansions of the R4 (4.0.1) value sets: npm package hl7.fhir.r4.expansions. */
type Contains = readonly { readonly code?: string; readonly contains?: Contains }[];
const codesOf = (contains: Contains): string[] =>
  contains.flatMap((c) => [...(c.code ? [c.code] : []), ...codesOf(c.contains ?? [])]);
const expansion = (name: string): string[] =>
  codesOf(
    (
      JSON.parse(readFileSync(`node_modules/hl7.fhir.r4.expansions/ValueSet-${name}.json`, "utf8")) as {
        expansion: { contains: Contains };
      }
    ).expansion.contains,
  );
const VALUE_SETS: { readonly [T in LifeType]: string } = {
  CarePlan: "request-status",
  ServiceRequest: "request-status",
  Appointment: "appointmentstatus",
  Condition: "condition-ver-status",
  QuestionnaireResponse: "questionnaire-answers-status",
};
const TYPES = Object.keys(PLAN_LIFE) as LifeType[];

describe.each(TYPES)("the life of a %s", (type) => {
  const { states, moves, left } = PLAN_LIFE[type];
  it("knows exactly the states of the official R4 value set", () =>
    expect([...states].sort()).toEqual(expansion(VALUE_SETS[type]).sort()));
  it("moves only between states of that value set, each with its source", () => {
    for (const move of moves) {
      expect(states).toContain(move.to);
      expect([NONE, ...states]).toEqual(expect.arrayContaining([...move.from]));
      expect(move.source).toMatch(/R4|common practice, no source/);
    }
  });
  it("says of every state why an act may leave it alone", () =>
    expect(states.filter((s) => !left.some((l) => l.states.includes(s)))).toEqual([]));
});

/**
 * Every move that is allowed, of every type, by every act: "from>to". Everything not listed is refused. Written by hand from the R4
 * definitions of the states, not from the table under test.
 */
const ALLOWED: { readonly [T in LifeType]: { readonly [A in LifeAct]: readonly string[] } } = {
  CarePlan: {
    save: ["none>draft", "draft>draft"],
    sign: ["none>active", "draft>active"],
    supersede: ["active>revoked", "on-hold>revoked"],
    withdraw: ["draft>revoked", "active>revoked", "on-hold>revoked"],
    refute: [],
    void: ["draft>entered-in-error", "active>entered-in-error", "on-hold>entered-in-error", "revoked>entered-in-error"],
    drop: [],
  },
  get ServiceRequest() {
    return this.CarePlan;
  },
  Appointment: {
    save: ["none>proposed", "proposed>proposed"],
    sign: ["none>proposed", "proposed>proposed"],
    supersede: ["proposed>cancelled"],
    withdraw: ["proposed>cancelled"],
    refute: [],
    // Appointment app-3: only a proposed, cancelled or waitlisted one may lack start and end.
    void: ["proposed>cancelled"],
    drop: ["proposed>cancelled"],
  },
  Condition: {
    save: ["none>provisional", "provisional>provisional"],
    sign: [
      "none>confirmed",
      "unconfirmed>confirmed",
      "provisional>confirmed",
      "differential>confirmed",
      "confirmed>confirmed",
    ],
    supersede: ["unconfirmed>refuted", "provisional>refuted", "differential>refuted", "confirmed>refuted"],
    withdraw: [],
    refute: ["unconfirmed>refuted", "provisional>refuted", "differential>refuted", "confirmed>refuted"],
    void: [
      "unconfirmed>entered-in-error",
      "provisional>entered-in-error",
      "differential>entered-in-error",
      "confirmed>entered-in-error",
      "refuted>entered-in-error",
    ],
    drop: [],
  },
  QuestionnaireResponse: {
    save: ["none>in-progress", "in-progress>in-progress"],
    sign: ["none>completed", "in-progress>completed", "completed>amended", "amended>amended"],
    supersede: [],
    withdraw: ["in-progress>stopped"],
    refute: [],
    void: [
      "in-progress>entered-in-error",
      "completed>entered-in-error",
      "amended>entered-in-error",
      "stopped>entered-in-error",
    ],
    drop: [],
  },
};
/** What only a draft that was never signed may do besides. */
const NEVER_SIGNED: { readonly [T in LifeType]: { readonly [A in LifeAct]?: readonly string[] } } = {
  CarePlan: {
    save: ["entered-in-error>draft"],
    sign: ["entered-in-error>active"],
    drop: ["draft>entered-in-error"],
  },
  get ServiceRequest() {
    return this.CarePlan;
  },
  Appointment: {
    save: ["cancelled>proposed"],
    sign: ["cancelled>proposed"],
  },
  Condition: {
    save: ["entered-in-error>provisional"],
    sign: ["entered-in-error>confirmed"],
    drop: ["provisional>entered-in-error"],
  },
  QuestionnaireResponse: {
    save: ["stopped>in-progress", "entered-in-error>in-progress"],
    sign: ["stopped>completed", "entered-in-error>completed"],
  },
};

const table = TYPES.flatMap((type) =>
  LIFE_ACTS.flatMap((act) =>
    [true, false].flatMap((signed) =>
      [NONE, ...PLAN_LIFE[type].states].map((from) => ({ type, act, signed, from, ever: signed ? "signed" : "draft" })),
    ),
  ),
);
describe("X3 X4 every move that a plan's life allows, and every one that it refuses", () => {
  it.each(table)("$type, $ever: $act from $from", ({ type, act, signed, from }) => {
    const allowed = [...ALLOWED[type][act], ...(signed ? [] : (NEVER_SIGNED[type][act] ?? []))];
    const expected = allowed.find((move) => move.startsWith(`${from}>`))?.split(">")[1];
    const moved = moveOf(type, act, from, signed);
    expect("to" in moved ? moved.to : undefined).toBe(expected);
    if ("left" in moved) expect(moved.left).toMatch(/\S{2}.*\.$/);
  });
  it.each(["booked", "pending", "arrived", "checked-in", "waitlist"])(
    "X4 a visit that is %s is moved by no act, and the clinic is told",
    (state) => {
      for (const act of ["supersede", "withdraw", "void", "drop", "save", "sign"] as const)
        expect(moveOf("Appointment", act, state, true)).toMatchObject({ clinic: true });
    },
  );
  it("nothing ever leaves 'entered in error' once it was signed", () => {
    for (const type of TYPES)
      for (const act of LIFE_ACTS) expect(moveOf(type, act, "entered-in-error", true)).not.toHaveProperty("to");
  });
  it("a state that R4 does not know is left to the clinic", () =>
    expect(moveOf("CarePlan", "withdraw", "postponed", true)).toMatchObject({ clinic: true }));
});

describe("D8 what Provenance calls a later act", () => {
  const official = expansion("provenance-activity-type");
  it.each(LIFE_ACTS)("%s: a code of the official R4 value set provenance-activity-type", (act) =>
    expect(official).toContain(lifeActivity([act]).coding?.[0]?.code),
  );
  it("what never should have existed is nullified, what was withdrawn is revised", () => {
    expect(lifeActivity(["void"]).coding?.[0]?.code).toBe("NULLIFY");
    expect(lifeActivity(["withdraw"]).coding?.[0]?.code).toBe("UPDATE");
    expect(lifeActivity(["supersede"]).coding?.[0]?.code).toBe("UPDATE");
  });
});
