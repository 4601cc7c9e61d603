/** The practice EHR's own store behind the clinic's screens, in one process: what they ask is searched for, what they write is stored. */
import type { FhirResource as Fhir } from "fhir/r4";
import { vi } from "vitest";
import { seedClinics } from "../../launch/ehr/clinics/seed-clinics.ts";
import { type StoreBehaviour, WELL_BEHAVED } from "../../launch/ehr/fhir/behaviour.ts";
import type { FhirRequest, FhirResponse } from "../../launch/ehr/fhir/exchange.ts";
import { PracticeServer } from "../../launch/ehr/fhir/server.ts";
import { Store } from "../../launch/ehr/fhir/store.ts";
import { ServerClock } from "../../src/smart/server-clock.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { fhirTransport } from "../../src/smart/transport.ts";

const BASE = "https://ehr.example/fhir";
const STAFF = { reference: "Practitioner/tobias-quillfeather", name: "Tobias Quillfeather" };
/** A Tuesday morning: both clinics are open, and no clock changes within the weeks ahead but one. */
export const MORNING = new Date(2026, 2, 10, 7, 30);
export const TODAY = "2026-03-10";

export interface House {
  readonly session: ClinicSession;
  readonly store: Store;
  readonly behaviour: StoreBehaviour;
  /** Every request, "GET Slot?…", in order. */
  readonly asked: string[];
  /** What lies beside the page, by name. */
  readonly files: Map<string, string>;
  /**
   * Answers in place of the store where it gives something back: a status, a body that comes with 200, "none" for a request that does not
   * arrive, or "lost" for one that is carried out and whose answer does not come.
   */
  fail: (request: string) => number | "none" | "lost" | object | undefined;
  all<R extends Fhir>(type: R["resourceType"]): R[];
  one<R extends Fhir>(reference: string): R;
  /** As a colleague enters it at another screen. */
  enter(resource: object): void;
}

/** Opens the house at `MORNING`; the clock of the page is the caller's to set. */
export function openHouse({
  empty = false,
  session: changes = {},
}: {
  empty?: boolean;
  session?: Partial<ClinicSession>;
} = {}): House {
  const store = new Store({ base: BASE, now: () => new Date() });
  for (const reference of [STAFF.reference, "Practitioner/imke-harrowgate", "Location/hand-clinic"]) {
    const [resourceType, id] = reference.split("/") as [string, string];
    store.put({ resourceType, id }, id, "PUT");
  }
  if (!empty) seedClinics(store, new Date());
  const behaviour: StoreBehaviour = structuredClone(WELL_BEHAVED);
  const addresses = { base: BASE, authorize: `${BASE}/a`, token: `${BASE}/t` };
  const server = new PracticeServer({ addresses, behaviour, store });
  const answer = async (address: string | URL, init: RequestInit = {}): Promise<Response> => {
    const url = new URL(String(address));
    if (!url.href.startsWith(BASE)) {
      const file = house.files.get(url.pathname.split("/").at(-1)!);
      return new Response(file ?? "", { status: file === undefined ? 404 : 200 });
    }
    const path = url.pathname.slice(new URL(BASE).pathname.length + 1);
    const method = init.method ?? "GET";
    const line = `${method} ${path}${decodeURIComponent(url.search)}`;
    house.asked.push(line);
    const instead = house.fail(line);
    const headers = Object.fromEntries(
      Object.entries((init.headers ?? {}) as Record<string, string>).map(([name, value]) => [
        name.toLowerCase(),
        value,
      ]),
    );
    const body = typeof init.body === "string" ? { body: JSON.parse(init.body) as unknown } : {};
    const request: FhirRequest = { method, path, query: url.searchParams, headers, ...body };
    if (instead === "none") throw new TypeError("the network is down");
    const given: FhirResponse =
      instead === undefined || instead === "lost"
        ? server.handle(request)
        : typeof instead === "object"
          ? { status: 200, headers: {}, body: instead as never }
          : { status: instead as number, headers: {}, body: undefined as never };
    if (instead === "lost") throw new TypeError("the network is down");
    return new Response(given.body === undefined ? null : JSON.stringify(given.body), {
      status: given.status,
      headers: { ...given.headers, "content-type": "application/fhir+json" },
    });
  };
  vi.stubGlobal("fetch", answer);
  const clock = new ServerClock();
  const token = { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) as const };
  const session = {
    context: { base: BASE, launchId: "l1" },
    fhir: fhirTransport({ base: BASE, token, wait: async () => undefined }),
    issuer: { label: "Alder Quay record", host: "ehr.example" },
    config: { issuers: [], frameAncestors: [] },
    clock,
    granted: ["user/*.cruds"],
    can: () => true,
    user: STAFF,
    signer: async () => ({ ok: true, ...STAFF }),
    state: () => ({ kind: "open" }),
    lastsFor: async () => true,
    onChange: () => () => undefined,
    end: () => undefined,
    ...changes,
  } as unknown as ClinicSession;
  const house: House = {
    session,
    store,
    behaviour,
    asked: [],
    files: new Map(),
    fail: () => undefined,
    all: (type) => [...store.all(type)].flatMap(({ resource }) => (resource ? [resource as never] : [])),
    one: (reference) => store.current(...(reference.split("/") as [string, string]))?.resource as never,
    enter: (resource) => {
      const { id } = resource as { id: string };
      store.put(resource as never, id, "PUT");
    },
  };
  return house;
}
