import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { LAUNCH_CHECKS } from "../../launch/ehr/smart/launch-checks.ts";
import type { Practice } from "../../launch/start.ts";
import { launchFaults } from "../browser/stage.ts";
import { authorize, authorizeParams, call, launchValue, openPractice, pkce, signIn } from "./practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(() => practice.close());

describe("L2 GATE-18 what an app owes at a launch is counted at every launch (points of the Inferno client tests, 2025)", () => {
  it("fifteen points", () => expect(LAUNCH_CHECKS).toHaveLength(15));

  it("a good launch and a read under its token are marked down on none of them", async () => {
    const { token } = await signIn(practice);
    expect((await call(practice, token, "Patient/odalys-fennimore")).status).toBe(200);
    expect(await launchFaults(practice)).toEqual([]);
  });

  it.each<[string, Record<string, string | undefined>]>([
    ["state is given", { state: undefined }],
    ["state is long enough", { state: "1234" }],
    ["aud is the FHIR base", { aud: "https://elsewhere.example/fhir" }],
    ["code_challenge is given", { code_challenge: undefined }],
    ["code_challenge_method is S256", { code_challenge_method: "plain" }],
    ["response_type is code", { response_type: "token" }],
    ["scope is given", { scope: "" }],
    ["launch comes with its scope", { launch: undefined }],
  ])("a launch that breaks it is noticed: %s", async (point, broken) => {
    const before = await launchFaults(practice);
    const params = { launch: await launchValue(practice), code_challenge: pkce().challenge, ...broken };
    await authorize(practice, authorizeParams(practice, params));
    const after = (await launchFaults(practice)).filter((fault) => !before.includes(fault));
    expect(after.map((fault) => fault.split(":")[0])).toContain(point);
  });

  it("a read without a token is noticed", async () => {
    await call(practice, undefined, "Patient/odalys-fennimore");
    expect((await launchFaults(practice)).join()).toContain("the access token is used as bearer");
  });
});
