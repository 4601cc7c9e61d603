/** `npm start`: the practice EHR and the app on this machine, nothing else needed. Loopback only. */
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync } from "node:fs";
import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import { join, resolve } from "node:path";
import { setTimeout as wait } from "node:timers/promises";
import { parseArgs } from "node:util";
import * as z from "zod/mini";
import type { Resource } from "./ehr/fhir/exchange.ts";
import { PracticeEhr } from "./ehr/practice-ehr.ts";
import { makeSigner } from "./ehr/smart/keys.ts";
import { pluginHost } from "./plugin-host.ts";

const ROOT = join(import.meta.dirname, "..");
const DIST = join(ROOT, "dist");
const DEFAULT_EHR_PORT = 8460;
const DEFAULT_PLUGIN_PORT = 8461;
const DEFAULT_POLICY = join(ROOT, "fixtures/site-policies/default.json");

export interface PracticeOptions {
  /** 0 for any free port. When left out: 8460, or a free one if that is taken. */
  ehrPort?: number | undefined;
  /** As above, 8461. */
  pluginPort?: number | undefined;
  /** Base of another FHIR R4 server; the practice sign-in stands in front of it. */
  fhir?: string | undefined;
  /** Site policy file that the app is given. */
  policyFile?: string | undefined;
  /** No line on standard output. */
  quiet?: boolean | undefined;
  /** Life of an access token, 1 to 3600 s; 300 unless given. */
  tokenSeconds?: number | undefined;
  /** Sign-in and FHIR answers leave this many milliseconds after the request came; 0 unless given. */
  latencyMs?: number | undefined;
  /** Also two clinics with 40 patients at different stages; a number: with at least so many visits to arrange. */
  clinics?: boolean | number | undefined;
  /** Leave the app as it was built (or not): for tests of the EHR alone. */
  skipBuild?: boolean | undefined;
  /** Folder of the built app, `dist` unless given. */
  pluginFolder?: string | undefined;
  /** Origin under which apps reach the EHR when something stands in front of it, such as a proxy. */
  seenAs?: string | undefined;
}
export interface Practice {
  /** Origin under which apps reach the EHR. */
  readonly ehrUrl: string;
  /** Where it listens itself; another address than `ehrUrl` only behind a proxy. */
  readonly listensAt: string;
  readonly fhirBase: string;
  readonly pluginUrl: string;
  /** What the store holds of a type; empty in front of another server. */
  readonly stored: (type: string) => Resource[];
  close(): Promise<void>;
}
/** A fault that the person who started this can mend: shown without a stack. */
export class StartProblem extends Error {}

/** Starts EHR and app. Resolves when both answer. Rejects with StartProblem for a taken port, a missing file or a failed build. */
export async function startPractice(options: PracticeOptions = {}): Promise<Practice> {
  if (process.env.NODE_ENV === "production")
    throw new StartProblem("The practice EHR is for practice only and does not start with NODE_ENV=production.");
  const policyFile = resolve(options.policyFile ?? DEFAULT_POLICY);
  const sitePolicy = readPolicy(policyFile, options.policyFile !== undefined);
  const [signer] = await Promise.all([makeSigner(), options.skipBuild ? undefined : buildIfOld()]);
  const ehr = await listen(options.ehrPort, DEFAULT_EHR_PORT);
  let plugin: Listening;
  try {
    plugin = await listen(options.pluginPort, DEFAULT_PLUGIN_PORT);
  } catch (error) {
    await stop(ehr.server);
    throw error;
  }
  const listensAt = `http://localhost:${ehr.port}`;
  const ehrUrl = options.seenAs ?? listensAt;
  const pluginUrl = `http://localhost:${plugin.port}`;
  const practice = new PracticeEhr({
    ehrUrl,
    pluginUrl,
    signer,
    fhir: options.fhir,
    tokenSeconds: options.tokenSeconds,
    latencyMs: options.latencyMs,
    clinics: options.clinics,
  });
  const hosting = { issuers: [practice.fhirBase], frameAncestors: [ehrUrl] };
  const config = {
    issuers: [
      {
        iss: practice.fhirBase,
        clientId: "fingerpost",
        clinicClientId: "fingerpost-clinic",
        coderClientId: "fingerpost-coder",
        label: "Practice EHR",
      },
    ],
    frameAncestors: hosting.frameAncestors,
    sitePolicy: "site-policy.json",
  };
  const host = pluginHost({ ...hosting, folder: options.pluginFolder ?? DIST, config, sitePolicy });
  ehr.server.on("request", (message, response) => void practice.serve(message, response));
  plugin.server.on("request", (message, response) => void host(message, response));
  try {
    await practice.adoptPractitioners();
  } catch (error) {
    await Promise.all([stop(ehr.server), stop(plugin.server)]);
    throw new StartProblem(
      `The FHIR server ${options.fhir} cannot be reached: ${error instanceof Error ? error.message : String(error)}`,
    );
  }
  if (!options.quiet)
    console.log(
      `Practice EHR${options.fhir ? ` in front of ${options.fhir}` : " with invented patients"} and the app are ready: open ${ehrUrl}/ (app on ${pluginUrl}, stop with Ctrl-C)`,
    );
  return {
    ehrUrl,
    listensAt,
    fhirBase: practice.fhirBase,
    pluginUrl,
    stored: (type) => practice.stored(type),
    close: async () => void (await Promise.all([stop(ehr.server), stop(plugin.server)])),
  };
}

interface Listening {
  server: Server;
  port: number;
}
async function listen(asked: number | undefined, usual: number): Promise<Listening> {
  const server = createServer({ keepAliveTimeout: 5000 });
  const attempt = (port: number) =>
    new Promise<number>((done, fail) => {
      server.once("error", fail);
      server.listen(port, "127.0.0.1", () => {
        server.off("error", fail);
        done((server.address() as AddressInfo).port);
      });
    });
  try {
    return { server, port: await attempt(asked ?? usual) };
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code !== "EADDRINUSE" && code !== "EACCES") throw error;
    if (asked !== undefined)
      throw new StartProblem(
        `Port ${asked} ${code === "EACCES" ? "needs more rights" : "is already in use"}. Give another one, or none to have a free one picked.`,
      );
    return { server, port: await attempt(0) };
  }
}
const stop = (server: Server) =>
  new Promise<void>((done) => {
    server.close(() => done());
    server.closeAllConnections();
  });

function readPolicy(file: string, chosen: boolean): string {
  if (!existsSync(file)) {
    if (chosen) throw new StartProblem(`The site policy file ${file} does not exist.`);
    return "{}";
  }
  const text = readFileSync(file, "utf8");
  try {
    JSON.parse(text);
  } catch (error) {
    throw new StartProblem(`The site policy file ${file} is not JSON: ${(error as Error).message}`);
  }
  return text;
}

const BUILT = ["index.html", "launch.html"].map((page) => join(DIST, page));
const BUILD_LOCK = join(ROOT, ".cache/building");
const BUILD_MINUTES_AT_MOST = 3;

/** Builds the app when `dist` is missing or older than its sources. Two starts at once build once. */
async function buildIfOld(): Promise<void> {
  if (isFresh()) return;
  mkdirSync(join(ROOT, ".cache"), { recursive: true });
  while (!takeLock()) await wait(200);
  try {
    if (!isFresh()) await runBuild();
  } finally {
    rmSync(BUILD_LOCK, { recursive: true, force: true });
  }
}
function isFresh(): boolean {
  const built = Math.min(...BUILT.map((page) => statSync(page, { throwIfNoEntry: false })?.mtimeMs ?? 0));
  return ["src", "vite.config.ts", "package.json"].every((path) => newestBelow(join(ROOT, path)) <= built);
}
/** Latest change of a file or folder, at any depth; a folder changes when something in it is removed. */
function newestBelow(path: string): number {
  const state = statSync(path, { throwIfNoEntry: false });
  if (!state?.isDirectory()) return state?.mtimeMs ?? 0;
  return Math.max(state.mtimeMs, ...readdirSync(path).map((name) => newestBelow(join(path, name))));
}
/** False while another start is building; a lock that an interrupted start left behind is taken over. */
function takeLock(): boolean {
  try {
    mkdirSync(BUILD_LOCK);
    return true;
  } catch {
    const since = statSync(BUILD_LOCK, { throwIfNoEntry: false })?.mtimeMs ?? Date.now();
    if (Date.now() - since > BUILD_MINUTES_AT_MOST * 60_000) rmSync(BUILD_LOCK, { recursive: true, force: true });
    return false;
  }
}
function runBuild(): Promise<void> {
  return new Promise((done, fail) => {
    const child = spawn("npm", ["run", "--silent", "build"], { cwd: ROOT, stdio: ["ignore", "pipe", "pipe"] });
    let said = "";
    for (const stream of [child.stdout, child.stderr])
      stream.on("data", (part: Buffer) => {
        said = (said + part.toString()).slice(-4000);
      });
    child.on("error", (error) => fail(new StartProblem(`The app could not be built: ${error.message}`)));
    child.on("close", (code) => (code === 0 ? done() : fail(new StartProblem(`The app could not be built:\n${said}`))));
  });
}

const HELP = `Usage: npm start -- [options]
  --port N          port of the practice EHR (default ${DEFAULT_EHR_PORT}, or a free one)
  --plugin-port N   port of the app (default ${DEFAULT_PLUGIN_PORT}, or a free one)
  --fhir URL        put the practice sign-in in front of this FHIR R4 server instead of the invented charts
  --policy FILE     site policy that the app is given
  --visits N        N visits to arrange in the invented clinics, or a few more (default: those of 40 patients)
  --help            this text`;

/** Charts and tokens cross this wire: encrypted, or not leaving this computer. */
function isServerBase(address: string): boolean {
  if (!URL.canParse(address)) return false;
  const { protocol, hostname, username, password } = new URL(address);
  const loopback = ["localhost", "127.0.0.1", "[::1]"].includes(hostname);
  return (
    (protocol === "https:" || (protocol === "http:" && loopback)) && !username && !password && !/[?#]/.test(address)
  );
}
const port = z.coerce.number().check(z.int(), z.gte(0), z.lte(65535));
const argumentsSchema = z.object({
  port: z.optional(port),
  "plugin-port": z.optional(port),
  fhir: z.optional(z.url().check(z.refine(isServerBase))),
  policy: z.optional(z.string().check(z.minLength(1))),
  visits: z.optional(z.coerce.number().check(z.int(), z.gte(0), z.lte(100_000))),
  help: z.optional(z.boolean()),
});
const ALLOWED: Record<string, string> = {
  port: "a whole number from 0 to 65535",
  "plugin-port": "a whole number from 0 to 65535",
  fhir: "an https address, or one of this computer such as http://localhost:8080/fhir, without name, query or fragment",
  policy: "a file name",
  visits: "a whole number from 0 to 100000",
};

/** @throws StartProblem naming the argument and what is allowed */
export function readArguments(args: readonly string[]): z.infer<typeof argumentsSchema> {
  let values: unknown;
  try {
    ({ values } = parseArgs({
      args: [...args],
      strict: true,
      allowPositionals: false,
      options: {
        port: { type: "string" },
        "plugin-port": { type: "string" },
        fhir: { type: "string" },
        policy: { type: "string" },
        visits: { type: "string" },
        help: { type: "boolean" },
      },
    }));
  } catch (error) {
    throw new StartProblem(`${(error as Error).message}\n${HELP}`);
  }
  const read = argumentsSchema.safeParse(values);
  if (read.success) return read.data;
  const name = String(read.error.issues[0]?.path[0]);
  throw new StartProblem(
    `--${name} ${String((values as Record<string, unknown>)[name])}: ${ALLOWED[name] ?? "not allowed"} is needed.\n${HELP}`,
  );
}

async function main(): Promise<void> {
  try {
    const args = readArguments(process.argv.slice(2));
    if (args.help) return console.log(HELP);
    const practice = await startPractice({
      ehrPort: args.port,
      pluginPort: args["plugin-port"],
      fhir: args.fhir,
      policyFile: args.policy,
      clinics: args.visits ?? true,
    });
    const end = () => void practice.close().then(() => process.exit(0));
    process.once("SIGINT", end);
    process.once("SIGTERM", end);
  } catch (error) {
    if (!(error instanceof StartProblem)) throw error;
    console.error(error.message);
    process.exitCode = 2;
  }
}
if (process.argv[1] && resolve(process.argv[1]) === join(import.meta.dirname, "start.ts")) await main();
