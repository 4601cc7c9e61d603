/** For one place: what it costs to push one visit from a day to another, and the cheapest row of such pushes. */
export const NOWHERE = 1_000_000_000;

/** Days that are passed one after another; in a ring the last pushes to the first. */
export interface Row {
  readonly days: readonly number[];
  readonly ring: boolean;
}

export class Pushes {
  /** Cheapest single push from one day to another, and the visit that it moves. */
  private readonly one: Int32Array;
  private readonly by: Int32Array;
  /** First and last day to which a day pushes, apart from the last of all, which is none: windows are short, so most pairs need no look. */
  private readonly low: Int32Array;
  private readonly high: Int32Array;
  /** Cheapest row of pushes, as it was when last counted. */
  private readonly all: Int32Array;
  private readonly toFree: Int32Array;
  // Working memory of one search.
  private readonly least: Int32Array;
  private readonly from: Int32Array;
  private readonly waiting: Uint8Array;
  private readonly turns: Int32Array;
  private readonly queue: Int32Array;

  constructor(readonly size: number) {
    const pairs = size * size;
    [this.one, this.by, this.all] = [new Int32Array(pairs), new Int32Array(pairs), new Int32Array(pairs)];
    [this.toFree, this.least, this.from] = [new Int32Array(size), new Int32Array(size), new Int32Array(size)];
    [this.waiting, this.turns, this.queue] = [new Uint8Array(size), new Int32Array(size), new Int32Array(size)];
    [this.low, this.high] = [new Int32Array(size).fill(size), new Int32Array(size).fill(-1)];
    this.one.fill(NOWHERE);
  }
  /** Forgets the pushes that start on a day. */
  clear(day: number): void {
    this.one.fill(NOWHERE, day * this.size, (day + 1) * this.size);
    this.low[day] = this.size;
    this.high[day] = -1;
  }
  offer(day: number, to: number, cost: number, v: number): void {
    const at = day * this.size + to;
    if (cost >= this.one[at]!) return;
    this.one[at] = cost;
    this.by[at] = v;
    if (to === this.size - 1) return;
    if (to < this.low[day]!) this.low[day] = to;
    if (to > this.high[day]!) this.high[day] = to;
  }
  /** The visit that the cheapest push moves. */
  who(day: number, to: number): number {
    return this.by[day * this.size + to]!;
  }

  /**
   * The cheapest row of pushes from any of the days where `start` is below NOWHERE to a day with a free seat, at a total below `limit`; or a
   * ring of pushes that gains by itself, if the search meets one (Bellman, Ford and Moore).
   */
  cheapest(start: Int32Array, isFree: (day: number) => boolean, limit: number): Row | undefined {
    const { size, one, least, from, waiting, turns, queue } = this;
    least.set(start);
    from.fill(-1);
    turns.fill(0);
    let head = 0;
    let count = 0;
    for (let day = 0; day < size; day++) {
      waiting[day] = start[day]! < NOWHERE ? 1 : 0;
      if (waiting[day]) queue[count++] = day;
    }
    while (count > 0) {
      const day = queue[head]!;
      head = (head + 1) % size;
      count--;
      waiting[day] = 0;
      turns[day]!++;
      if (turns[day]! > size) return { days: this.ringAt(day), ring: true };
      const cost = least[day]!;
      const row = day * size;
      const last = this.high[day]!;
      for (let to = this.low[day]!; ; to++) {
        if (to > last) to = size - 1;
        const push = one[row + to]!;
        if (push < NOWHERE && cost + push < least[to]!) {
          least[to] = cost + push;
          from[to] = day;
          if (waiting[to] === 0) {
            waiting[to] = 1;
            queue[(head + count++) % size] = to;
          }
        }
        if (to === size - 1) break;
      }
    }
    let end = -1;
    for (let day = 0; day < size; day++) if (least[day]! < (end < 0 ? limit : least[end]!) && isFree(day)) end = day;
    if (end < 0) return undefined;
    const days: number[] = [];
    for (let day = end; day >= 0; day = from[day]!) {
      if (days.includes(day)) return { days: this.ringAt(day), ring: true };
      days.unshift(day);
    }
    return { days, ring: false };
  }
  private ringAt(day: number): number[] {
    let at = day;
    for (let i = 0; i < this.size; i++) at = this.from[at]! < 0 ? at : this.from[at]!;
    const ring = [at];
    for (let back = this.from[at]!; back !== at && back >= 0 && ring.length <= this.size; back = this.from[back]!)
      ring.unshift(back);
    return ring;
  }

  /** Counts the cheapest rows between all pairs of days (Floyd and Warshall). There must be no ring that gains. */
  countAll(isFree: (day: number) => boolean): void {
    const { size, one, all, toFree } = this;
    all.set(one);
    for (let day = 0; day < size; day++) all[day * size + day] = 0;
    for (let k = 0; k < size; k++) {
      const stop = k * size;
      for (let i = 0; i < size; i++) {
        const first = all[i * size + k]!;
        if (i === k || first >= NOWHERE) continue;
        const row = i * size;
        for (let j = 0; j < size; j++) {
          const second = all[stop + j]!;
          if (second < NOWHERE && first + second < all[row + j]!) all[row + j] = first + second;
        }
      }
    }
    toFree.fill(NOWHERE);
    for (let to = 0; to < size; to++) {
      if (!isFree(to)) continue;
      for (let day = 0; day < size; day++) toFree[day] = Math.min(toFree[day]!, all[day * size + to]!);
    }
  }
  /** Cost of making room on a day when a seat becomes free on another, as last counted. */
  room(day: number, freed: number): number {
    return Math.min(this.toFree[day]!, this.all[day * this.size + freed]!);
  }
}
