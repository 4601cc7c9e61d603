import fractures from "./tables/icd10cm-2027-fractures.json" with { type: "json" };

/** One edition of an official table: where it comes from, and the days (yyyy-MM-dd, both included) it holds for. */
export interface Edition {
  /** FHIR system. */
  readonly system: string;
  /** For Coding.version. */
  readonly version: string;
  readonly name: string;
  readonly from: string;
  readonly to: string;
  readonly origin: string;
  readonly rights: string;
}
/** The rows of an edition that this program can name. */
export interface CodeTable {
  readonly edition: Edition;
  /** The official description of a billable code, unchanged; undefined for a code that is not billable or not in the table. */
  describe(code: string): string | undefined;
  /** Billable codes that begin so, in the order of the table. */
  beginning(start: string): readonly string[];
}
/** code, billable (1/0), official description */
export type TableRow = readonly [code: string, billable: number, description: string];
interface TableFile {
  readonly system: string;
  readonly edition: string;
  readonly name: string;
  readonly effectiveFrom: string;
  readonly effectiveTo: string;
  readonly origin: string;
  readonly rights: string;
  readonly rows: readonly TableRow[];
}
const rowsOf = (file: { readonly rows: unknown }) => file.rows as readonly TableRow[];
const editionOf = (file: Omit<TableFile, "rows">): Edition => ({
  system: file.system,
  version: file.edition,
  name: file.name,
  from: file.effectiveFrom,
  to: file.effectiveTo,
  origin: file.origin,
  rights: file.rights,
});
/** A table of these rows; only billable rows can be given. */
export function codeTable(edition: Edition, rows: readonly TableRow[]): CodeTable {
  const billable = new Map(rows.flatMap(([code, flag, text]) => (flag === 1 ? [[code, text] as const] : [])));
  return {
    edition,
    describe: (code) => billable.get(code),
    beginning: (start) => [...billable.keys()].filter((code) => code.startsWith(start)),
  };
}

/** Rows of the fractures: small enough to come with the sign-off. */
export const FRACTURE_ROWS = rowsOf(fractures);
export const FRACTURE_TABLE = codeTable(editionOf(fractures), FRACTURE_ROWS);

/** The editions of ICD-10-CM that ship, newest last. Loading reads the large file only then. */
const EDITIONS: readonly { readonly edition: Edition; readonly load: () => Promise<CodeTable> }[] = [
  {
    edition: FRACTURE_TABLE.edition,
    load: async () => {
      const { default: companions } = await import("./tables/icd10cm-2027-companions.json", { with: { type: "json" } });
      return codeTable(editionOf(companions), [...FRACTURE_ROWS, ...rowsOf(companions)]);
    },
  },
];
export const SHIPPED_EDITIONS: readonly Edition[] = EDITIONS.map(({ edition }) => edition);

const DAY = /^\d{4}-\d{2}-\d{2}$/;
/** Whether an edition holds on a day, yyyy-MM-dd; a day that is none is held by no edition. */
export const inForce = ({ from, to }: Pick<Edition, "from" | "to">, day: string): boolean =>
  DAY.test(day) && from <= day && day <= to;
/** What to say when no edition holds on a day. */
export const noEdition = (day: string): string =>
  `No ICD-10-CM table here holds on ${day}; ${SHIPPED_EDITIONS.map((e) => `${e.name} holds from ${e.from} to ${e.to}`).join("; ")}. Nothing is coded: take the edition of that day.`;

/** The table of the edition that holds on a day (yyyy-MM-dd); undefined when none does. Loads it, once. */
export async function tableOn(day: string): Promise<CodeTable | undefined> {
  const found = EDITIONS.find(({ edition }) => inForce(edition, day));
  return found && loaded(found);
}
const tables = new Map<string, Promise<CodeTable>>();
function loaded({ edition, load }: (typeof EDITIONS)[number]): Promise<CodeTable> {
  const before = tables.get(edition.version) ?? load();
  tables.set(edition.version, before);
  // A load that failed is tried again the next time.
  before.catch(() => tables.delete(edition.version));
  return before;
}
/** Every shipped table, for who codes many days in one run. */
export const allTables = (): Promise<readonly CodeTable[]> => Promise.all(EDITIONS.map(loaded));
