/** The launch as fhirclient's own guide shows it. */
import FHIR from "fhirclient";
import { scopesFor } from "../../../src/smart/scopes.ts";

const scope = scopesFor({ launch: "ehr", syntax: "v2", onlineAccess: true, openId: true });
FHIR.oauth2.authorize({ clientId: "bench-sequential", scope, redirectUri: "index.html", pkceMode: "required" });
