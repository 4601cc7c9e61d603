/** What the screens take from the readers of the chart; one chunk that arrives while the chart is being read. */
export { chartFrom } from "../fhir/chart.ts";
export { proposalsFrom } from "./chart-proposals.ts";
export { ChartDetails } from "./parts/chart-status.tsx";
export { CodersAsk } from "./parts/coders-ask.tsx";
export { EarlierPlans } from "./parts/earlier-plans.tsx";
export { OpenedImaging } from "./parts/opened-imaging.tsx";
export { PatientBanner } from "./parts/patient-banner.tsx";
export { UnfinishedPlans } from "./parts/unfinished-plans.tsx";
