import { describe, expect, it } from "vitest";
import { issuerFor, readConfig } from "../../src/smart/config.ts";
import { addressUnder, fhirBase } from "../../src/smart/fhir-address.ts";

const GOOD = { issuers: [{ iss: "https://ehr.example/fhir/", clientId: "fingerpost", label: "Ward record" }] };

const complaint = (json: unknown) => {
  const answer = readConfig(json);
  return answer.ok ? "accepted" : answer.problem.what;
};

describe("the clinic's settings", () => {
  it("are accepted in their smallest form, with nobody allowed to frame the page", () => {
    const answer = readConfig(GOOD);
    expect(answer).toMatchObject({ ok: true, config: { frameAncestors: [] } });
  });

  it.each([
    ["no list", {}, "config.json.issuers: must be a list"],
    ["an empty list", { issuers: [] }, "config.json.issuers: must name at least one record system"],
    ["a misspelt entry", { ...GOOD, issuer: [] }, 'config.json: has the unknown entry "issuer"'],
    [
      "plain http to another computer",
      { issuers: [{ ...GOOD.issuers[0], iss: "http://ehr.example/fhir" }] },
      "config.json.issuers[0].iss: must be a full https address",
    ],
    [
      "no client id",
      { issuers: [{ ...GOOD.issuers[0], clientId: " " }] },
      "config.json.issuers[0].clientId: must not be empty",
    ],
    [
      "a policy on another host",
      { ...GOOD, sitePolicy: "//evil.example/p.json" },
      "config.json.sitePolicy: must be a relative address",
    ],
    [
      "a policy by scheme",
      { ...GOOD, sitePolicy: "https://evil.example/p.json" },
      "config.json.sitePolicy: must be a relative address",
    ],
    [
      "a frame by page",
      { ...GOOD, frameAncestors: ["https://ehr.example/page"] },
      "config.json.frameAncestors[0]: must be an origin",
    ],
    [
      "one base twice",
      { issuers: [GOOD.issuers[0], { ...GOOD.issuers[0], iss: "https://EHR.example/fhir" }] },
      "https://ehr.example/fhir stands twice",
    ],
  ])("with %s are refused, and the message says where and what is allowed", (_name, json, words) => {
    expect(complaint(json)).toContain(words);
  });

  it("SEC-13 plain http is accepted for this computer only", () => {
    expect(fhirBase("http://localhost:8080/fhir")).toBe("http://localhost:8080/fhir");
    expect(fhirBase("http://127.0.0.1:8080/fhir/")).toBe("http://127.0.0.1:8080/fhir");
    for (const open of [
      "http://ehr.example/fhir",
      "http://localhost.evil.example/fhir",
      "ws://localhost/fhir",
      "ftp://localhost",
    ]) {
      expect(fhirBase(open)).toBeUndefined();
    }
  });

  it("SEC-01 find a record system by its exact address only", () => {
    const answer = readConfig(GOOD);
    if (!answer.ok) throw new Error(answer.problem.what);
    for (const same of ["https://ehr.example/fhir", "https://EHR.example:443/fhir/", "https://ehr.example/x/../fhir"]) {
      expect(issuerFor(answer.config, same)?.label).toBe("Ward record");
    }
    for (const other of [
      "https://ehr.example/fhir2",
      "https://ehr.example/",
      "https://ehr.example/fhir/r4",
      "https://ehr.example/FHIR",
      "https://ehr.example/fhir?x=1",
      "https://ehr.example/fhir#x",
      "https://ehr.example./fhir",
      "https://ok@ehr.example/fhir",
      "https://ehr.example:8443/fhir",
      "https://ehr.example%2ffhir",
      "http://ehr.example/fhir",
      "https://ehr.example\\fhir",
    ]) {
      expect(issuerFor(answer.config, other), other).toBeUndefined();
    }
  });
});

describe("SEC-10 addresses that may get the token", () => {
  const base = "https://ehr.example/tenant/fhir";
  it.each([
    ["Patient/1", `${base}/Patient/1`],
    [`${base}/Patient?x=1`, `${base}/Patient?x=1`],
    [`${base}?_getpages=7`, `${base}?_getpages=7`],
    ["/tenant/fhir/Patient?page=2", `${base}/Patient?page=2`],
    ["http://ehr.example/tenant/fhir/Patient?page=2", `${base}/Patient?page=2`],
  ])("%s is under the base", (reference, address) => {
    expect(addressUnder(base, reference)?.href).toBe(address);
  });
  it.each([
    "https://evil.example/tenant/fhir/Patient/1",
    "https://ehr.example.evil.example/tenant/fhir/Patient/1",
    "https://ehr.example@evil.example/tenant/fhir/x",
    "https://user@ehr.example/tenant/fhir/x",
    "//evil.example/tenant/fhir/x",
    "https://ehr.example:8443/tenant/fhir/x",
    "https://ehr.example/tenant/fhirX/Patient",
    "https://ehr.example/other/Patient",
    "../../admin",
    "%2e%2e/%2e%2e/admin",
    "..%2f..%2fadmin",
    "javascript:alert(1)",
    "data:application/json,{}",
    "http://ehr.example:8080/tenant/fhir/x",
  ])("%s is not", (reference) => {
    expect(addressUnder(base, reference)).toBeUndefined();
  });
});
