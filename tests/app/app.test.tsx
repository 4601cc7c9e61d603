// @vitest-environment happy-dom
import { readFileSync } from "node:fs";
import { act, cleanup, render, screen } from "@testing-library/react";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { App } from "../../src/app/app.tsx";
import { sitePolicyOf } from "../../src/app/site-policy-file.ts";
import type { LaunchProblem, LaunchProblemKind } from "../../src/smart/problem.ts";
import type { SessionAnswer } from "../../src/smart/session.ts";
import { EMPTY_PARTS, sessionFor, slowReading } from "./chart-parts.ts";

beforeEach(() => {
  window.location.hash = "";
  window.scrollTo = () => undefined;
});
afterEach(() => {
  cleanup();
  vi.unstubAllGlobals();
});

const problem = (kind: LaunchProblemKind, more: Partial<LaunchProblem> = {}): SessionAnswer => ({
  ok: false,
  problem: { kind, title: "What happened.", what: "What was not done.", next: "What to do.", ...more },
});
async function open(answer: SessionAnswer) {
  await act(async () => {
    render(
      <App
        answer={answer}
        reading={answer.ok ? slowReading(EMPTY_PARTS) : undefined}
        policy={answer.ok ? sitePolicyOf({ ok: true, config: answer.session.config }) : Promise.resolve(undefined)}
      />,
    );
  });
}

describe("before there is a session", () => {
  it("the page itself says that it is opening, before any script has arrived", () => {
    document.body.innerHTML = readFileSync("src/app/index.html", "utf8").replace(/^[\s\S]*<body>|<script[\s\S]*$/g, "");
    expect(screen.getByRole("status").textContent).toBe("Opening the chart.");
    document.body.innerHTML = "";
  });
  it.each(["state", "code-refused", "unknown-issuer", "bad-token", "other-server", "server-unreachable"] as const)(
    "a launch that fails (%s) says what happened, what was not done and what to do, and moves the focus there",
    async (kind) => {
      await open(problem(kind));
      expect(document.activeElement).toBe(screen.getByRole("heading", { name: "What happened." }));
      expect(screen.getByText("What was not done.")).toBeTruthy();
      expect(screen.getByText("What to do.")).toBeTruthy();
    },
  );
  it("opened without a chart it is friendly, and offers to choose a record system", async () => {
    await open(problem("no-launch"));
    expect(screen.getByRole("heading", { name: "Fingerpost opens from a chart" })).toBeTruthy();
    expect(screen.getByRole("link", { name: "Choose a record system and a patient" }).getAttribute("href")).toBe(
      "./launch.html",
    );
  });
  it("where the frame blocks storage it offers a window of its own", async () => {
    await open(problem("storage-blocked"));
    const link = screen.getByRole("link", { name: "Open in its own window" });
    expect(link.getAttribute("target")).toBe("_blank");
    expect(link.getAttribute("rel")).toContain("noopener");
  });
  it("words of the record system stand as text, in their own place", async () => {
    await open(problem("denied", { serverSaid: "<b>no</b>", host: "ehr.example" }));
    expect(screen.getByText("<b>no</b>")).toBeTruthy();
    expect(screen.getByText("ehr.example").tagName).toBe("BDI");
  });
});

describe("the site policy", () => {
  /** The first test of a run loads all the rooms, on whatever machine. */
  const ARRIVAL = { timeout: 20_000 };
  const withPolicy = () => sessionFor({ config: { issuers: [], frameAncestors: [], sitePolicy: "site-policy.json" } });
  it("that cannot be read stops the page: no rule runs with guessed values", async () => {
    vi.stubGlobal("fetch", () => Promise.resolve(new Response("", { status: 404 })));
    await open({ ok: true, session: withPolicy() });
    expect(await screen.findByRole("heading", { name: "The site policy cannot be used." }, ARRIVAL)).toBeTruthy();
  });
  it("with a fault names the entry and what is allowed", async () => {
    vi.stubGlobal("fetch", () =>
      Promise.resolve(
        Response.json({ site: "North", approvedBy: "A", approvedOn: "2026-01-01", values: { "no.such.value": 1 } }),
      ),
    );
    await open({ ok: true, session: withPolicy() });
    expect(await screen.findByRole("heading", { name: "The site policy cannot be used." }, ARRIVAL)).toBeTruthy();
    expect(screen.getByText(/no\.such\.value/)).toBeTruthy();
  });
});
