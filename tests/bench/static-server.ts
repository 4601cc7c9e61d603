import { existsSync, readFileSync, statSync } from "node:fs";
import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { extname, join, normalize } from "node:path";
import { brotliCompressSync } from "node:zlib";

const TYPES: Readonly<Record<string, string>> = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript",
  ".css": "text/css",
  ".json": "application/json",
  ".svg": "image/svg+xml",
};

export interface StaticServer {
  readonly url: string;
  close(): Promise<void>;
}

/** Serves one folder, compressed once and never cached by the browser: the same for each page that is compared. */
export async function serveFolder(
  folder: string,
  extra: Readonly<Record<string, string>> = {},
  headers: Readonly<Record<string, string>> = {},
): Promise<StaticServer> {
  const compressed = new Map<string, Buffer>();
  const server = createServer((request, response) => {
    const path = normalize(decodeURIComponent(new URL(request.url ?? "/", "http://localhost").pathname));
    const file = join(folder, path === "/" ? "index.html" : path);
    const body = extra[path] ?? (existsSync(file) && statSync(file).isFile() ? readFileSync(file) : undefined);
    if (body === undefined) {
      response.writeHead(404).end();
      return;
    }
    if (!compressed.has(path)) compressed.set(path, brotliCompressSync(body));
    response.writeHead(200, {
      ...headers,
      "content-type": TYPES[extname(path === "/" ? "index.html" : path)] ?? "application/octet-stream",
      "content-encoding": "br",
      "cache-control": "no-store",
    });
    response.end(compressed.get(path));
  });
  await new Promise<void>((listening) => server.listen(0, "127.0.0.1", listening));
  return {
    url: `http://localhost:${(server.address() as AddressInfo).port}`,
    close: () =>
      new Promise((closed) => {
        server.close(() => closed());
        server.closeAllConnections();
      }),
  };
}
