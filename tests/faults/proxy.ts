/** A proxy on this machine that stands before the practice EHR and lets a test bend any single exchange. */
import { Agent, request as ask, createServer, type IncomingHttpHeaders, type IncomingMessage } from "node:http";
import type { AddressInfo, Socket } from "node:net";

/** One request of the app, as it reached the proxy. */
export interface Exchange {
  readonly n: number;
  readonly method: string;
  /** Path and query. */
  readonly path: string;
  readonly headers: IncomingHttpHeaders;
  readonly body: string;
  /** What kind of request this is, without ids and values: "GET Condition?identifier", "POST transaction". */
  readonly step: string;
}
export interface Answer {
  readonly status: number;
  readonly headers: Readonly<Record<string, string | readonly string[] | undefined>>;
  readonly body: string | Buffer;
}
/** `cut`: the connection is closed without an answer. `hang`: no answer ever comes. */
export type Outcome = Answer | "cut" | "hang";

/** What is done to one exchange; what is left out goes its ordinary way. */
export interface Bend {
  /** The request as it goes on to the record system. */
  readonly request?: (body: string, exchange: Exchange) => string;
  /** In place of asking the record system. */
  readonly before?: (exchange: Exchange) => Outcome | undefined;
  /** After the record system has done its work. */
  readonly after?: (answer: Answer, exchange: Exchange) => Outcome | Promise<Outcome>;
}

export interface FaultProxy {
  readonly url: string;
  /** Says how an exchange is bent; undefined leaves it alone. */
  bend: (exchange: Exchange) => Bend | undefined;
  /** Told of every request that will hang, so that a test may end the waiting at once. */
  onHang: (exchange: Exchange) => void;
  /** Told of each exchange once it is over. */
  onDone: (exchange: Exchange) => void;
  /** Bytes per second and milliseconds before each answer of everything that passes; no limit unless set. */
  pace: { readonly latencyMs: number; readonly bytesPerSecond: number } | undefined;
  /** Where it passes requests on to, e.g. http://localhost:8460 */
  target: string;
  close(): Promise<void>;
}

/** Opens it on any free port; set `target` before the first request. */
export async function openProxy(): Promise<FaultProxy> {
  const agent = new Agent({ keepAlive: true, maxSockets: 64 });
  const server = createServer({ keepAliveTimeout: 30_000 });
  const sockets = new Set<Socket>();
  server.on("connection", (socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
  });
  await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
  let n = 0;

  const proxy: FaultProxy = {
    url: `http://localhost:${(server.address() as AddressInfo).port}`,
    bend: () => undefined,
    onHang: () => {},
    onDone: () => {},
    pace: undefined,
    target: "",
    close: () =>
      new Promise((done) => {
        agent.destroy();
        for (const socket of sockets) socket.destroy();
        server.close(() => done());
      }),
  };

  server.on("request", (message, response) => {
    void (async () => {
      const body = (await bytesOf(message)).toString("utf8");
      const [method, path] = [message.method ?? "GET", message.url ?? "/"];
      const step = stepOf(method, path, body);
      const exchange: Exchange = { n: ++n, method, path, headers: message.headers, body, step };
      const bend = proxy.bend(exchange);
      let outcome: Outcome | undefined = bend?.before?.(exchange);
      if (outcome === undefined) {
        const answer = await passOn(agent, proxy.target, exchange, bend?.request?.(body, exchange) ?? body);
        outcome = (await bend?.after?.(answer, exchange)) ?? answer;
      }
      if (outcome === "hang") return proxy.onHang(exchange);
      if (outcome === "cut") message.socket.destroy();
      else {
        if (proxy.pace) await slowly(proxy.pace, outcome.body.length);
        const { "content-length": _, ...headers } = outcome.headers;
        response.writeHead(outcome.status, {
          ...(bend ? readableBy(exchange, headers) : {}),
          ...headers,
          "content-length": Buffer.byteLength(outcome.body),
        } as never);
        response.end(outcome.body);
      }
      proxy.onDone(exchange);
    })().catch(() => message.socket.destroy());
  });
  return proxy;
}

/** What a record system itself refuses it lets the page read; what a gateway or a portal answers in its place it cannot. */
const readableBy = ({ headers: { origin } }: Exchange, headers: Answer["headers"]): Answer["headers"] =>
  origin && /fhir\+json/.test(String(headers["content-type"]))
    ? { "access-control-allow-origin": origin, "access-control-expose-headers": "Retry-After, WWW-Authenticate, ETag" }
    : {};

async function bytesOf(message: IncomingMessage): Promise<Buffer> {
  const parts: Buffer[] = [];
  for await (const part of message) parts.push(part as Buffer);
  return Buffer.concat(parts);
}

function passOn(agent: Agent, target: string, { method, path, headers }: Exchange, body: string): Promise<Answer> {
  return new Promise((done, fail) => {
    const { "accept-encoding": _encoding, "content-length": _length, connection: _connection, ...kept } = headers;
    const sent = ask(`${target}${path}`, {
      method,
      agent,
      headers: { ...kept, "content-length": Buffer.byteLength(body) },
    });
    sent.on("error", fail);
    sent.on("response", (message) => {
      bytesOf(message).then((bytes) => {
        const { connection: _, "keep-alive": _alive, "transfer-encoding": _coding, ...passed } = message.headers;
        done({ status: message.statusCode ?? 502, headers: passed, body: bytes });
      }, fail);
    });
    sent.end(body);
  });
}

const slowly = ({ latencyMs, bytesPerSecond }: { latencyMs: number; bytesPerSecond: number }, bytes: number) =>
  new Promise<void>((done) => setTimeout(done, latencyMs + (bytes / bytesPerSecond) * 1000));

/** The kind of a request, the same for every patient and plan. */
export function stepOf(method: string, path: string, body = ""): string {
  const { pathname, searchParams } = new URL(path, "http://localhost");
  if (pathname.startsWith("/auth/token")) return `POST token ${new URLSearchParams(body).get("grant_type")}`;
  const fhir = /^\/fhir(?:\/(.*))?$/.exec(pathname);
  if (!fhir) return `${method} ${pathname}`;
  const [type = "", id] = (fhir[1] ?? "").split("/");
  if (type === "") return method === "POST" ? "POST transaction" : `${method} base`;
  if (type.startsWith(".") || type === "metadata") return `${method} ${fhir[1]}`;
  if (id !== undefined) return `${method} ${type}/id`;
  const by = [...searchParams.keys()].filter((name) => name !== "patient" && !name.startsWith("_count"));
  return `${method} ${type}${by.length || method === "GET" ? `?${by.join("&")}` : ""}`;
}
