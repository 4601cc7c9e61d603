/** Milliseconds. A clock that is off by less is a clock of everyday use. [common practice, no source] */
const TOLERANCE = 5 * 60_000;

/** What the record system's answers say of the time; this computer's own clock may be wrong by a day. */
export class ServerClock {
  #ahead: number | undefined;

  /**
   * @param date the `Date` header of an answer (RFC 9110 6.6.1); null where the server does not expose it
   * @param kept the answer may come out of the browser's cache: its date is an old one, so it only counts where it makes
   *   the server's clock later
   */
  hear(date: string | null, kept?: boolean): void {
    const ahead = Date.parse(date ?? "") - Date.now();
    if (!Number.isNaN(ahead) && !(kept && this.#ahead! > ahead)) this.#ahead = ahead;
  }
  /** False while no answer has told the time. */
  get heard(): boolean {
    return this.#ahead !== undefined;
  }
  /** Milliseconds by which the server's clock is ahead of this computer's; 0 within five minutes, or when unknown. */
  get off(): number {
    const ahead = this.#ahead ?? 0;
    return Math.abs(ahead) > TOLERANCE ? ahead : 0;
  }
  /** The present moment: the server's where the two clocks disagree. */
  now(): Date {
    return new Date(Date.now() + this.off);
  }
}
