/** The same reads as ours, one after another, as code that awaits each request does. */
import FHIR from "fhirclient";
import { chartSearches } from "../../../src/fhir/searches.ts";

const client = await FHIR.oauth2.ready();
const encounterId = client.encounter.id;
const today = new Date().toLocaleDateString("sv");
for (const { query } of chartSearches(client.patient.id!, { today, ...(encounterId ? { encounterId } : {}) }))
  await client.request(query);
document.title = "ready";
