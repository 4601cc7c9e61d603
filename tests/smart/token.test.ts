/** The access token: used, renewed, and gone when it ends; with the network replaced. */
import { beforeEach, describe, expect, it, vi } from "vitest";
import { keepToken, type TokenKeeper, type TokenResponse, tokenResponse } from "../../src/smart/token.ts";
import { fakeNetwork, json } from "./fake-network.ts";

const { sent, answering } = fakeNetwork();

describe("REL-11 the access token", () => {
  let now: number;
  let renewed: TokenResponse[];
  let ends: number;
  beforeEach(() => {
    now = 1000;
    renewed = [];
    ends = 0;
    vi.spyOn(performance, "now").mockImplementation(() => now);
    vi.stubGlobal("navigator", {});
  });
  const first: TokenResponse = { access_token: "a1", refresh_token: "r1" } as TokenResponse;
  const keep = (
    more: { token?: TokenResponse; secondsLeft?: number | undefined; patientId?: string } = {},
  ): TokenKeeper =>
    keepToken({
      token: more.token ?? first,
      secondsLeft: "secondsLeft" in more ? more.secondsLeft : 300,
      tokenUri: "https://login.ehr.example/token",
      clientId: "fingerpost",
      patientId: "patientId" in more ? more.patientId : "p1",
      renewed: (token) => void renewed.push(token),
      ended: () => ends++,
      lockName: "lock",
    });
  const once = (keeper: TokenKeeper) => {
    let heard = 0;
    const stop = keeper.onChange(() => heard++);
    return { count: () => heard, stop };
  };
  const fresh = (more: object = {}) => json({ access_token: "a2", token_type: "Bearer", expires_in: 300, ...more });
  const only: TokenResponse = { access_token: "a1" } as TokenResponse;

  it("is used as it is while it lives", async () => {
    const keeper = keep();
    expect(await keeper.current()).toBe("a1");
    expect(keeper.state()).toEqual({ kind: "open", secondsLeft: 300 });
    now += 290_000;
    expect(await keeper.current()).toBe("a1");
    expect(keeper.state()).toEqual({ kind: "open", secondsLeft: 10 });
    expect(sent).toEqual([]);
  });

  it("is renewed in its last ten seconds, with the refresh token, and so that no cache keeps it", async () => {
    answering(() => fresh({ refresh_token: "r2" }));
    const keeper = keep();
    const heard = once(keeper);
    now += 290_001;
    expect(await keeper.current()).toBe("a2");
    expect(sent).toHaveLength(1);
    expect(sent[0]?.url).toBe("https://login.ehr.example/token");
    const { body, signal, ...init } = sent[0]!.init;
    expect(Object.fromEntries(body as URLSearchParams)).toEqual({
      grant_type: "refresh_token",
      refresh_token: "r1",
      client_id: "fingerpost",
    });
    expect(signal).toBeInstanceOf(AbortSignal);
    expect(init).toEqual({
      method: "POST",
      headers: { accept: "application/json" },
      credentials: "omit",
      redirect: "error",
      cache: "no-store",
    });
    expect(renewed).toMatchObject([{ access_token: "a2", refresh_token: "r2" }]);
    expect(heard.count()).toBe(1);
    expect(keeper.state()).toEqual({ kind: "open", secondsLeft: 300 });
    heard.stop();
    now += 299_000;
    await keeper.current();
    expect(Object.fromEntries(sent[1]!.init.body as URLSearchParams).refresh_token).toBe("r2");
    expect(heard.count(), "who no longer listens hears nothing").toBe(1);
  });

  it("keeps the old refresh token where no new one is given, and an open end where none is said", async () => {
    answering(() => fresh({ expires_in: undefined }));
    const keeper = keep({ secondsLeft: 0 });
    expect(await keeper.current()).toBe("a2");
    expect(renewed).toMatchObject([{ refresh_token: "r1" }]);
    expect(keeper.state()).toEqual({ kind: "open" });
    now += 1e9;
    expect(await keeper.current()).toBe("a2");
    expect(await keeper.lastsFor(1e9)).toBe(true);
  });

  it("is renewed once for all who wait, under a lock where the browser has one", async () => {
    const locks: string[] = [];
    vi.stubGlobal("navigator", {
      locks: {
        request: (name: string, task: () => unknown) => {
          locks.push(name);
          return task();
        },
      },
    });
    answering(() => fresh());
    const keeper = keep({ secondsLeft: 5 });
    expect(await Promise.all([keeper.current(), keeper.current(), keeper.renewAfter("a1")])).toEqual([
      "a2",
      "a2",
      true,
    ]);
    expect(sent).toHaveLength(1);
    expect(locks).toEqual(["lock"]);
  });

  it("without a refresh token is used to its last second, and then the session is over", async () => {
    const keeper = keep({ token: only });
    const heard = once(keeper);
    now += 299_000;
    expect(await keeper.current()).toBe("a1");
    expect(keeper.state()).toEqual({ kind: "open", secondsLeft: 1, last: true });
    now += 1000;
    expect(await keeper.current()).toBeUndefined();
    expect(keeper.state()).toMatchObject({ kind: "ended", problem: { kind: "ended" } });
    expect([ends, heard.count(), sent.length]).toEqual([1, 1, 0]);
    expect(await keeper.lastsFor(0)).toBe(false);
    expect(await keeper.renewAfter("a1")).toBe(false);
    keeper.end();
    expect(ends, "it ends once").toBe(1);
  });

  it("of which the server says no end is used until it is refused", async () => {
    const keeper = keep({ secondsLeft: undefined });
    expect(keeper.state()).toEqual({ kind: "open" });
    expect(await keeper.lastsFor(1e9)).toBe(true);
    expect(await keeper.current()).toBe("a1");
    expect(sent).toEqual([]);
  });

  it.each<[string, object, number]>([
    ["refused for good", { error: "invalid_grant" }, 400],
    ["of another patient", { access_token: "a2", patient: "p2" }, 200],
    ["out of reach", {}, 500],
  ])("that cannot be renewed (%s) leaves nothing to try again with", async (_why, answer, status) => {
    answering(() => json(answer, status));
    expect(await keep().renewAfter("a1")).toBe(false);
  });

  it("that ran out is noticed by whoever asks how it stands", () => {
    const keeper = keep({ token: only, secondsLeft: 0 });
    expect(keeper.state()).toMatchObject({ kind: "ended" });
    expect(keep({ secondsLeft: 0 }).state()).toEqual({ kind: "open", secondsLeft: 0 });
  });

  it("refused before its time is renewed, unless another one is there already", async () => {
    answering(() => fresh());
    const keeper = keep();
    expect(await keeper.renewAfter("an older one")).toBe(true);
    expect(sent).toHaveLength(0);
    expect(await keeper.renewAfter("a1")).toBe(true);
    expect(sent).toHaveLength(1);
    const last = keep({ token: only });
    expect(await last.renewAfter("a1")).toBe(false);
    expect(last.state()).toMatchObject({ kind: "ended" });
  });

  it("that has to last is renewed only when it would not", async () => {
    answering(() => fresh());
    const keeper = keep();
    expect(await keeper.lastsFor(300)).toBe(true);
    expect(sent).toHaveLength(0);
    expect(await keeper.lastsFor(301)).toBe(false);
    expect(sent).toHaveLength(1);
    expect(await keep({ token: only }).lastsFor(301)).toBe(false);
    expect(sent).toHaveLength(1);
  });

  it.each<[string, () => Response, number]>([
    ["a fault", () => json("", 500), 3],
    ["a fault that names a reason", () => json({ error: "invalid_grant" }, 503), 3],
    ["too many requests", () => json({ error: "slow" }, 429), 3],
    ["for the moment not", () => json({ error: "temporarily_unavailable" }, 400), 3],
    ["a refusal without a reason", () => json({}, 400), 3],
    ["something that is no token", () => json({ hello: 1 }), 3],
    ["no JSON", () => json("<h1>"), 3],
    [
      "a cut connection",
      () => {
        throw new TypeError("cut");
      },
      3,
    ],
  ])(
    "REL-11 %s does not end the session: it is asked for three times, and the old one goes on",
    async (_why, answer, times) => {
      answering(answer);
      const keeper = keep({ secondsLeft: 5 });
      expect(await keeper.current()).toBe("a1");
      expect(sent).toHaveLength(times);
      expect(keeper.state()).toEqual({ kind: "open", secondsLeft: 5 });
      expect(ends).toBe(0);
      sent.length = 0;
      answering(() => fresh());
      expect(await keeper.current(), "the refresh token is kept").toBe("a2");
    },
  );

  it.each([400, 401, 499])("REL-11 refused for good (HTTP %i), the session is over at once", async (status) => {
    answering(() => json({ error: "invalid_grant" }, status));
    const keeper = keep({ secondsLeft: 5 });
    expect(await keeper.current()).toBeUndefined();
    expect(sent).toHaveLength(1);
    expect(keeper.state()).toMatchObject({ kind: "ended" });
  });

  it("SEC-12 INV-3 of another patient locks the page; of the same, or of none in a clinic, it does not", async () => {
    answering(() => fresh({ patient: "p2" }));
    const keeper = keep({ secondsLeft: 5 });
    expect(await keeper.current()).toBeUndefined();
    expect(keeper.state()).toMatchObject({ kind: "locked", problem: { kind: "locked" } });
    expect(renewed).toEqual([]);
    expect(await keep({ secondsLeft: 5, patientId: "p2" }).current()).toBe("a2");
    expect(await keep({ secondsLeft: 5, patientId: undefined as never }).current()).toBe("a2");
  });

  it("ended by the page gives nothing any more, for the reason that the page gives", async () => {
    const keeper = keep();
    const why = { kind: "locked" as const, title: "Another window.", what: "", next: "" };
    keeper.end(why);
    expect(await keeper.current()).toBeUndefined();
    expect(keeper.state()).toEqual({ kind: "locked", problem: why });
  });

  it.each<[unknown, number | undefined]>([
    [300, 300],
    ["300", 300],
    [0, 0],
    [-1, undefined],
    [100_000_000, 100_000_000],
    [100_000_001, undefined],
    ["", undefined],
    [" ", undefined],
    ["soon", undefined],
    [null, undefined],
  ])("its lifetime, when the server says %j, is %s seconds", (said, seconds) =>
    expect(tokenResponse.parse({ access_token: "a", expires_in: said }).expires_in).toBe(seconds),
  );

  it.each<[object, object | undefined]>([
    [{ access_token: "" }, undefined],
    [{}, undefined],
    [{ access_token: "a", patient: "../other" }, undefined],
    [
      { access_token: "a", refresh_token: "", id_token: "", encounter: "a/b", need_patient_banner: "yes" },
      { access_token: "a" },
    ],
    [{ access_token: "a", fhirContext: "x" }, { access_token: "a" }],
    [
      { access_token: "a", patient: "p1", fhirContext: [{ reference: "ImagingStudy/1" }, { type: "x" }] },
      { access_token: "a", patient: "p1", fhirContext: [{ reference: "ImagingStudy/1" }, {}] },
    ],
  ])("SEC-12 an answer %j", (said, read) => {
    const answer = tokenResponse.safeParse(said);
    expect(answer.success).toBe(read !== undefined);
    if (read) expect(answer.data).toEqual(read);
  });
});
