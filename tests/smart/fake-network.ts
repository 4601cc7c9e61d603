/** The network replaced: what goes out is kept, and answered in turn. */
import { afterEach, beforeEach, vi } from "vitest";

export interface Sent {
  readonly url: string;
  readonly init: RequestInit & { headers: Record<string, string> };
}
type Answer = () => Response | Promise<Response>;

/** A FHIR answer. */
export const json = (body: unknown, status = 200, headers: Record<string, string> = {}): Response =>
  new Response(typeof body === "string" ? body : JSON.stringify(body), {
    status,
    headers: { "content-type": "application/fhir+json", ...headers },
  });

/** Stands in for `fetch` during each test of the file that calls it. */
export function fakeNetwork() {
  const sent: Sent[] = [];
  let answers: Answer[] = [];
  beforeEach(() => {
    sent.length = 0;
    answers = [() => json({ resourceType: "Patient", id: "p1" })];
    vi.stubGlobal("fetch", async (url: URL | string, init: Sent["init"]) => {
      sent.push({ url: String(url), init });
      return (answers.length > 1 ? answers.shift()! : answers[0]!)();
    });
  });
  afterEach(() => {
    vi.unstubAllGlobals();
    vi.restoreAllMocks();
  });
  return {
    sent,
    /** Answers in turn; the last one for ever. */
    answering: (...all: Answer[]) => {
      answers = all;
    },
  };
}
