/** The CapabilityStatement of the practice EHR (R4 capabilitystatement.html): says only what is implemented. */
import { EVERYTHING, type Offered } from "./behaviour.ts";
import { STORED_TYPES, searchParametersOf } from "./definitions.ts";
import type { Resource } from "./exchange.ts";

export interface Addresses {
  base: string;
  authorize: string;
  token: string;
}

/**
 * @param startedAt ISO instant of the start of this server
 * @param offered what the practice switches leave of it
 */
export function capabilityStatement(
  { base, authorize, token }: Addresses,
  startedAt: string,
  offered: Offered = EVERYTHING,
): Resource {
  const shown = offered.stated ? offered : EVERYTHING;
  const oauth = (url: string, valueUri: string) => ({ url, valueUri });
  return {
    resourceType: "CapabilityStatement",
    status: "active",
    date: startedAt,
    kind: "instance",
    publisher: "Fingerpost practice EHR",
    software: { name: "Fingerpost practice EHR", version: "1" },
    implementation: {
      description: "Local practice server with invented people only. Not for patient care.",
      url: base,
    },
    fhirVersion: "4.0.1",
    format: ["application/fhir+json", "json"],
    patchFormat: ["application/json-patch+json"],
    rest: [
      {
        mode: "server",
        security: {
          cors: true,
          service: [
            {
              coding: [
                { system: "http://terminology.hl7.org/CodeSystem/restful-security-service", code: "SMART-on-FHIR" },
              ],
            },
          ],
          extension: [
            {
              url: "http://fhir-registry.smarthealthit.org/StructureDefinition/oauth-uris",
              extension: [oauth("authorize", authorize), oauth("token", token)],
            },
          ],
        },
        resource: [...STORED_TYPES].map((type) => resourceCapability(type, shown)),
        interaction: [...(shown.transaction ? ["transaction"] : []), "batch", "history-system"].map((code) => ({
          code,
        })),
        operation: [
          { name: "validate", definition: "http://hl7.org/fhir/OperationDefinition/Resource-validate" },
          { name: "everything", definition: "http://hl7.org/fhir/OperationDefinition/Patient-everything" },
        ],
      },
    ],
  };
}

const INTERACTIONS = [
  "read",
  "vread",
  "update",
  "patch",
  "delete",
  "history-instance",
  "history-type",
  "create",
  "search-type",
];

const WRITING = ["create", "update", "patch", "delete"];
const CHANGING = ["update", "patch"];

function resourceCapability(type: string, offered: Offered) {
  const left = INTERACTIONS.filter(
    (code) =>
      !(offered.readOnly && WRITING.includes(code)) &&
      !(offered.noCreate.includes(type) && code === "create") &&
      !(offered.noUpdate.includes(type) && CHANGING.includes(code)),
  );
  const { searchParam, references, pointingHere } = searchesOf(type);
  return {
    type,
    interaction: left.map((code) => ({ code })),
    versioning: "versioned-update",
    readHistory: true,
    updateCreate: left.includes("update") && left.includes("create"),
    conditionalCreate: offered.conditionalCreate && left.includes("create"),
    conditionalRead: "full-support",
    conditionalUpdate: left.includes("update"),
    conditionalDelete: left.includes("delete") ? "single" : "not-supported",
    referencePolicy: ["literal", "logical", "enforced"],
    ...(references.length > 0 ? { searchInclude: ["*", ...references] } : {}),
    ...(pointingHere.length > 0 ? { searchRevInclude: pointingHere } : {}),
    searchParam,
  };
}

/** How a type is searched never changes; looking through all definitions takes long, and the statement is asked for at every launch. */
const SEARCHES = new Map<string, ReturnType<typeof searchesOfType>>();
function searchesOf(type: string) {
  const known = SEARCHES.get(type) ?? searchesOfType(type);
  SEARCHES.set(type, known);
  return known;
}
function searchesOfType(type: string) {
  const params = searchParametersOf(type).filter(
    ({ type: kind, expression }) => expression && kind !== "composite" && kind !== "special",
  );
  return {
    searchParam: params.map(({ code, type: kind, url }) => ({ name: code, definition: url, type: kind })),
    references: params.filter(({ type: kind }) => kind === "reference").map(({ code }) => `${type}:${code}`),
    pointingHere: [...STORED_TYPES].flatMap((other) =>
      searchParametersOf(other)
        .filter(({ type: kind, target }) => kind === "reference" && (target as string[] | undefined)?.includes(type))
        .map(({ code }) => `${other}:${code}`),
    ),
  };
}
