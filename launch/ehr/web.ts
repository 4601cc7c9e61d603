/** Plain requests and answers between node:http and the rooms of the practice EHR. */
import type { IncomingMessage } from "node:http";

export interface WebRequest {
  readonly method: string;
  readonly url: URL;
  readonly headers: Readonly<Record<string, string | undefined>>;
  readonly body: Buffer;
}
export interface WebAnswer {
  status: number;
  headers: Record<string, string>;
  body?: string | Buffer;
}

const LARGEST_BODY = 20 * 1024 * 1024;

/** Reads the whole body. Rejects with "too-large" above 20 MB. */
export function readBody(message: IncomingMessage): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const parts: Buffer[] = [];
    let size = 0;
    message.on("data", (part: Buffer) => {
      size += part.length;
      if (size > LARGEST_BODY) {
        reject(new Error("too-large"));
        message.destroy();
      } else parts.push(part);
    });
    message.on("end", () => resolve(Buffer.concat(parts)));
    message.on("error", reject);
  });
}

export const flatHeaders = (headers: IncomingMessage["headers"]): Record<string, string | undefined> =>
  Object.fromEntries(
    Object.entries(headers).map(([name, value]) => [name, Array.isArray(value) ? value.join(", ") : value]),
  );

export const json = (status: number, value: unknown, headers: Record<string, string> = {}): WebAnswer => ({
  status,
  headers: { "content-type": "application/json", "cache-control": "no-store", ...headers },
  body: JSON.stringify(value),
});
export const redirect = (location: string): WebAnswer => ({
  status: 303,
  headers: { location, "cache-control": "no-store", "referrer-policy": "no-referrer" },
});
/** Form fields of a body; undefined when the content type is another one. */
export function formOf({ headers, body }: WebRequest): URLSearchParams | undefined {
  return (headers["content-type"] ?? "").startsWith("application/x-www-form-urlencoded")
    ? new URLSearchParams(body.toString("utf8"))
    : undefined;
}
