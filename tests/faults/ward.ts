/** A ward for fault tests: the practice EHR behind the proxy, and clinicians who work there with the plugin's own modules. */
import { vi } from "vitest";
import { type Practice, startPractice } from "../../launch/start.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import { launchFaults } from "../browser/stage.ts";
import { open } from "../smart/on-practice.ts";
import { type FaultProxy, openProxy } from "./proxy.ts";

type SessionRoom = typeof import("../../src/smart/session.ts");
type WriteRoom = typeof import("../../src/smart/write-back.ts");
type ReadRoom = typeof import("../../src/smart/read-chart.ts");
type UnfinishedRoom = typeof import("../../src/smart/unfinished.ts");
type FilingRoom = typeof import("../../src/smart/filing.ts") & typeof import("../../src/smart/capabilities.ts");
export type Session = Extract<Awaited<ReturnType<SessionRoom["openSession"]>>, { ok: true }>["session"];
export type WriteBack = WriteRoom["writeBack"];

export const PATIENT = "bertil-aschenbrook";
export const OTHER_PATIENT = "odalys-fennimore";
/** What a plan is made of. */
export const PLAN_TYPES = [
  "QuestionnaireResponse",
  "Condition",
  "ServiceRequest",
  "Appointment",
  "CarePlan",
  "DocumentReference",
  "Provenance",
] as const;

/** One window of one clinician: a session and the modules of that page. */
export interface Window {
  readonly session: Session;
  readonly write: WriteRoom;
  readonly read: ReadRoom;
  readonly filing: FilingRoom;
  readonly unfinished: UnfinishedRoom;
}

/** What the store holds of one plan: item key to the resources that carry it. */
export type Held = ReadonlyMap<string, readonly FhirResource[]>;

export interface Ward {
  readonly proxy: FaultProxy;
  readonly practice: Practice;
  /** Launches from the chart, as the desk of the practice EHR does. */
  launch(as?: string, patient?: string): Promise<Window>;
  /** Launches clinic staff, without a patient. */
  launchClinic(): Promise<ClinicSession>;
  held(planId: string): Held;
  control(setting: object): Promise<void>;
  /** "Type/id" of everything the record system accepted since the last call, in order. */
  accepted(): Promise<string[]>;
  close(): Promise<void>;
}

/** Nobody waits in these tests: pauses end at once, and a time-out comes as soon as an answer is known not to come. */
export const noPause = async (): Promise<void> => {};

export async function openWard({ clinics = false }: { clinics?: boolean } = {}): Promise<Ward> {
  const proxy = await openProxy();
  const practice = await startPractice({
    quiet: true,
    skipBuild: true,
    ehrPort: 0,
    pluginPort: 0,
    tokenSeconds: 3600,
    seenAs: proxy.url,
    clinics,
  });
  proxy.target = practice.listensAt;
  endWaitingAtOnce(proxy);
  vi.doMock("../../src/smart/transport.ts", async (original) => {
    const room = await original<typeof import("../../src/smart/transport.ts")>();
    const fhirTransport: typeof room.fhirTransport = (options) => room.fhirTransport({ ...options, wait: noPause });
    return { ...room, fhirTransport };
  });
  const control = async (setting: object) => {
    const answer = await fetch(`${practice.listensAt}/practice/control`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(setting),
    });
    if (!answer.ok) throw new Error(await answer.text());
  };
  return {
    proxy,
    practice,
    control,
    launchClinic: async () => {
      const opened = await open(practice, "as=clinic");
      if (opened.ok || !opened.clinic) throw new Error("no session for the clinic");
      await opened.clinic.signer();
      return opened.clinic;
    },
    launch: async (as = "emergency", patient = PATIENT) => {
      const opened = await open(practice, `patient=${patient}&as=${as}`);
      if (!opened.ok) throw new Error(`${opened.problem.title} ${opened.problem.what}`);
      // Who signs is proven once and for all, so that no fault of a write is spent on that.
      await opened.session.signer();
      return {
        session: opened.session,
        write: await import("../../src/smart/write-back.ts"),
        read: await import("../../src/smart/read-chart.ts"),
        unfinished: await import("../../src/smart/unfinished.ts"),
        filing: {
          ...(await import("../../src/smart/filing.ts")),
          ...(await import("../../src/smart/capabilities.ts")),
        },
      };
    },
    held: (planId) => {
      const held = new Map<string, FhirResource[]>();
      for (const type of PLAN_TYPES)
        for (const resource of practice.stored(type) as unknown as FhirResource[]) {
          const item = planItem(resource);
          if (!item?.startsWith(`${planId}:`)) continue;
          const key = item.slice(planId.length + 1);
          held.set(key, [...(held.get(key) ?? []), resource]);
        }
      return held;
    },
    accepted: async () => {
      const ledger = (await (await fetch(`${practice.listensAt}/practice/ledger`)).json()) as { reference: string }[];
      await control({ clearLogs: true });
      return ledger.map(({ reference }) => reference);
    },
    close: async () => {
      const faults = await launchFaults(practice);
      await practice.close();
      await proxy.close();
      vi.restoreAllMocks();
      vi.unstubAllGlobals();
      if (faults.length) throw new Error(`launches that a strict server would mark down: ${faults.join("; ")}`);
    },
  };
}

const PLAN_ITEM = "https://fingerpost.example/plan-item";
function planItem(resource: FhirResource): string | undefined {
  const { tag } = (resource.meta ?? {}) as { tag?: { system?: string; code?: string }[] };
  const own = [resource.identifier ?? []].flat() as { system?: string; value?: string }[];
  return tag?.find((t) => t.system === PLAN_ITEM)?.code ?? own.find((i) => i.system === PLAN_ITEM)?.value;
}

/** A request that hangs is timed out at once, and no other ever is: how fast the machine is makes no difference. */
function endWaitingAtOnce(proxy: FaultProxy): void {
  const enders = new WeakMap<AbortSignal, AbortController>();
  const waiting = new Map<string, AbortController>();
  vi.spyOn(AbortSignal, "timeout").mockImplementation(() => {
    const ender = new AbortController();
    enders.set(ender.signal, ender);
    return ender.signal;
  });
  const realFetch = globalThis.fetch;
  let n = 0;
  vi.stubGlobal("fetch", async (address: string | URL | Request, init: RequestInit = {}) => {
    const ender = init.signal && enders.get(init.signal);
    if (!ender) return realFetch(address, init);
    const id = String(++n);
    waiting.set(id, ender);
    const headers = new Headers(init.headers);
    headers.set("x-request-id", id);
    return realFetch(address, { ...init, headers }).finally(() => waiting.delete(id));
  });
  proxy.onHang = ({ headers }) => {
    const id = String(headers["x-request-id"]);
    waiting.get(id)?.abort(new DOMException("The operation timed out.", "TimeoutError"));
  };
}
