/**
 * Decision diagrams: a yes-or-no statement about several variables, each with a handful of values, as a graph in which equal parts are stored
 * once. Equal statements are then the same node, so that "always", "never" and "the same as" are one comparison.
 */

/** A statement: a node of one `Diagrams`. */
export type Node = number;
export const NEVER: Node = 0;
export const ALWAYS: Node = 1;
/** In a partial record: this variable is not decided. */
export const OPEN = 255;

const FIRST_CAPACITY = 1 << 16;
const REMEMBERED = 1 << 16;
const MOST_NODES = 0x1000000;
const AND = 1;
const OR = 2;
const NOT = 3;

/** All statements over one set of variables. A statement holds or not for each mix of values; variables are tested in their order. */
export class Diagrams {
  /** Values of each variable: the codes it may take, ascending. */
  readonly domains: readonly (readonly number[])[];
  private readonly places: readonly Int16Array[];
  private levels = new Uint16Array(FIRST_CAPACITY);
  private starts = new Int32Array(FIRST_CAPACITY);
  private nexts = new Int32Array(FIRST_CAPACITY);
  private branches = new Int32Array(FIRST_CAPACITY * 4);
  private heads = new Int32Array(FIRST_CAPACITY).fill(-1);
  private size = 2;
  private filled = 0;
  private kept = { size: 2, filled: 0, heads: this.heads.slice() };
  private readonly key = new Float64Array(REMEMBERED);
  private readonly result = new Int32Array(REMEMBERED);
  /** Bits of the variables that each node hangs on, in so many words. */
  private readonly words: number;
  private supports: Int32Array;
  private readonly decided: Int32Array;
  private stack = new Int32Array(FIRST_CAPACITY);
  private stacked = 0;
  private marks = new Int32Array(FIRST_CAPACITY);
  private copies = new Int32Array(FIRST_CAPACITY);
  private mark = 0;

  private readonly mostNodes: number;

  /**
   * @param domains for each variable, in the order in which they are tested, the codes (0 to 254) it may take
   * @param mostNodes beyond which it gives up with an Error rather than fill the memory
   */
  constructor(domains: readonly (readonly number[])[], mostNodes = MOST_NODES) {
    this.mostNodes = mostNodes;
    this.domains = domains;
    this.places = domains.map((codes) => {
      const places = new Int16Array(OPEN).fill(-1);
      codes.forEach((code, i) => {
        places[code] = i;
      });
      return places;
    });
    this.words = Math.max(1, Math.ceil(domains.length / 32));
    this.supports = new Int32Array(FIRST_CAPACITY * this.words);
    this.decided = new Int32Array(this.words);
    this.levels[NEVER] = this.levels[ALWAYS] = domains.length;
  }

  /** Number of nodes stored, both ends counted. */
  get nodes(): number {
    return this.size;
  }
  /** From here on `forget` comes back to this state. */
  keep(): void {
    this.kept = { size: this.size, filled: this.filled, heads: this.heads.slice() };
  }
  /** Forgets every node made since `keep`: statements made since then must not be used again. */
  forget(): void {
    const { size, filled, heads } = this.kept;
    this.size = size;
    this.filled = filled;
    // A new node stands before the older ones of its chain, so the old heads lead to the old nodes only.
    this.heads.set(heads);
    this.key.fill(0);
  }

  /** The variable that a statement tests first; the number of variables for `NEVER` and `ALWAYS`. */
  variableOf(node: Node): number {
    return this.levels[node]!;
  }

  /** The variable has one of these codes; codes it cannot take are ignored. */
  among(variable: number, codes: ReadonlySet<number>): Node {
    const to = this.filled;
    const domain = this.domains[variable]!;
    this.roomFor(domain.length);
    domain.forEach((code, i) => {
      this.branches[to + i] = codes.has(code) ? ALWAYS : NEVER;
    });
    return this.made(variable, to);
  }
  and(a: Node, b: Node): Node {
    if (a === NEVER || b === NEVER) return NEVER;
    if (a === ALWAYS || a === b) return b;
    if (b === ALWAYS) return a;
    return a < b ? this.applied(AND, a, b) : this.applied(AND, b, a);
  }
  or(a: Node, b: Node): Node {
    if (a === ALWAYS || b === ALWAYS) return ALWAYS;
    if (a === NEVER || a === b) return b;
    if (b === NEVER) return a;
    return a < b ? this.applied(OR, a, b) : this.applied(OR, b, a);
  }
  not(a: Node): Node {
    return a <= ALWAYS ? 1 - a : this.applied(NOT, a, a);
  }
  all(nodes: readonly Node[]): Node {
    return [...nodes].sort((a, b) => this.levels[b]! - this.levels[a]!).reduce((x, y) => this.and(x, y), ALWAYS);
  }
  any(nodes: readonly Node[]): Node {
    return [...nodes].sort((a, b) => this.levels[b]! - this.levels[a]!).reduce((x, y) => this.or(x, y), NEVER);
  }

  /** Whether a statement holds for a complete record. */
  holds(node: Node, codes: Uint8Array): boolean {
    let at = node;
    while (at > ALWAYS) {
      const variable = this.levels[at]!;
      at = this.branches[this.starts[at]! + this.places[variable]![codes[variable]!]!]!;
    }
    return at === ALWAYS;
  }

  /**
   * What each statement still says once the decided variables of a partial record are known.
   *
   * @param codes one code for each variable, `OPEN` where nothing is decided
   */
  restrict(nodes: readonly Node[], codes: Uint8Array): Node[] {
    return nodes.map(this.narrowing(codes));
  }
  /** `restrict` for one statement after another; it ends with the next `restrict` or `narrowing`. */
  narrowing(codes: Uint8Array): (node: Node) => Node {
    const mark = ++this.mark;
    this.decided.fill(0);
    codes.forEach((code, variable) => {
      if (code !== OPEN) this.decided[variable >> 5]! |= 1 << (variable & 31);
    });
    return (node) => {
      if (this.mark !== mark) throw new Error("decision diagrams: another narrowing has begun");
      return this.narrowed(node, codes);
    };
  }

  /** The variables that some of the statements hang on. */
  support(nodes: readonly Node[]): Set<number> {
    const found = new Int32Array(this.words);
    for (const node of nodes) for (let w = 0; w < this.words; w++) found[w]! |= this.supports[node * this.words + w]!;
    const variables = new Set<number>();
    for (let v = 0; v < this.domains.length; v++) if ((found[v >> 5]! >>> (v & 31)) & 1) variables.add(v);
    return variables;
  }

  /** Whether the statement hangs on the variable. */
  hangsOn(node: Node, variable: number): boolean {
    return ((this.supports[node * this.words + (variable >> 5)]! >>> (variable & 31)) & 1) === 1;
  }

  /** Number of complete records for which the statement holds, out of the product of all domains. */
  count(node: Node): number {
    const counted = new Map<Node, number>([
      [NEVER, 0],
      [ALWAYS, 1],
    ]);
    const between = (from: number, to: number) => {
      let product = 1;
      for (let v = from; v < to; v++) product *= this.domains[v]!.length;
      return product;
    };
    const below = (at: Node): number => {
      const known = counted.get(at);
      if (known !== undefined) return known;
      const variable = this.levels[at]!;
      let sum = 0;
      this.domains[variable]!.forEach((_, i) => {
        const part = this.branches[this.starts[at]! + i]!;
        sum += below(part) * between(variable + 1, this.levels[part]!);
      });
      counted.set(at, sum);
      return sum;
    };
    return below(node) * between(0, this.levels[node]!);
  }

  /**
   * Some partial record for which the statement holds whatever is still `OPEN`; undefined when there is none.
   *
   * @param preferred codes to keep to wherever the statement allows it
   */
  witness(node: Node, preferred?: Uint8Array): Uint8Array | undefined {
    if (node === NEVER) return undefined;
    const codes = new Uint8Array(this.domains.length).fill(OPEN);
    let at = node;
    while (at > ALWAYS) {
      const variable = this.levels[at]!;
      const domain = this.domains[variable]!;
      const start = this.starts[at]!;
      const liked = preferred ? domain.indexOf(preferred[variable]!) : -1;
      const i =
        liked >= 0 && this.branches[start + liked] !== NEVER
          ? liked
          : domain.findIndex((_, j) => this.branches[start + j] !== NEVER);
      codes[variable] = domain[i]!;
      at = this.branches[start + i]!;
    }
    return codes;
  }

  /** For each branch of each node below the given ones, one way to walk through it: codes on the way, all else `OPEN`. */
  *branchesOf(nodes: readonly Node[]): Generator<Uint8Array> {
    const seen = new Set<Node>();
    const way = new Uint8Array(this.domains.length).fill(OPEN);
    const self = this;
    function* below(node: Node): Generator<Uint8Array> {
      if (node <= ALWAYS || seen.has(node)) return;
      seen.add(node);
      const variable = self.levels[node]!;
      const domain = self.domains[variable]!;
      for (let i = 0; i < domain.length; i++) {
        way[variable] = domain[i]!;
        yield way.slice();
        yield* below(self.branches[self.starts[node]! + i]!);
      }
      way[variable] = OPEN;
    }
    for (const node of nodes) yield* below(node);
  }

  private applied(operation: number, a: Node, b: Node): Node {
    const key = (operation * MOST_NODES + a) * MOST_NODES + b;
    const slot = (Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b) ^ Math.imul(operation, 0x27d4eb2f)) >>> 16;
    if (this.key[slot] === key) return this.result[slot]!;
    const variable = Math.min(this.levels[a]!, this.levels[b]!);
    const { length } = this.domains[variable]!;
    const parts = this.onStack(length);
    for (let i = 0; i < length; i++) {
      const x = this.levels[a] === variable ? this.branches[this.starts[a]! + i]! : a;
      const y = this.levels[b] === variable ? this.branches[this.starts[b]! + i]! : b;
      const part = operation === AND ? this.and(x, y) : operation === OR ? this.or(x, y) : this.not(x);
      this.stack[parts + i] = part;
    }
    const node = this.fromStack(variable, parts);
    this.key[slot] = key;
    this.result[slot] = node;
    return node;
  }
  private narrowed(node: Node, codes: Uint8Array): Node {
    if (node <= ALWAYS) return node;
    if (this.marks[node] === this.mark) return this.copies[node]!;
    if (!this.hangsOnDecided(node)) return node;
    const variable = this.levels[node]!;
    const start = this.starts[node]!;
    const code = codes[variable]!;
    let copy: Node;
    if (code !== OPEN) copy = this.narrowed(this.branches[start + this.places[variable]![code]!]!, codes);
    else {
      const { length } = this.domains[variable]!;
      const parts = this.onStack(length);
      for (let i = 0; i < length; i++) {
        const part = this.branches[start + i]!;
        const known = part <= ALWAYS ? part : this.narrowed(part, codes);
        this.stack[parts + i] = known;
      }
      copy = this.fromStack(variable, parts);
    }
    this.marks[node] = this.mark;
    this.copies[node] = copy;
    return copy;
  }
  private hangsOnDecided(node: Node): boolean {
    const { words, supports, decided } = this;
    for (let w = 0, at = node * words; w < words; w++, at++) if (supports[at]! & decided[w]!) return true;
    return false;
  }
  /** Room for the branches of a node that is being made while deeper ones are. */
  private onStack(length: number): number {
    const at = this.stacked;
    this.stacked += length;
    if (this.stacked > this.stack.length) this.stack = widened(new Int32Array(this.stack.length * 2), this.stack);
    return at;
  }
  private fromStack(variable: number, at: number): Node {
    const length = this.stacked - at;
    const to = this.filled;
    this.roomFor(length);
    for (let i = 0; i < length; i++) this.branches[to + i] = this.stack[at + i]!;
    this.stacked = at;
    return this.made(variable, to);
  }
  /** The one node with the branches that stand at `to`; a test whose branches are all alike is no test. */
  private made(variable: number, to: number): Node {
    const { branches, words } = this;
    const { length } = this.domains[variable]!;
    const first = branches[to]!;
    let alike = true;
    for (let i = 1; i < length && alike; i++) alike = branches[to + i] === first;
    if (alike) return first;
    if (this.size === this.levels.length) this.grow();
    const slot = this.slotOf(variable, to);
    for (let node = this.heads[slot]!; node >= 0; node = this.nexts[node]!) {
      if (this.levels[node] !== variable) continue;
      const start = this.starts[node]!;
      let equal = true;
      for (let i = 0; i < length && equal; i++) equal = branches[start + i] === branches[to + i];
      if (equal) return node;
    }
    const node = this.size++;
    this.levels[node] = variable;
    this.starts[node] = to;
    this.nexts[node] = this.heads[slot]!;
    this.heads[slot] = node;
    this.filled = to + length;
    for (let w = 0; w < words; w++) {
      let bits = w === variable >> 5 ? 1 << (variable & 31) : 0;
      for (let i = 0; i < length; i++) bits |= this.supports[branches[to + i]! * words + w]!;
      this.supports[node * words + w] = bits;
    }
    return node;
  }
  private slotOf(variable: number, start: number): number {
    let hash = variable;
    for (let i = this.domains[variable]!.length - 1; i >= 0; i--)
      hash = Math.imul(hash ^ this.branches[start + i]!, 0x9e3779b1) ^ (hash >>> 13);
    return (hash ^ (hash >>> 15)) & (this.heads.length - 1);
  }
  private roomFor(more: number): void {
    if (this.filled + more > this.branches.length)
      this.branches = widened(new Int32Array(this.branches.length * 2), this.branches);
  }
  private grow(): void {
    const capacity = this.levels.length * 2;
    if (capacity > this.mostNodes) throw new Error("decision diagrams: too many nodes");
    this.levels = widened(new Uint16Array(capacity), this.levels);
    this.starts = widened(new Int32Array(capacity), this.starts);
    this.supports = widened(new Int32Array(capacity * this.words), this.supports);
    this.marks = widened(new Int32Array(capacity), this.marks);
    this.copies = widened(new Int32Array(capacity), this.copies);
    this.nexts = new Int32Array(capacity);
    this.heads = new Int32Array(capacity).fill(-1);
    this.enter(2, this.kept.size);
    this.kept.heads = this.heads.slice();
    this.enter(this.kept.size, this.size);
  }
  private enter(from: number, end: number): void {
    for (let node = from; node < end; node++) {
      const slot = this.slotOf(this.levels[node]!, this.starts[node]!);
      this.nexts[node] = this.heads[slot]!;
      this.heads[slot] = node;
    }
  }
}

function widened<A extends Int32Array | Uint16Array>(made: A, old: A): A {
  made.set(old);
  return made;
}
