/** Files of `tests/browser` that are run unchanged against a stock FHIR server. A journey of a new screen is one more row. */
export interface Journey {
  readonly file: string;
  /** It opens the chart of some 2,500 entries, which a stock server takes long to load. */
  readonly heavy?: true;
  /** It needs the two clinics with their patients and times. */
  readonly clinics?: true;
  /** It tries the sign-in, which is ours also before a stock server: run by `npm run interop`, not in every run from a clean checkout. */
  readonly ofSignIn?: true;
}
export const JOURNEYS: readonly Journey[] = [
  { file: "main-path.test.ts" },
  { file: "plan-life.test.ts" },
  { file: "frames.test.ts", ofSignIn: true },
  { file: "clinic.test.ts", clinics: true },
  { file: "coder.test.ts" },
  { file: "safe-stops.test.ts", heavy: true, ofSignIn: true },
];
