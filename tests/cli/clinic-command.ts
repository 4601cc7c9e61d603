/** The real commands that ask a clinic's server, run as a clinic's own computer would run them. */
import { spawn } from "node:child_process";
import { vi } from "vitest";
import type { ClinicSession } from "../../src/smart/session.ts";

export interface Ended {
  readonly exit: number | null;
  readonly out: string;
  /** Lines on standard error. */
  readonly said: string[];
}
/** Runs src/cli/NAME.ts; the server it asks may be in this process, so this must not stand still. */
export function clinicCommand(name: string, words: readonly string[], token: string | undefined): Promise<Ended> {
  return new Promise((done) => {
    const { FINGERPOST_TOKEN: _mine, ...rest } = process.env;
    const child = spawn("node_modules/.bin/tsx", [`src/cli/${name}.ts`, ...words], {
      env: { ...rest, ...(token === undefined ? {} : { FINGERPOST_TOKEN: token }) },
    });
    let [out, err] = ["", ""];
    child.stdout.on("data", (piece) => {
      out += piece;
    });
    child.stderr.on("data", (piece) => {
      err += piece;
    });
    child.on("close", (exit) => done({ exit, out, said: err.split("\n").filter(Boolean) }));
  });
}

/** The token of the signed-in clinic, as its requests carry it. */
export async function tokenOf({ fhir }: ClinicSession): Promise<string> {
  let token = "";
  const real = globalThis.fetch;
  vi.stubGlobal("fetch", (address: string | URL, init?: RequestInit) => {
    token = new Headers(init?.headers).get("authorization")?.replace("Bearer ", "") ?? token;
    return real(address, init);
  });
  await fhir.read("metadata");
  vi.stubGlobal("fetch", real);
  return token;
}
