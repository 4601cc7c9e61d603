/** A ward for fault tests: the practice EHR behind the proxy, and clinicians who work there with the plugin's own modules. */
import { addSeconds, formatISO, parseISO } from "date-fns";
import { vi } from "vitest";
import { type Practice, startPractice } from "../../launch/start.ts";
import { type Act, EPISODE } from "../../src/fhir/codings.ts";
import { type DraftItem, draftPlan, removeDraft } from "../../src/fhir/drafts.ts";
import type { Filing } from "../../src/smart/filing.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import type { WriteReport } from "../../src/smart/write-back.ts";
import { launchFaults } from "../browser/stage.ts";
import { inputFor, MALLET } from "../fhir/cases.ts";
import { openTab, reload } from "../smart/page.ts";
import { type FaultProxy, openProxy } from "./proxy.ts";

type SessionRoom = typeof import("../../src/smart/session.ts");
type WriteRoom = typeof import("../../src/smart/write-back.ts");
type ReadRoom = typeof import("../../src/smart/read-chart.ts");
type FilingRoom = typeof import("../../src/smart/filing.ts") & typeof import("../../src/smart/capabilities.ts");
export type Session = Extract<Awaited<ReturnType<SessionRoom["openSession"]>>, { ok: true }>["session"];
export type WriteBack = WriteRoom["writeBack"];

export const PATIENT = "bertil-aschenbrook";
export const OTHER_PATIENT = "odalys-fennimore";
const AT = "2026-11-25T15:10:00+01:00";
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
}

/** What the store holds of one plan: item key to the resources that carry it. */
export type Held = ReadonlyMap<string, readonly FhirResource[]>;

export interface Ward {
  readonly proxy: FaultProxy;
  readonly practice: Practice;
  /** Launches from the chart, as the desk of the practice EHR does. */
  launch(as?: string, patient?: string): Promise<Window>;
  held(planId: string): Held;
  control(setting: object): Promise<void>;
  /** "Type/id" of everything the record system accepted since the last call, in order. */
  accepted(): Promise<string[]>;
  close(): Promise<void>;
}

/** Nobody waits in these tests: pauses end at once, and a time-out comes as soon as an answer is known not to come. */
const noPause = async (): Promise<void> => {};

export async function openWard(): Promise<Ward> {
  const proxy = await openProxy();
  const practice = await startPractice({
    quiet: true,
    skipBuild: true,
    ehrPort: 0,
    pluginPort: 0,
    tokenSeconds: 3600,
    seenAs: proxy.url,
  });
  proxy.target = practice.listensAt;
  endWaitingAtOnce(proxy);
  vi.doMock("../../src/smart/transport.ts", async (original) => {
    const room = await original<typeof import("../../src/smart/transport.ts")>();
    const fhirTransport: typeof room.fhirTransport = (options) => room.fhirTransport({ ...options, wait: noPause });
    return { ...room, fhirTransport };
  });
  const config = (await (await fetch(`${practice.pluginUrl}/config.json`)).json()) as unknown;
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
    launch: async (as = "emergency", patient = PATIENT) => {
      const link = await follow(`${practice.ehrUrl}/desk/launch?patient=${patient}&as=${as}&view=tab`);
      const tab = openTab(link.href);
      const { readConfig } = await import("../../src/smart/config.ts");
      const { beginLaunch } = await import("../../src/smart/launch.ts");
      const read = readConfig(config);
      if (!read.ok) throw new Error(read.problem.what);
      const start = await beginLaunch(link, read.config);
      if (!start.ok) throw new Error(start.problem.title);
      reload(tab, (await follow(start.goTo)).href);
      const { openSession } = await import("../../src/smart/session.ts");
      const opened = await openSession(read);
      if (!opened.ok) throw new Error(`${opened.problem.title} ${opened.problem.what}`);
      // Who signs is proven once and for all, so that no fault of a write is spent on that.
      await opened.session.signer();
      return {
        session: opened.session,
        write: await import("../../src/smart/write-back.ts"),
        read: await import("../../src/smart/read-chart.ts"),
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

const follow = async (address: string) =>
  new URL((await fetch(address, { redirect: "manual" })).headers.get("location") ?? address, address);

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

/** Few findings, so that thousands of plans can be written: what stands in a plan is tested elsewhere. */
const { birthDate, injuredAt, assessedAt, digits } = MALLET;
const { digit, side, openness, fractureSite, woundOverJoint, activeFlexion, filmTaken, trueLateral } = digits[0] ?? {};
const FEW_FINDINGS = {
  birthDate,
  injuredAt,
  assessedAt,
  patient: {},
  injury: {},
  digits: [{ digit, side, openness, fractureSite, woundOverJoint, activeFlexion, filmTaken, trueLateral }],
} as typeof MALLET;
const TEMPLATE_ID = "5b0c1f6e-2d47-4b93-8a15-c0ffee000000";

/** A new plan; its id differs from others in all but the last group. */
export const newPlanId = (): string => crypto.randomUUID().slice(0, 24) + TEMPLATE_ID.slice(24);

/** The drafts of a plan: drawn up once for each patient, then given another id. */
function planOf({ context }: Session, planId: string, size: "one-of-each" | "whole", injury: string): DraftItem[] {
  const slot = `${context.patientId} ${size}`;
  let json = TEMPLATES.get(slot);
  if (json === undefined) {
    const all = draftPlan(
      inputFor(size === "whole" ? MALLET : FEW_FINDINGS, {
        planId: TEMPLATE_ID,
        patientId: context.patientId,
        ...(context.encounterId ? { encounterId: context.encounterId } : {}),
        chart: { used: [], imaging: [] },
      }),
    );
    const isFirst = (item: DraftItem) => all.find(({ kind }) => kind === item.kind) === item;
    json = JSON.stringify(
      size === "whole" ? all : all.map((item) => (isFirst(item) ? item : removeDraft(item, "Not wanted"))),
    );
    TEMPLATES.set(slot, json);
  }
  const items = JSON.parse(json.replaceAll(TEMPLATE_ID.slice(0, 24), planId.slice(0, 24))) as DraftItem[];
  const own = items.flatMap(({ resource }) =>
    resource.resourceType === "CarePlan" ? (resource.identifier ?? []) : [],
  );
  for (const identifier of own) if (identifier.system === EPISODE) identifier.value = injury;
  return items;
}
const TEMPLATES = new Map<string, string>();

export interface Press {
  readonly act: Act;
  readonly report: WriteReport;
  /** What the screen said beforehand of what becomes of each item. */
  readonly filing: Filing;
  /** Instant of the act. */
  readonly at: string;
  /** Before and after the press. */
  readonly before: Held;
  readonly after: Held;
}

/** A clinician with one plan on the sign-off screen: presses its buttons as the screen answers them. */
export class AtTheScreen {
  readonly ward: Ward;
  window: Window;
  items: DraftItem[];
  readonly planId: string;
  readonly presses: Press[] = [];
  private at = AT;
  private known: Record<string, { reference: string; version?: string }> = {};
  /** The plugin's own writer, or another one that takes its place. */
  private readonly writer: WriteBack | undefined;

  constructor(
    ward: Ward,
    window: Window,
    { planId = newPlanId(), injury = planId, whole = false, writer }: AtTheScreenOptions = {},
  ) {
    this.ward = ward;
    this.window = freshPage(window);
    this.planId = planId;
    this.writer = writer;
    this.items = planOf(window.session, planId, whole ? "whole" : "one-of-each", injury);
  }

  get last(): Press | undefined {
    return this.presses.at(-1);
  }

  /** "Save as draft", "Sign", or, after an unknown outcome, "Check again": the same button as on the screen. */
  async press(act: Act): Promise<WriteReport> {
    const { ward, window, items, last } = this;
    const before = ward.held(this.planId);
    const { session } = window;
    const { capabilitiesOf, filingOf } = window.filing;
    const stored = window.write.storedTypes(this.known);
    const filing = filingOf(items, await capabilitiesOf(session), session.can, { stored });
    const { at } = this;
    const context = { at, known: this.known, filing, wait: noPause };
    const unknown = last?.act === act && last.report.items.some((item) => item.outcome === "unknown");
    const report =
      unknown && !this.writer
        ? await window.write.checkAgain(window.session, items, act, context)
        : await (this.writer ?? window.write.writeBack)(window.session, items, act, context);
    for (const { key, outcome, reference, version } of report.items)
      if (outcome === "saved" && reference) this.known[key] = { reference, ...(version ? { version } : {}) };
    // As on the screen: saving once more is another act, trying the same one again is not.
    if (act === "draft" && report.outcome === "saved") this.at = formatISO(addSeconds(parseISO(this.at), 1));
    this.presses.push({ act, report, filing, at, before, after: ward.held(this.planId) });
    return report;
  }

  /** Reloads the page: what it knew is gone, the chart is read anew; the draft was kept by the tab. */
  async reload(): Promise<void> {
    this.window = freshPage(this.window);
    this.known = {};
    await this.window.read.readChart(this.window.session, () => {});
    for (const [key, [resource]] of this.ward.held(this.planId)) {
      const version = (resource?.meta as { versionId?: string } | undefined)?.versionId;
      if (resource)
        this.known[key] = { reference: `${resource.resourceType}/${resource.id}`, ...(version ? { version } : {}) };
    }
  }
  /** Signs in again from the chart, in the same tab. */
  async relaunch(as?: string): Promise<void> {
    this.window = await this.ward.launch(as);
    await this.reload();
  }

  /** Goes on as a sensible person does, until it is saved or the screen has been tried five times. */
  async finish(act: Act): Promise<boolean> {
    for (let i = 0; i < 5; i++) {
      if (this.last?.act === act && this.last.report.outcome === "saved") return true;
      const { session } = this.window;
      if (session.state().kind !== "open" || !session.can("CarePlan", "c")) await this.relaunch();
      else if (i > 1) await this.reload();
      await this.press(act);
    }
    return this.last?.report.outcome === "saved";
  }
}
/** The same sign-in on a page that has read, asked and learned nothing yet. */
function freshPage(window: Window): Window {
  const { session } = window;
  const context = Object.freeze({ ...session.context });
  // Session has getters: they stay with the session they belong to.
  return { ...window, session: Object.create(session, { context: { value: context } }) as Session };
}
export interface AtTheScreenOptions {
  readonly planId?: string;
  /** Plans for one injury share it; of its own for each plan unless given. */
  readonly injury?: string;
  /** All that the rules propose instead of one item of each kind. */
  readonly whole?: boolean;
  readonly writer?: WriteBack;
}
