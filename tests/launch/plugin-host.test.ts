import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { get } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { brotliDecompressSync, gunzipSync } from "node:zlib";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { securityHeaders } from "../../launch/plugin-host.ts";
import type { Practice } from "../../launch/start.ts";
import { type Json, openPractice } from "./practice.ts";

let practice: Practice;
let folder: string;
const SCRIPT = `export const text = "${"finger ".repeat(500)}";`;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "plugin-"));
  mkdirSync(join(folder, "assets"));
  writeFileSync(join(folder, "index.html"), "<!doctype html><title>App</title>");
  writeFileSync(join(folder, "launch.html"), "<!doctype html><title>Launch</title>");
  writeFileSync(join(folder, "assets/main-B4k9Zq1x.js"), SCRIPT);
  practice = await openPractice({ pluginFolder: folder });
});
afterAll(async () => {
  await practice.close();
  rmSync(folder, { recursive: true });
});
/** The bytes as sent: fetch would unpack them. */
const raw = (path: string, encoding: string) =>
  new Promise<{ headers: Json; body: Buffer }>((done) => {
    get(`${practice.pluginUrl}${path}`, { headers: { "accept-encoding": encoding } }, (response) => {
      const parts: Buffer[] = [];
      response.on("data", (part) => parts.push(part));
      response.on("end", () => done({ headers: response.headers, body: Buffer.concat(parts) }));
    });
  });

describe("security headers (CSP level 3, Trusted Types)", () => {
  it("are these, on files, settings and errors alike", async () => {
    const wanted = securityHeaders({ issuers: [practice.fhirBase], frameAncestors: [practice.ehrUrl] });
    expect(wanted["Content-Security-Policy"]).toBe(
      `default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self' ${practice.ehrUrl}; base-uri 'none'; object-src 'none'; form-action 'none'; require-trusted-types-for 'script'; trusted-types 'none'; frame-ancestors ${practice.ehrUrl}`,
    );
    for (const path of [
      "/",
      "/launch.html",
      "/config.json",
      "/site-policy.json",
      "/assets/main-B4k9Zq1x.js",
      "/nothing",
    ]) {
      const { headers } = await fetch(`${practice.pluginUrl}${path}`);
      for (const [name, value] of Object.entries(wanted)) expect(headers.get(name), `${path} ${name}`).toBe(value);
    }
  });
  it("without an EHR that may frame it, nobody may", () => {
    expect(securityHeaders({ issuers: [], frameAncestors: [] })["Content-Security-Policy"]).toContain(
      "frame-ancestors 'none'",
    );
  });
});

describe("files", () => {
  it("hashed ones may be kept for a year, pages and settings are asked for each time", async () => {
    const cache = async (path: string) => (await fetch(`${practice.pluginUrl}${path}`)).headers.get("cache-control");
    expect(await cache("/assets/main-B4k9Zq1x.js")).toBe("public, max-age=31536000, immutable");
    for (const path of ["/", "/index.html", "/launch.html", "/config.json"])
      expect(await cache(path), path).toBe("no-cache");
  });
  it("come as brotli, as gzip, or plain, as accepted", async () => {
    const brotli = await raw("/assets/main-B4k9Zq1x.js", "gzip, br");
    expect(brotli.headers["content-encoding"]).toBe("br");
    expect(brotliDecompressSync(brotli.body).toString()).toBe(SCRIPT);
    const zipped = await raw("/assets/main-B4k9Zq1x.js", "gzip");
    expect(gunzipSync(zipped.body).toString()).toBe(SCRIPT);
    expect((await raw("/assets/main-B4k9Zq1x.js", "identity")).body.toString()).toBe(SCRIPT);
  });
  it("a path out of the folder leads nowhere, and nothing can be posted", async () => {
    for (const path of ["/../package.json", "/%2e%2e/package.json", "/assets"])
      expect((await fetch(`${practice.pluginUrl}${path}`)).status).toBe(404);
    expect((await fetch(`${practice.pluginUrl}/`, { method: "POST" })).status).toBe(405);
  });
  it("config.json names this EHR and where the site policy is", async () => {
    expect(await (await fetch(`${practice.pluginUrl}/config.json`)).json()).toEqual({
      issuers: [
        {
          iss: practice.fhirBase,
          clientId: "fingerpost",
          clinicClientId: "fingerpost-clinic",
          coderClientId: "fingerpost-coder",
          label: "Practice EHR",
        },
      ],
      frameAncestors: [practice.ehrUrl],
      sitePolicy: "site-policy.json",
    });
  });
});
