/** Bytes of script that each page of the built plugin loads: what is reachable without waiting, and what comes later. */
import { existsSync, readFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import { brotliCompressSync, constants } from "node:zlib";
import type { Measured } from "./report.ts";

const KILOBYTE = 1000;
const STATIC = /(?:^|[;}\s])(?:import|export)\b(?:[\w*{}\s,$]*\bfrom)?\s*["'](\.{1,2}\/[^"']+)["']/g;
const LATER = /\bimport\(\s*["'`](\.{1,2}\/[^"'`]+)["'`]\s*\)/g;
const IN_PAGE = /<(?:script|link)\b[^>]*\b(?:src|href)="([^"]+\.js)"/g;

interface Scripts {
  readonly now: ReadonlySet<string>;
  readonly later: ReadonlySet<string>;
}

/** Everything that static imports pull in from these files, and the files that they import on demand. */
function scriptsFrom(files: readonly string[]): Scripts {
  const now = new Set<string>();
  const later = new Set<string>();
  const follow = (file: string) => {
    if (now.has(file)) return;
    now.add(file);
    const text = readFileSync(file, "utf8");
    for (const [, path] of text.matchAll(STATIC)) follow(join(dirname(file), path!));
    for (const [, path] of text.matchAll(LATER)) later.add(join(dirname(file), path!));
  };
  for (const file of files) follow(file);
  return { now, later };
}

export function scriptsOfPage(dist: string, page: string): Scripts {
  const html = readFileSync(join(dist, page), "utf8");
  const files = [...html.matchAll(IN_PAGE)].map(([, path]) => join(dist, path!.replace(/^\.?\//, "")));
  if (files.length === 0) throw new Error(`${page} names no script`);
  return scriptsFrom(files);
}

const brotli = (file: string) =>
  brotliCompressSync(readFileSync(file), { params: { [constants.BROTLI_PARAM_QUALITY]: constants.BROTLI_MAX_QUALITY } })
    .length / KILOBYTE;
/** Each file is sent by itself, so each is compressed by itself. */
export const weightOf = (files: Iterable<string>) => [...files].reduce((sum, file) => sum + brotli(file), 0);

/** The whole first load of a built page, in kB. */
export const weightOfPage = (dist: string, page: string) => weightOf(scriptsOfPage(dist, page).now);

/** @throws Error when the plugin is not built. */
export function measureWeight(dist: string): Measured[] {
  if (!existsSync(join(dist, "index.html"))) throw new Error(`${dist} holds no built plugin: run "npm run build"`);
  const launch = scriptsOfPage(dist, "launch.html");
  const first = scriptsOfPage(dist, "index.html");
  const later = [...first.later].filter((file) => !first.now.has(file)).sort();
  return [
    { name: "scripts of the launch page, brotli", value: weightOf(launch.now), unit: "kB", target: { atMost: 15 } },
    { name: "scripts of the first page, brotli", value: weightOf(first.now), unit: "kB", target: { atMost: 95 } },
    ...later.map((file): Measured => {
      const added = [...scriptsFrom([file]).now].filter((f) => !first.now.has(f));
      return { name: `loaded later: ${relative(dist, file)}`, value: weightOf(added), unit: "kB" };
    }),
  ];
}
