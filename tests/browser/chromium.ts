import { spawnSync } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import { delimiter, join } from "node:path";
import { type Browser, chromium } from "playwright-core";

const NAMES = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"];

/**
 * Path of a Chromium that starts. Looks at the environment variable CHROMIUM, then along PATH; as root on Debian or
 * Ubuntu it installs the package when there is none.
 *
 * @throws Error with one line that says what to do.
 */
export function findChromium(): string {
  const named = process.env.CHROMIUM;
  if (named) {
    if (starts(named)) return named;
    throw new Error(`CHROMIUM=${named} does not start: set it to a Chromium program, or unset it to search PATH.`);
  }
  const found = onPath();
  if (found) return found;
  if (mayInstall()) {
    install();
    const installed = onPath();
    if (installed) return installed;
  }
  throw new Error('No Chromium found: run "sudo apt-get install -y chromium", or set CHROMIUM=/path/to/chromium.');
}

/** Starts it headless, without what would talk to the network or ask a first question. */
export const startChromium = (): Promise<Browser> =>
  chromium.launch({
    executablePath: findChromium(),
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
    ],
  });

function onPath(): string | undefined {
  const folders = new Set([...(process.env.PATH ?? "").split(delimiter), "/usr/bin"]);
  return NAMES.flatMap((name) => [...folders].map((folder) => join(folder, name))).find(
    (path) => existsSync(path) && starts(path),
  );
}

/** Some systems put a stub there that only tells how to install: so the program must really answer. */
function starts(path: string): boolean {
  const { status, stdout } = spawnSync(path, ["--version", "--no-sandbox"], { encoding: "utf8", timeout: 30_000 });
  return status === 0 && /\d+\.\d+/.test(stdout);
}

function mayInstall(): boolean {
  if (process.getuid?.() !== 0 || !existsSync("/etc/os-release")) return false;
  return /^ID(_LIKE)?=.*\b(debian|ubuntu)\b/m.test(readFileSync("/etc/os-release", "utf8"));
}

function install(): void {
  console.error("No Chromium here: installing the distribution's package (apt-get install chromium)");
  const env = { ...process.env, DEBIAN_FRONTEND: "noninteractive" };
  for (const words of [
    ["update", "-q"],
    ["install", "-y", "-q", "--no-install-recommends", "chromium"],
  ])
    if (spawnSync("apt-get", words, { env, stdio: ["ignore", 2, 2] }).status !== 0) return;
}
