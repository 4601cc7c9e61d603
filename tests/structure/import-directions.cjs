/** Which room may import which. Each rule says why; the test beside it plants wrong imports to show that they are caught. */

const within = (name, room, mayImport, comment) => ({
  name,
  comment,
  severity: "error",
  from: { path: `^${room}` },
  to: { path: "^(src|launch|fixtures|tests)/", pathNot: [room, ...mayImport].map((r) => `^${r}`) },
});
/** The door, and the light doors beside it: what is asked, first and in all, for whoever must not wait for the rules. */
const PATHWAY = "src/pathway/(?:index|(?:all-)?asked)[.]ts$";
/** The texts of the sources are many: who shows them may load them later than the rules. */
const SOURCE_TEXTS = "src/pathway/evidence/sources[.]ts$";
/** The book for reviewers: a door for commands alone, so that no browser ever loads it. */
const BOOK = "src/pathway/book/index[.]ts$";
/** How a wrong input is told: for every room that reads a file, without the rules. */
const INPUT_PROBLEMS = "src/pathway/input-problem[.]ts$";
/** Calendars of public holidays weigh 12 MB: a door for commands alone. */
const HOLIDAYS = "src/scheduling/holidays[.]ts$";
/** Lists over many patients: searches and the one transport, which a command needs as a screen does. */
const LISTS = "src/smart/(?:transport|nothing-lost|clinic-list|clinic-times|fhir-address)[.]ts$";
const SHARED = "(?:reasoning|evidence|policy|hand)";

module.exports = {
  forbidden: [
    within("pathway-is-pure", "src/pathway/", [], "The clinical rules know no FHIR, no browser and no React."),
    within(
      "scheduling-is-pure",
      "src/scheduling/",
      [PATHWAY, INPUT_PROBLEMS],
      "Visits and windows to slots: no FHIR, no screen.",
    ),
    {
      name: "scheduling-packages",
      comment: "Pure scheduling needs validation and calendar arithmetic, nothing else.",
      severity: "error",
      from: { path: "^src/scheduling/", pathNot: HOLIDAYS },
      to: { path: "node_modules/", pathNot: "node_modules/(zod|date-fns|@date-fns/tz)/" },
    },
    {
      name: "holidays-for-commands-only",
      comment:
        "The calendars of public holidays weigh 12 MB, and their data has a licence of its own: no screen loads them.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/cli/" },
      to: { path: HOLIDAYS },
    },
    {
      name: "one-reader-of-holidays",
      comment: "Who needs public holidays asks the one file that reads them.",
      severity: "error",
      from: { path: "^src/", pathNot: HOLIDAYS },
      to: { path: "node_modules/date-holidays" },
    },
    within("coding-is-pure", "src/coding/", [PATHWAY], "Codes and their order: no FHIR, no screen."),
    within(
      "fhir-maps",
      "src/fhir/",
      [PATHWAY, "src/scheduling/", "src/coding/"],
      "Mapping both ways: no network, no screen.",
    ),
    within("smart-carries", "src/smart/", ["src/fhir/"], "Session and transport: no clinical rule in here."),
    within(
      "app-shows",
      "src/app/",
      [PATHWAY, SOURCE_TEXTS, "src/scheduling/", "src/coding/", "src/fhir/", "src/smart/"],
      "Screens stand on every room; none stands on them.",
    ),
    within(
      "cli-is-beside-the-app",
      "src/cli/",
      [PATHWAY, BOOK, SOURCE_TEXTS, LISTS, "src/scheduling/", "src/coding/", "src/fhir/"],
      "Commands use the same doors as the screens, and neither session nor screen.",
    ),
    within(
      "launch-is-an-outsider",
      "launch/",
      ["fixtures/"],
      "The practice EHR must not lean on the app it exercises.",
    ),
    within("fixtures-stand-alone", "fixtures/", [], "Invented charts are data for every room."),
    {
      name: "modules-are-neighbours",
      comment: "What two injuries share belongs in pathway/hand.",
      severity: "error",
      from: { path: `^src/pathway/(?!${SHARED}/)([^/]+)/` },
      to: { path: `^src/pathway/(?!(?:${SHARED}|safety)/)[^/]+/`, pathNot: "^src/pathway/$1/" },
    },
    {
      name: "hand-knows-no-module",
      comment: "The shared truths of the hand must not depend on one injury.",
      severity: "error",
      from: { path: `^src/pathway/${SHARED}/` },
      to: { path: `^src/pathway/(?!${SHARED}/)[^/]+/` },
    },
    {
      name: "reasoning-knows-no-hand",
      comment: "The engine reads any findings: it knows no anatomy.",
      severity: "error",
      from: { path: "^src/pathway/(?:reasoning|evidence|policy)/" },
      to: { path: "^src/pathway/hand/" },
    },
    {
      name: "book-is-for-reviewers",
      comment: "The book reads every rule; no rule and no screen reads the book.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/(cli|pathway/book)/" },
      to: { path: "^src/pathway/book/" },
    },
    {
      name: "safety-is-for-reviewers",
      comment: "The book prints the safety file; no rule and no screen reads it.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/pathway/(book|safety)/" },
      to: { path: "^src/pathway/safety/" },
    },
    {
      name: "pathway-packages",
      comment: "Pure rules need validation and date arithmetic, nothing else.",
      severity: "error",
      from: { path: "^src/pathway/" },
      to: { path: "node_modules/", pathNot: "node_modules/(zod|date-fns)/" },
    },
    {
      name: "node-in-cli-only",
      comment: "All else runs in a browser.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/cli/" },
      to: { dependencyTypes: ["core"] },
    },
    {
      name: "fhirclient-in-smart-only",
      comment: "One room holds the session.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/smart/" },
      to: { path: "node_modules/fhirclient/" },
    },
    {
      name: "react-in-app-only",
      comment: "Rules and mapping outlive the screens.",
      severity: "error",
      from: { path: "^src/", pathNot: "^src/app/" },
      to: { path: "node_modules/(@types/)?react(-dom)?/" },
    },
    {
      name: "no-test-package-ships",
      comment: "What is only installed for development is not there for a user; types alone vanish in the build.",
      severity: "error",
      from: { path: "^src/" },
      to: { dependencyTypes: ["npm-dev"], dependencyTypesNot: ["type-only"] },
    },
    {
      name: "nothing-unknown",
      comment: "An import that leads nowhere would also hide where it leads.",
      severity: "error",
      from: {},
      to: { couldNotResolve: true },
    },
    {
      name: "no-circles",
      comment: "A circle of rooms has no first one to read. Types alone may refer to one another.",
      severity: "error",
      from: {},
      to: { circular: true, viaOnly: { dependencyTypesNot: ["type-only"] } },
    },
  ],
  options: {
    tsPreCompilationDeps: true,
    tsConfig: { fileName: "tsconfig.json" },
    doNotFollow: { path: "node_modules" },
    enhancedResolveOptions: {
      exportsFields: ["exports"],
      conditionNames: ["import", "require", "node", "default", "types"],
      mainFields: ["module", "main", "types", "typings"],
    },
  },
};
