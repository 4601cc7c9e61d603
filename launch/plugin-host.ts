/** Serves the built app as a clinic would: static files, the exact security headers, two JSON files of settings. */
import { existsSync, readdirSync, readFileSync, statSync } from "node:fs";
import type { IncomingMessage, ServerResponse } from "node:http";
import { extname, join, relative, sep } from "node:path";
import { promisify } from "node:util";
import { brotliCompress, constants, gzip } from "node:zlib";

export interface HostingFor {
  /** FHIR bases that the app may talk to; its sign-in server is taken to be on the same origin unless listed in `otherOrigins`. */
  readonly issuers: readonly string[];
  /** Origins of EHR pages that may show the app in a frame. */
  readonly frameAncestors: readonly string[];
  /** Origins of sign-in servers that are not on the FHIR server's own origin. */
  readonly otherOrigins?: readonly string[];
}

/** The response headers that every file of the app must carry, wherever it is hosted. */
export function securityHeaders({ issuers, frameAncestors, otherOrigins = [] }: HostingFor): Record<string, string> {
  const servers = [...new Set([...issuers.map((issuer) => new URL(issuer).origin), ...otherOrigins])].join(" ");
  return {
    "Content-Security-Policy": [
      "default-src 'none'",
      "script-src 'self'",
      "style-src 'self'",
      "img-src 'self' data:",
      "font-src 'self'",
      `connect-src 'self' ${servers}`,
      "base-uri 'none'",
      "object-src 'none'",
      "form-action 'none'",
      "require-trusted-types-for 'script'",
      "trusted-types 'none'",
      `frame-ancestors ${frameAncestors.length > 0 ? frameAncestors.join(" ") : "'none'"}`,
    ].join("; "),
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Permissions-Policy": "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    // cross-origin embedding by the EHR's frame is wanted; who may embed is decided by frame-ancestors
    "Cross-Origin-Resource-Policy": "cross-origin",
    "Strict-Transport-Security": "max-age=31536000", // ignored by browsers on plain http, so harmless on localhost
  };
}

export interface PluginHostOptions extends HostingFor {
  /** Folder of built files. */
  folder: string;
  /** Contents of /config.json. */
  config: unknown;
  /** Contents of /site-policy.json, as text, so that the app sees exactly what the site wrote. */
  sitePolicy: string;
}

const TYPES: Record<string, string> = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".json": "application/json; charset=utf-8",
  ".svg": "image/svg+xml",
  ".png": "image/png",
  ".ico": "image/x-icon",
  ".woff2": "font/woff2",
  ".webmanifest": "application/manifest+json",
  ".txt": "text/plain; charset=utf-8",
};
const COMPRESSIBLE = new Set([".html", ".js", ".css", ".json", ".svg", ".webmanifest", ".txt"]);
const HASHED = /[-.][A-Za-z0-9_-]{8,}\.(js|css|woff2|png|svg)$/;
const asBrotli = promisify(brotliCompress);
const asGzip = promisify(gzip);

interface Served {
  readonly body: Buffer;
  readonly type: string;
  readonly compress: boolean;
  readonly cache: string;
  br?: Buffer;
  gz?: Buffer;
}

/** A request handler; files are read once. */
export function pluginHost({
  folder,
  config,
  sitePolicy,
  ...hosting
}: PluginHostOptions): (message: IncomingMessage, response: ServerResponse) => Promise<void> {
  const files = new Map<string, Served>();
  for (const path of existsSync(folder) ? filesBelow(folder) : []) {
    const name = `/${relative(folder, path).split(sep).join("/")}`;
    const type = TYPES[extname(path)] ?? "application/octet-stream";
    const cache = HASHED.test(name) && name.startsWith("/assets/") ? "public, max-age=31536000, immutable" : "no-cache";
    files.set(name, { body: readFileSync(path), type, compress: COMPRESSIBLE.has(extname(path)), cache });
  }
  const asJson = (text: string): Served => ({
    body: Buffer.from(text),
    type: "application/json; charset=utf-8",
    compress: true,
    cache: "no-cache",
  });
  files.set("/config.json", asJson(JSON.stringify(config, null, 2)));
  files.set("/site-policy.json", asJson(sitePolicy));
  const index = files.get("/index.html");
  if (index) files.set("/", index);
  const headers = securityHeaders(hosting);

  return async (message, response) => {
    const { pathname } = new URL(message.url ?? "/", "http://localhost");
    if (message.method !== "GET" && message.method !== "HEAD")
      return void response.writeHead(405, { ...headers, allow: "GET, HEAD" }).end();
    const file = files.get(pathname);
    if (!file)
      return void response
        .writeHead(404, { ...headers, "content-type": "text/plain; charset=utf-8", "cache-control": "no-store" })
        .end("There is no such file.");
    const accepts = String(message.headers["accept-encoding"] ?? "");
    let body = file.body;
    let encoding: string | undefined;
    if (file.compress && /\bbr\b/.test(accepts)) {
      file.br ??= await asBrotli(body, { params: { [constants.BROTLI_PARAM_QUALITY]: 11 } });
      [body, encoding] = [file.br, "br"];
    } else if (file.compress && /\bgzip\b/.test(accepts)) {
      file.gz ??= await asGzip(body, { level: 9 });
      [body, encoding] = [file.gz, "gzip"];
    }
    response.writeHead(200, {
      ...headers,
      "content-type": file.type,
      "cache-control": file.cache,
      "content-length": body.length,
      ...(file.compress ? { vary: "accept-encoding" } : {}),
      ...(encoding ? { "content-encoding": encoding } : {}),
    });
    response.end(message.method === "HEAD" ? undefined : body);
  };
}

function filesBelow(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? filesBelow(path) : [path];
  });
}
