/**
 * One chart at a time: when Fingerpost is opened again, in this tab or another one, the page that was open before can be read
 * but no longer written in. A record system does not tell its plugins that the clinician went on to another patient.
 */
import { rememberedLaunch } from "../../smart/handshake.ts";
import type { Problem } from "../../smart/problem.ts";
import type { PatientContext } from "../../smart/session.ts";
import { slot } from "../draft-keeper.ts";
import { words } from "./words.ts";

/** Why a page is set aside: another window opened this chart or another one, or a newer launch took this tab's place. */
export interface Aside {
  readonly by: "other-chart" | "same-chart";
  /** The page may go on if the clinician says so. */
  readonly mayGoOn: boolean;
}

/** Holds no patient data: the chart is named by a number that only tells whether it is the same. */
interface Opened {
  readonly launchId: string;
  readonly chart: string;
}
const CHANNEL = "fingerpost.opened";

export class OneWindow {
  #aside: Aside | undefined;
  readonly #own: Opened;
  readonly #listeners = new Set<() => void>();
  #channel: BroadcastChannel | undefined;

  constructor(context: PatientContext) {
    this.#own = { launchId: context.launchId, chart: slot({ ...context, user: "" }) };
  }
  readonly aside = (): Aside | undefined => this.#aside;
  readonly onChange = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };
  #set(aside: Aside | undefined): void {
    this.#aside = aside;
    for (const listener of this.#listeners) listener();
  }

  /** Tells the other windows that this page is open, and listens for newer ones; returns what ends both. */
  open(): () => void {
    const look = () => this.#lookAtTab();
    window.addEventListener("pageshow", look);
    window.addEventListener("focus", look);
    window.addEventListener("storage", look);
    if (typeof BroadcastChannel === "function") {
      this.#channel = new BroadcastChannel(CHANNEL);
      this.#channel.onmessage = ({ data }: MessageEvent<Partial<Opened> | undefined>) => {
        if (typeof data?.launchId !== "string" || data.launchId === this.#own.launchId) return;
        this.#set({ by: data.chart === this.#own.chart ? "same-chart" : "other-chart", mayGoOn: true });
        look();
      };
      this.#channel.postMessage(this.#own);
    }
    look();
    return () => {
      this.#channel?.close();
      this.#channel = undefined;
      window.removeEventListener("pageshow", look);
      window.removeEventListener("focus", look);
      window.removeEventListener("storage", look);
    };
  }
  /** A newer launch that was finished in this very tab has taken its place: that cannot be taken back. */
  #lookAtTab(): void {
    const newest = rememberedLaunch();
    if (!newest?.signedInAt || newest.launchId === this.#own.launchId) return;
    if (this.#aside?.mayGoOn !== false) this.#set({ by: this.#aside?.by ?? "other-chart", mayGoOn: false });
  }

  /** The clinician goes on with this chart here: the other windows are set aside instead. */
  goOn(): void {
    if (this.#aside?.mayGoOn !== true) return;
    this.#set(undefined);
    this.#channel?.postMessage(this.#own);
  }
  /** Why nothing may be written from this page, if it was set aside. */
  readonly problem = (): Problem | undefined =>
    this.#aside && {
      kind: "aside",
      title: words.aside.title[this.#aside.by],
      what: words.aside.what,
      next: this.#aside.mayGoOn ? words.aside.next : words.aside.replaced,
    };
}

const WINDOWS = new WeakMap<PatientContext, OneWindow>();
/** The one of this session. */
export function oneWindowOf(context: PatientContext): OneWindow {
  const one = WINDOWS.get(context) ?? new OneWindow(context);
  WINDOWS.set(context, one);
  return one;
}
