// @vitest-environment happy-dom
import { act, cleanup, fireEvent, render, screen, within } from "@testing-library/react";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { type CaseState, freshCase } from "../../src/app/case-state.ts";
import { type DraftOwner, keepDraft, keptDraftOf } from "../../src/app/draft-keeper.ts";
import { noProposals } from "../../src/app/proposals.ts";
import type { Step } from "../../src/app/steps.ts";
import { isOutdated } from "../../src/app/watch/newer-version.ts";
import { WatchRoom } from "../../src/app/watch/watch-room.tsx";
import type { Problem } from "../../src/smart/problem.ts";
import { ServerClock } from "../../src/smart/server-clock.ts";
import type { Session } from "../../src/smart/session.ts";
import type { TokenState } from "../../src/smart/token.ts";
import { EMPTY_PARTS, PATIENT, recordOf, sessionFor, slowReading } from "./chart-parts.ts";
import { practiceBone } from "./fake-module.ts";

const MINUTE = 60_000;
const NOON = new Date(2026, 2, 10, 12, 0).getTime();
const OWNER: DraftOwner = {
  base: "https://ehr.example/fhir",
  patientId: "p1",
  user: "Practitioner/9",
  launchId: "l1",
};
const BLANK = freshCase("plan-1", "2026-03-10T12:00");
const ANSWERED: CaseState = { ...BLANK, digits: [{ digit: "ring" }] };

beforeEach(() => {
  vi.useFakeTimers({ now: NOON, toFake: ["Date", "performance", "setInterval", "clearInterval"] });
  window.sessionStorage.clear();
  vi.stubGlobal("fetch", async () => new Response("", { status: 404 }));
});
afterEach(() => {
  cleanup();
  vi.unstubAllGlobals();
  vi.useRealTimers();
});

interface Watched {
  readonly session?: Partial<Session>;
  readonly state?: CaseState;
  readonly stored?: CaseState;
  readonly back?: string;
  readonly step?: Step;
  readonly owner?: DraftOwner;
}
async function watch({ session = {}, state = ANSWERED, stored, back, step = "findings", owner = OWNER }: Watched = {}) {
  const reading = slowReading(EMPTY_PARTS);
  const end = vi.fn();
  const whole: Session = { ...sessionFor(), fhir: recordOf(reading), end, ...session };
  const covered: Problem[] = [];
  const readOnly: boolean[] = [];
  const dispatch = vi.fn();
  await act(async () => {
    render(
      <WatchRoom
        {...{ session: whole, reading, owner, state, stored, back, step, dispatch }}
        module={practiceBone}
        facts={[{}]}
        proposals={noProposals}
        onReadOnly={(is) => readOnly.push(is)}
        onCover={(problem) => covered.push(problem)}
      />,
    );
  });
  return { session: whole, reading, end, covered, readOnly, dispatch };
}
const later = (ms: number) => act(async () => vi.advanceTimersByTime(ms));
const alerts = () => screen.queryAllByRole("alert").map((alert) => alert.textContent ?? "");

describe("SEC-25 an unattended page", () => {
  it("is covered after ten minutes without input, and the sign-in is given up", async () => {
    keepDraft(OWNER, ANSWERED);
    const { covered, end } = await watch();
    await later(10 * MINUTE - 5000);
    expect(covered).toEqual([]);
    await later(5000);
    expect(covered[0]).toMatchObject({ kind: "covered" });
    expect(covered[0]!.what).toContain("Your answers are kept in this tab, for you alone");
    expect(end).toHaveBeenCalled();
    expect(keptDraftOf(OWNER), "the draft waits for the same person").toEqual(ANSWERED);
  });

  it("warns two minutes before (WCAG 2.2, 2.2.1), and one press goes on", async () => {
    const { covered } = await watch();
    await later(8 * MINUTE - 5000);
    expect(alerts()).toEqual([]);
    await later(5000);
    expect(alerts()).toEqual([expect.stringContaining("will be covered in 2 minutes")]);
    await act(async () => void fireEvent.pointerDown(screen.getByRole("button", { name: "Go on working" })));
    expect(alerts()).toEqual([]);
    await later(8 * MINUTE - 5000);
    expect(covered).toEqual([]);
    expect(alerts()).toEqual([]);
  });

  it.each(["keyDown", "pointerMove", "wheel", "focusIn"] as const)(
    "counts %s as somebody being there",
    async (event) => {
      const { covered } = await watch();
      await later(9 * MINUTE);
      await act(async () => void fireEvent[event](document.body));
      await later(9 * MINUTE);
      expect(covered).toEqual([]);
    },
  );

  it("of a computer that slept is covered when it wakes, whatever woke it", async () => {
    const { covered } = await watch();
    // The monotonic clock stood still meanwhile.
    vi.setSystemTime(NOON + 60 * MINUTE);
    await act(async () => void fireEvent.pointerMove(document.body));
    expect(covered).toHaveLength(1);
  });

  it("waits as long as the site has set", async () => {
    const config = { issuers: [], frameAncestors: [], coverAfterMinutes: 3 };
    const { covered } = await watch({ session: { config } });
    await later(3 * MINUTE);
    expect(covered).toHaveLength(1);
  });

  it("says so when the answers could not be kept", async () => {
    const { covered } = await watch();
    await later(10 * MINUTE);
    expect(covered[0]!.what).toContain("Your answers could not be kept");
  });
});

describe("the end of the sign-in", () => {
  const state = (left: TokenState) => ({ session: { state: () => left } });
  it("is told two minutes before, where it cannot be renewed", async () => {
    await watch(state({ kind: "open", secondsLeft: 118, last: true }));
    expect(alerts()).toEqual([expect.stringMatching(/sign-in to the record system ends in 2 minutes/)]);
  });
  it.each<[string, TokenState]>([
    ["it renews itself", { kind: "open", secondsLeft: 30 }],
    ["it is far", { kind: "open", secondsLeft: 500, last: true }],
    ["the server did not say", { kind: "open" }],
  ])("is not told while %s", async (_why, left) => {
    await watch(state(left));
    expect(alerts()).toEqual([]);
  });
});

describe("REL-09 a computer whose clock is wrong by a day", () => {
  /** A record system that says each time what it holds the time to be. */
  function clockOf(trueTime: number, first = trueTime) {
    const clock = new ServerClock();
    clock.hear(new Date(first).toUTCString(), true);
    const read = async () => {
      clock.hear(new Date(trueTime).toUTCString());
      return { ok: true, value: PATIENT, status: 200 };
    };
    return { clock, fhir: { read } as unknown as Session["fhir"] };
  }
  it("is told, and the case goes by the record system's day", async () => {
    const { dispatch, reading } = await watch({ session: clockOf(NOON - 24 * 60 * MINUTE) });
    expect(reading).toBeTruthy();
    expect(alerts()).toEqual([expect.stringMatching(/24 hours ahead of .*it is Mon,? 9 March 2026, 12:00/)]);
    expect(dispatch).toHaveBeenCalledWith({ act: "clock", now: "2026-03-09T12:00" });
  });
  it("is asked afresh first: an old date out of the browser's cache is no wrong clock", async () => {
    await watch({ session: clockOf(NOON, NOON - 24 * 60 * MINUTE) });
    expect(alerts()).toEqual([]);
  });
});

describe("SAF-12 a newer program on the host", () => {
  const hostHas = (build: string) =>
    vi.stubGlobal("fetch", async () => Response.json({ build }, { headers: { date: new Date(NOON).toUTCString() } }));
  it("is told apart from the running one by the name of the build", async () => {
    hostHas("b2");
    expect(await isOutdated(new ServerClock(), "b1")).toBe(true);
    expect(await isOutdated(new ServerClock(), "b2")).toBe(false);
  });
  it.each<[string, () => Promise<Response>]>([
    ["names no build", async () => Response.json({})],
    ["has no such file", async () => new Response("", { status: 404 })],
    ["cannot be reached", async () => Promise.reject(new TypeError("offline"))],
    ["answers with a page", async () => new Response("<html>", { status: 200 })],
  ])("is not claimed where the host %s", async (_how, answer) => {
    vi.stubGlobal("fetch", answer);
    expect(await isOutdated(new ServerClock(), "b1")).toBe(false);
  });
  it("the host's clock is heard where the record system tells no time", async () => {
    hostHas("b1");
    vi.setSystemTime(NOON + 24 * 60 * MINUTE);
    const clock = new ServerClock();
    await isOutdated(clock, "b1");
    expect(clock.now().getTime()).toBe(NOON);
  });
});

describe("SEC-03 another launch", () => {
  const channel = () => new BroadcastChannel("fingerpost.opened");
  it("of another chart makes this page read-only until the clinician goes on here", async () => {
    vi.useRealTimers();
    const { readOnly } = await watch();
    const other = channel();
    const heard: unknown[] = [];
    other.onmessage = ({ data }) => heard.push(data);
    other.postMessage({ launchId: "l2", chart: "another" });
    const alert = await screen.findByRole("alert");
    expect(alert.textContent).toContain("Another chart was opened.");
    expect(readOnly.at(-1)).toBe(true);
    fireEvent.click(within(alert).getByRole("button", { name: "Go on with this chart here" }));
    expect(readOnly.at(-1)).toBe(false);
    await vi.waitFor(() =>
      expect(heard, "the other one is told").toEqual([expect.objectContaining({ launchId: "l1" })]),
    );
    expect(JSON.stringify(heard), "nothing of the patient is told").not.toMatch(/p1|ehr\.example/);
    other.close();
  });
  it.each([[null], ["text"], [{ launchId: 5 }], [{ launchId: "l1", chart: "x" }]])(
    "SEC-17 a message that tells of none (%j) changes nothing",
    async (message) => {
      vi.useRealTimers();
      const { readOnly } = await watch();
      const other = channel();
      other.postMessage(message);
      other.postMessage({ launchId: "l3", chart: "x" });
      await screen.findByRole("alert");
      expect(readOnly, "only the last one did").toEqual([false, true]);
      other.close();
    },
  );
  it("finished in this very tab cannot be undone here", async () => {
    window.sessionStorage.setItem(
      "fingerpost.launch",
      JSON.stringify({ state: "s2", launchId: "l2", startedAt: NOON, signedInAt: NOON }),
    );
    const { readOnly } = await watch();
    expect(readOnly.at(-1)).toBe(true);
    expect(screen.queryByRole("button", { name: "Go on with this chart here" })).toBeNull();
    expect(alerts()[0]).toContain("open Fingerpost from this chart again");
  });
  it("that was begun in this tab and never finished does no harm", async () => {
    window.sessionStorage.setItem(
      "fingerpost.launch",
      JSON.stringify({ state: "s2", launchId: "l2", startedAt: NOON }),
    );
    expect((await watch()).readOnly.at(-1)).toBe(false);
  });
});

describe("REL-29 answers that are only in this tab", () => {
  const leaves = () => {
    const event = new Event("beforeunload", { cancelable: true });
    window.dispatchEvent(event);
    return !event.defaultPrevented;
  };
  it("are asked about before the page goes away", async () => {
    await watch();
    expect(leaves()).toBe(false);
  });
  it("are not asked about when there are none", async () => {
    await watch({ state: BLANK });
    expect(leaves()).toBe(true);
  });
  it("are not asked about once the chart holds them, whatever the time of day", async () => {
    await watch({ stored: { ...ANSWERED, assessedAt: "2026-03-10T11:00" } });
    expect(leaves()).toBe(true);
  });
  it("are told when they came back, with their time", async () => {
    await watch({ back: "2026-03-10T10:42" });
    expect(screen.getByText(/unfinished answers from Tue,? 10 March 2026, 10:42 are back/)).toBeTruthy();
  });
  it("are not claimed to be back when there was nothing but a blank page", async () => {
    await watch({ back: "2026-03-10T10:42", state: BLANK });
    expect(screen.queryByText(/are back/)).toBeNull();
  });
  it("of somebody else are told of, and neither shown nor thrown away", async () => {
    const other = { ...OWNER, user: "Practitioner/7" };
    keepDraft(other, ANSWERED);
    await watch({ state: BLANK });
    expect(screen.getByText(/Somebody else's unfinished answers for this patient/)).toBeTruthy();
    expect(keptDraftOf(OWNER)).toBeUndefined();
    expect(keptDraftOf(other)).toEqual(ANSWERED);
  });
  it("of another patient are not even told of", async () => {
    keepDraft({ ...OWNER, user: "Practitioner/7", patientId: "p2" }, ANSWERED);
    await watch({ state: BLANK });
    expect(screen.queryByText(/Somebody else's/)).toBeNull();
  });
});

describe("S4 SEC-11 what the sign-in does not allow", () => {
  it("is named, function by function", async () => {
    await watch({ session: { granted: ["patient/*.rs"] } });
    expect(screen.getByText(/^What this sign-in does not allow/)).toBeTruthy();
    expect(screen.getByText(/The care plan cannot be filed/)).toBeTruthy();
  });
});
