import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, relative } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { scriptsOfPage } from "../bench/weight.ts";
import {
  FOR_DEVELOPMENT,
  IN_PRODUCTION,
  INSTALL_SCRIPTS,
  NEVER_IN_THE_BUNDLE,
  type Reviewed,
} from "./reviewed-packages.ts";

interface Locked {
  readonly version?: string;
  readonly license?: string;
  readonly integrity?: string;
  readonly resolved?: string;
  readonly link?: boolean;
  readonly inBundle?: boolean;
  readonly hasInstallScript?: boolean;
  readonly dependencies?: Readonly<Record<string, string>>;
  readonly optionalDependencies?: Readonly<Record<string, string>>;
  readonly devDependencies?: Readonly<Record<string, string>>;
}
type Lock = Readonly<Record<string, Locked>>;
const LOCK: Lock = JSON.parse(readFileSync("package-lock.json", "utf8")).packages;
const MANIFEST: Locked & { overrides: Record<string, string> } = JSON.parse(readFileSync("package.json", "utf8"));
const NPMRC = readFileSync(".npmrc", "utf8").split("\n");

/** Where Node finds a package that is asked for from this place: the nearest node_modules on the way up. */
function placeOf(lock: Lock, from: string, name: string): string | undefined {
  for (let at = from; ; at = at.slice(0, Math.max(0, at.lastIndexOf("/node_modules/")))) {
    const place = `${at ? `${at}/` : ""}node_modules/${name}`;
    if (lock[place]) return place;
    if (at === "") return undefined;
  }
}
/** What an installation without development tools holds, as reviewed rows: place, version, licence. */
function production(lock: Lock): string[] {
  const found = new Set<string>();
  const follow = (place: string) => {
    if (found.has(place)) return;
    found.add(place);
    const { dependencies, optionalDependencies } = contents(lock, place);
    for (const name of Object.keys({ ...dependencies, ...optionalDependencies })) {
      const next = placeOf(lock, place, name);
      if (next) follow(next);
    }
  };
  for (const name of Object.keys(lock[""]?.dependencies ?? {})) follow(placeOf(lock, "", name) ?? name);
  return [...found].map((place) => row(lock, place)).sort();
}
const contents = (lock: Lock, place: string): Locked => {
  const locked = lock[place] ?? {};
  return (locked.link ? lock[locked.resolved ?? ""] : locked) ?? {};
};
const row = (lock: Lock, place: string) => {
  const { version = "-", license = "Apache-2.0" } = contents(lock, place);
  return `${place.replace(/^node_modules\//, "")} ${version} ${license}`;
};
const reviewed = (rows: readonly Reviewed[]) =>
  rows.map(([place, version, licence]) => `${place} ${version} ${licence}`).sort();
const development = (lock: Lock) =>
  Object.keys(lock[""]?.devDependencies ?? {})
    .map((name) => row(lock, `node_modules/${name}`))
    .sort();

/** Licences under which the plugin may be passed on with these packages in it. */
const MAY_BE_SHIPPED = ["MIT", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "ISC", "0BSD"];

describe("SEC-26 packages, checked without a network", () => {
  it("that reach an installation are exactly those that were reviewed, in the version and licence that was reviewed", () => {
    expect(production(LOCK)).toEqual(reviewed(IN_PRODUCTION));
    expect(development(LOCK)).toEqual(reviewed(FOR_DEVELOPMENT));
  });
  it("that are passed on have a licence that allows it, and each row says what it is for", () => {
    const others = IN_PRODUCTION.filter(([, , licence]) => !MAY_BE_SHIPPED.includes(licence));
    // Not one more than those for commands, and the build below holds none of them.
    expect(others.map(([place]) => place)).toEqual(NEVER_IN_THE_BUNDLE);
    expect([...IN_PRODUCTION, ...FOR_DEVELOPMENT].filter(([, , , what]) => what.length < 4)).toEqual([]);
  });
  it("are named in one exact version, and the lock file agrees with package.json", () => {
    const named = { ...MANIFEST.dependencies, ...MANIFEST.devDependencies };
    const loose = Object.entries(named).filter(([, version]) => !/^(?:\d+\.\d+\.\d+|file:src\/.*)$/.test(version));
    expect(loose).toEqual([]);
    expect({ ...LOCK[""]?.dependencies, ...LOCK[""]?.devDependencies }).toEqual(named);
  });
  it("carry the hash of their contents, so that another package under the same name is refused", () => {
    const bare = Object.entries(LOCK).filter(
      ([place, { integrity, link, inBundle }]) =>
        // Those inside another package's own archive are covered by its hash.
        place.includes("node_modules/") && !link && !inBundle && !/^sha512-[A-Za-z0-9+/]{86}==$/.test(integrity ?? ""),
    );
    expect(bare.map(([place]) => place)).toEqual([]);
  });
  it("come from the registry or from this repository, nowhere else", () => {
    const elsewhere = Object.values(LOCK).filter(
      ({ resolved }) => resolved && !/^https:\/\/registry\.npmjs\.org\/|^src\//.test(resolved),
    );
    expect(elsewhere).toEqual([]);
  });
  it("run no script when they are installed, and those that would like to are known", () => {
    expect(NPMRC).toContain("ignore-scripts=true");
    expect(NPMRC).toContain("save-exact=true");
    const scripted = Object.entries(LOCK).flatMap(([place, { hasInstallScript }]) =>
      hasInstallScript ? [place.replace(/^.*node_modules\//, "")] : [],
    );
    expect(scripted.sort()).toEqual(INSTALL_SCRIPTS);
  });
  it("would not pass unnoticed: a new one deep below, a raised one, another licence", () => {
    const zod = LOCK["node_modules/zod"]!;
    const planted = (changes: Lock) => production({ ...LOCK, ...changes });
    const sly = { "node_modules/sly": { version: "1.0.0", license: "MIT" } };
    expect(planted({ "node_modules/zod": { ...zod, dependencies: { sly: "1.0.0" } }, ...sly })).toContain(
      "sly 1.0.0 MIT",
    );
    for (const change of [{ version: "9.9.9" }, { license: "GPL-3.0" }])
      expect(planted({ "node_modules/zod": { ...zod, ...change } })).not.toEqual(reviewed(IN_PRODUCTION));
  });
});

const ROOT = join(import.meta.dirname, "../..");
/** Raw bytes of script that the plugin's page loads before anything is pressed. */
const FIRST_LOAD_BYTES = 450_000;
const CODE_FROM_TEXT =
  /\beval\s*\(|\bnew\s+Function\b|\bFunction\s*\(|\bset(?:Timeout|Interval)\s*\(\s*["'`]|\bimport\s*\(\s*["'`]data:|document\.write\b/;

describe("SEC-26 GATE-19 the built plugin", () => {
  let folder: string;
  /** As from a fresh clone: what the build reads, at another place, under another name. */
  function built(name: string): string {
    const clone = join(folder, name);
    mkdirSync(clone);
    for (const part of ["src", "vite.config.ts", "package.json", "package-lock.json", "tsconfig.json"])
      cpSync(join(ROOT, part), join(clone, part), { recursive: true });
    symlinkSync(join(ROOT, "node_modules"), join(clone, "node_modules"));
    // As `npm run build` does, without the test runner's own environment.
    for (const mode of ["production", "launch"])
      execFileSync(
        process.execPath,
        [join(ROOT, "node_modules/vite/bin/vite.js"), "build", "--mode", mode, "--logLevel", "error"],
        {
          cwd: clone,
          env: { PATH: process.env.PATH },
        },
      );
    return join(clone, "dist");
  }
  const files = (dist: string) =>
    readdirSync(dist, { recursive: true, encoding: "utf8" })
      .map((path) => join(dist, path))
      .filter((path) => statSync(path).isFile())
      .sort();
  const hashes = (dist: string) =>
    files(dist).map(
      (path) => `${relative(dist, path)} ${createHash("sha256").update(readFileSync(path)).digest("hex")}`,
    );
  let first: string;
  let second: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), "built-"));
    first = built("first");
    second = built("second-clone");
  }, 300_000);
  afterAll(() => rmSync(folder, { recursive: true }));

  it("is the same, byte for byte, from two clones", () => {
    expect(hashes(first).length).toBeGreaterThan(10);
    expect(hashes(second)).toEqual(hashes(first));
  });
  it("holds nothing of the packages that are for commands only", () => {
    // Words that stand in the data and the code of the holiday calendars, and nowhere in ours.
    const ofCalendars = /substitute day|moment\.tz/;
    const scripts = files(first).filter((path) => path.endsWith(".js"));
    expect(scripts.filter((path) => ofCalendars.test(readFileSync(path, "utf8")))).toEqual([]);
    expect(readFileSync(join(ROOT, "node_modules/date-holidays/dist/umd.min.js"), "utf8")).toMatch(ofCalendars);
  });
  it("makes no code from text", () => {
    const scripts = files(first).filter((path) => path.endsWith(".js"));
    expect(scripts.length).toBeGreaterThan(5);
    const found = scripts.flatMap((path) => CODE_FROM_TEXT.exec(readFileSync(path, "utf8"))?.[0] ?? []);
    expect(found).toEqual([]);
    for (const caught of ["eval(x)", "new Function(a)", 'setTimeout("x")', "Function('return this')()"])
      expect(caught).toMatch(CODE_FROM_TEXT);
  });
  it("loads no more than 450 kB of script, unpacked, before anything is pressed", () => {
    const bytes = [...scriptsOfPage(first, "index.html").now].reduce((sum, path) => sum + statSync(path).size, 0);
    console.log(
      `scripts of the first page, unpacked: ${(bytes / 1000).toFixed(1)} kB (at most ${FIRST_LOAD_BYTES / 1000})`,
    );
    expect(bytes).toBeGreaterThan(100_000);
    expect(bytes).toBeLessThanOrEqual(FIRST_LOAD_BYTES);
  });
});
