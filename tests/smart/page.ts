/** A browser page in miniature: address, history, tab storage and page locks, so that session code runs in Node. */
import { vi } from "vitest";

interface Held {
  readonly name: string;
  readonly by: object;
}

/** What one browser has in common between its tabs. */
export class Browser {
  private held: Held[] = [];
  private waiting: (() => void)[] = [];

  locksOf(page: object) {
    const request = async (name: string, ...rest: unknown[]): Promise<unknown> => {
      const task = rest.at(-1) as () => Promise<unknown>;
      const signal = (rest.length > 1 ? rest[0] : {}) as { signal?: AbortSignal };
      while (this.held.some((one) => one.name === name)) {
        await new Promise<void>((resolve, reject) => {
          this.waiting.push(resolve);
          signal.signal?.addEventListener("abort", () => reject(signal.signal?.reason));
        });
      }
      this.held.push({ name, by: page });
      try {
        return await task();
      } finally {
        this.letGo((one) => one.name === name);
      }
    };
    return { request };
  }

  closed(page: object): void {
    this.letGo((one) => one.by === page);
  }

  private letGo(which: (one: Held) => boolean): void {
    this.held = this.held.filter((one) => !which(one));
    for (const go of this.waiting.splice(0)) go();
  }
}

export interface Tab {
  readonly browser: Browser;
  readonly storage: Map<string, string>;
  /** Whole address the bar shows. */
  address(): string;
  /** Every address the history ever held. */
  readonly visited: string[];
  state: unknown;
  readonly page: object;
}

export interface TabOptions {
  readonly browser?: Browser;
  readonly storage?: Map<string, string>;
  readonly state?: unknown;
  readonly storageBlocked?: boolean;
  readonly insecure?: boolean;
  /** Origins of the pages around this one, when it is in a frame. */
  readonly frameIn?: readonly string[];
}

/** Opens `href` as the current page of the process; the modules under test start anew, as in a fresh page. */
export function openTab(href: string, options: TabOptions = {}): Tab {
  vi.resetModules();
  const browser = options.browser ?? new Browser();
  const storage = options.storage ?? new Map<string, string>();
  const page = {};
  let url = new URL(href);
  const tab: Tab = { browser, storage, address: () => url.href, visited: [], state: options.state ?? null, page };

  const blocked = () => {
    if (options.storageBlocked) throw new DOMException("The operation is insecure.", "SecurityError");
  };
  const sessionStorage = {
    getItem: (key: string) => {
      blocked();
      return storage.get(key) ?? null;
    },
    setItem: (key: string, value: string) => {
      blocked();
      storage.set(key, value);
    },
    removeItem: (key: string) => {
      blocked();
      storage.delete(key);
    },
  };
  const location = {
    get href() {
      return url.href;
    },
    get pathname() {
      return url.pathname;
    },
    get hash() {
      return url.hash;
    },
    get origin() {
      return url.origin;
    },
    ancestorOrigins: options.frameIn ?? [],
    toString: () => url.href,
  };
  const history = {
    get state() {
      return tab.state;
    },
    replaceState(state: unknown, _title: string, to: string) {
      tab.state = state;
      url = new URL(to, url);
      tab.visited.push(url.href);
    },
  };
  const window: Record<string, unknown> = { location, history, sessionStorage };
  window.top = options.frameIn ? {} : window;
  window.parent = window.top;
  vi.stubGlobal("window", window);
  vi.stubGlobal("self", window);
  vi.stubGlobal("location", location);
  vi.stubGlobal("history", history);
  vi.stubGlobal("sessionStorage", sessionStorage);
  vi.stubGlobal("navigator", { locks: browser.locksOf(page) });
  vi.stubGlobal("isSecureContext", !options.insecure);
  return tab;
}

/** Reloads: same tab, same storage, new page. */
export function reload(tab: Tab, href = tab.address()): Tab {
  tab.browser.closed(tab.page);
  return openTab(href, { browser: tab.browser, storage: tab.storage, state: tab.state });
}

/** Duplicates the tab as browsers do: with a copy of its storage. */
export function duplicate(tab: Tab): Tab {
  return openTab(tab.address(), { browser: tab.browser, storage: new Map(tab.storage), state: tab.state });
}
