/** A clinician at the screens of the plugin: draws up a plan, signs it, revises it, takes it back, and goes on as the screens say. */
import { addSeconds, formatISO, parseISO } from "date-fns";
import { type Chart, chartFrom, type EarlierPlan } from "../../src/fhir/chart.ts";
import { type Act, EPISODE } from "../../src/fhir/codings.ts";
import { type DraftItem, draftPlan, removeDraft } from "../../src/fhir/drafts.ts";
import { endOf, revisionOf } from "../../src/fhir/revision.ts";
import { type StoredChange, withdrawal } from "../../src/fhir/stored-change.ts";
import { withdrawalRecord } from "../../src/fhir/withdrawal-record.ts";
import type { Filing } from "../../src/smart/filing.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import type { WriteReport } from "../../src/smart/write-back.ts";
import { inputFor, MALLET } from "../fhir/cases.ts";
import { type Held, noPause, type Session, type Ward, type Window, type WriteBack } from "./ward.ts";

const AT = "2026-11-25T15:10:00+01:00";
const APP_VERSION = "0.1.0";

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
/** Seen again: it is an open fracture. Diagnosis, orders and visits change. */
const SEEN_AGAIN = {
  ...FEW_FINDINGS,
  digits: [{ ...FEW_FINDINGS.digits[0], openness: "open-skin" }],
} as typeof MALLET;
const RECORDS = { few: FEW_FINDINGS, whole: MALLET, again: SEEN_AGAIN } as const;
type Findings = keyof typeof RECORDS;
const TEMPLATE_ID = "5b0c1f6e-2d47-4b93-8a15-c0ffee000000";

/** A new plan; its id differs from others in all but the last group. */
export const newPlanId = (): string => crypto.randomUUID().slice(0, 24) + TEMPLATE_ID.slice(24);

/** The drafts of a plan: drawn up once for each patient, then given another id. `whole`: all that the rules propose, not one of each kind. */
function planOf({ context }: Session, planId: string, findings: Findings, injury: string): DraftItem[] {
  const slot = `${context.patientId} ${findings}`;
  let json = TEMPLATES.get(slot);
  if (json === undefined) {
    const all = draftPlan(
      inputFor(RECORDS[findings], {
        planId: TEMPLATE_ID,
        patientId: context.patientId,
        ...(context.encounterId ? { encounterId: context.encounterId } : {}),
        chart: { used: [], imaging: [] },
      }),
    );
    const isFirst = (item: DraftItem) => all.find(({ kind }) => kind === item.kind) === item;
    json = JSON.stringify(
      findings === "whole" ? all : all.map((item) => (isFirst(item) ? item : removeDraft(item, "Not wanted"))),
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
  /** What was on the screen when it was pressed. */
  readonly items: readonly DraftItem[];
  readonly changes: readonly StoredChange[];
  /** What the screen said beforehand of what becomes of each item. */
  readonly filing: Filing;
  /** Instant of the act. */
  readonly at: string;
  /** Before and after the press. */
  readonly before: Held;
  readonly after: Held;
}
export interface AtTheScreenOptions {
  readonly planId?: string;
  /** Plans for one injury share it; of its own for each plan unless given. */
  readonly injury?: string;
  /** All that the rules propose instead of one item of each kind. */
  readonly whole?: boolean;
  readonly writer?: WriteBack;
}

/** A clinician with one plan on the screen: presses its buttons as the screen answers them. */
export class AtTheScreen {
  readonly ward: Ward;
  window: Window;
  items: DraftItem[];
  /** What the same act changes of an earlier plan. */
  changes: readonly StoredChange[] = [];
  planId: string;
  /** The plan that is revised or taken back. */
  earlier: string | undefined;
  readonly injury: string;
  readonly presses: Press[] = [];
  private task: "plan" | "revise" | "withdraw" | "finish" = "plan";
  /** Since the last press: what it reported is no longer on the screen. */
  private isReloaded = false;
  /** The record shows that there is nothing left to do. */
  private isOver = false;
  private at = AT;
  private known: Record<string, { reference: string; version?: string }> = {};
  private plansSeen: readonly string[] | undefined;
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
    this.injury = injury;
    this.writer = writer;
    this.items = planOf(window.session, planId, whole ? "whole" : "few", injury);
  }

  get last(): Press | undefined {
    return this.presses.at(-1);
  }

  /** What the store holds of the plan, and as "old:planId:key" of the one that is revised or taken back. */
  held(): Held {
    const { ward, planId, earlier } = this;
    if (earlier === undefined) return ward.held(planId);
    const own = [...ward.held(planId)];
    // A plan that is taken back is the earlier one itself; the records of who did so are new.
    const isRecord = (key: string) => key.startsWith("provenance-");
    const old = [...(earlier === planId ? own : ward.held(earlier))].flatMap(([key, copies]) =>
      earlier === planId && isRecord(key) ? [] : [[`old:${earlier}:${key}`, copies] as const],
    );
    return new Map([...(earlier === planId ? own.filter(([key]) => isRecord(key)) : own), ...old]);
  }

  /** "Save as draft", "Sign", "Withdraw", or, after an unknown outcome, "Check again": the same button as on the screen. */
  async press(act: Act): Promise<WriteReport> {
    const { window, items, changes, last, at, plansSeen } = this;
    const before = this.held();
    const { session } = window;
    const { capabilitiesOf, filingOf } = window.filing;
    const stored = window.write.storedTypes(this.known, this.isReloaded ? undefined : last?.report);
    const filing = filingOf(items, await capabilitiesOf(session), session.can, { stored, changes: changes.length > 0 });
    // Where a plan is taken back or ended, the screen leaves it to the writer what is filed.
    const shown = this.task === "withdraw" || this.task === "finish" ? {} : { filing };
    const context = {
      ...{ at, known: this.known, ...shown, wait: noPause },
      ...(changes.length ? { changes } : {}),
      ...(plansSeen ? { plansSeen } : {}),
    };
    const unknown =
      !this.isReloaded && last?.act === act && last.report.items.some((item) => item.outcome === "unknown");
    const report =
      unknown && !this.writer
        ? await window.write.checkAgain(session, items, act, context)
        : await (this.writer ?? window.write.writeBack)(session, items, act, context);
    for (const { key, outcome, reference, version } of report.items)
      if (outcome === "saved" && reference) this.known[key] = { reference, ...(version ? { version } : {}) };
    // As on the screen: saving once more is another act, trying the same one again is not.
    if (act === "draft" && report.outcome === "saved") this.at = formatISO(addSeconds(parseISO(this.at), 1));
    this.isReloaded = false;
    this.presses.push({ act, report, items, changes, filing, at, before, after: this.held() });
    return report;
  }

  /** Reloads the page: what it knew is gone, the chart is read anew; the draft was kept by the tab. */
  async reload(): Promise<void> {
    this.window = freshPage(this.window);
    this.known = {};
    this.isReloaded = true;
    const chart = await this.readChart();
    for (const [key, [resource]] of this.ward.held(this.planId)) {
      const version = (resource?.meta as { versionId?: string } | undefined)?.versionId;
      if (resource)
        this.known[key] = { reference: `${resource.resourceType}/${resource.id}`, ...(version ? { version } : {}) };
    }
    await this.lookAnew(chart);
  }
  /** Signs in again from the chart, in the same tab. */
  async relaunch(as?: string): Promise<void> {
    this.window = await this.ward.launch(as);
    await this.reload();
  }

  /** Signs the plan, and later comes back with other findings: another plan, which takes the first one's place. */
  async comesToRevise(): Promise<void> {
    await this.signFirst();
    this.task = "revise";
    this.earlier = this.planId;
    this.planId = newPlanId();
    await this.reload();
  }
  /** Signs the plan, and later sees that it should never have been. */
  async comesToWithdraw(): Promise<void> {
    await this.signFirst();
    this.task = "withdraw";
    this.earlier = this.planId;
    await this.reload();
  }
  private async signFirst(): Promise<void> {
    const { outcome, problem } = await this.press("sign");
    if (outcome !== "saved") throw new Error(`the first plan was not signed: ${problem?.title}`);
    this.at = formatISO(addSeconds(parseISO(this.at), 60));
  }

  private async readChart(): Promise<Chart> {
    const { session, read } = this.window;
    const { patientId, base } = session.context;
    const parts = await read.readChart(session, () => {});
    return chartFrom(parts, { patientId, base, today: AT.slice(0, 10), user: session.user.reference ?? "" });
  }
  /** What the screens offer once the chart is read. */
  private async lookAnew({ earlierPlans }: Chart): Promise<void> {
    const { window, task, planId, earlier, at } = this;
    const { session, unfinished } = window;
    const signer = await session.signer();
    const acting = { signer: { reference: signer.ok ? signer.reference : "" }, at, why: "seen again" };
    const planAt = (id: string | undefined): EarlierPlan | undefined => earlierPlans.find((p) => p.planId === id);
    if (task === "plan" || task === "finish") return;
    this.plansSeen = earlierPlans.flatMap((p) => p.items.find((i) => i.type === "CarePlan")?.reference ?? []);
    if (task === "withdraw") {
      const plan = planAt(planId);
      this.items = [withdrawalRecord(planId, APP_VERSION)];
      this.changes = plan ? withdrawal(plan, "void", acting).changes : [];
      this.isOver = this.changes.length === 0;
      return;
    }
    if (planAt(planId)?.signed) {
      // Signed already, whole or in part: what is left to do is offered beside the findings.
      const left = (await unfinished.unfinishedPlans(session, earlierPlans)).find((one) => one.planId === planId);
      this.isOver = left === undefined;
      if (!left) return;
      this.task = "finish";
      this.items = left.rest.length ? [...left.rest] : [unfinished.endingRecord(planId, APP_VERSION)];
      this.changes = left.replaces ? endOf(left.replaces, acting).changes : [];
      return;
    }
    const old = planAt(earlier);
    const asked = planOf(session, planId, "again", this.injury);
    const revision = old?.signed ? revisionOf(asked, old, acting) : { items: asked, changes: [] };
    this.items = [...revision.items];
    this.changes = revision.changes;
  }

  /** Goes on as a sensible person does, until it is saved or the screen has been tried five times. */
  async finish(act: Act): Promise<boolean> {
    for (let i = 0; i < 5; i++) {
      if (this.isDone(act)) return true;
      const { session } = this.window;
      if (session.state().kind !== "open" || !session.can("CarePlan", "c")) await this.relaunch();
      else if (i > 1) await this.reload();
      if (this.isDone(act)) return true;
      await this.press(act);
    }
    return this.isDone(act);
  }
  private isDone(act: Act): boolean {
    return this.isOver || (this.last?.act === act && this.last.report.outcome === "saved");
  }
}
/** The same sign-in on a page that has read, asked and learned nothing yet. */
export function freshPage(window: Window): Window {
  const { session } = window;
  const context = Object.freeze({ ...session.context });
  // Session has getters: they stay with the session they belong to.
  return { ...window, session: Object.create(session, { context: { value: context } }) as Session };
}

/** "active", "revoked"; of a Condition its verification status. */
export const stateOf = ({ status, verificationStatus }: FhirResource): string =>
  (verificationStatus as { coding?: { code?: string }[] } | undefined)?.coding?.[0]?.code ?? String(status);
