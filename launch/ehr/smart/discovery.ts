/** What the authorization server says of itself (SMART App Launch 2.2 section 6, OpenID Connect Discovery). */
export interface SmartAddresses {
  fhirBase: string;
  issuer: string;
  authorize: string;
  token: string;
  introspect: string;
  revoke: string;
  jwks: string;
}
export const SCOPES_SUPPORTED = [
  "openid",
  "fhirUser",
  "launch",
  "launch/patient",
  "launch/encounter",
  "offline_access",
  "online_access",
  "patient/*.cruds",
  "user/*.cruds",
  "patient/*.read",
  "patient/*.write",
  "user/*.read",
  "user/*.write",
];

export const smartConfiguration = ({ issuer, authorize, token, introspect, revoke, jwks }: SmartAddresses) => ({
  issuer,
  jwks_uri: jwks,
  authorization_endpoint: authorize,
  token_endpoint: token,
  introspection_endpoint: introspect,
  revocation_endpoint: revoke,
  grant_types_supported: ["authorization_code", "refresh_token"],
  response_types_supported: ["code"],
  code_challenge_methods_supported: ["S256"],
  token_endpoint_auth_methods_supported: ["none"],
  scopes_supported: SCOPES_SUPPORTED,
  capabilities: [
    "launch-ehr",
    "launch-standalone",
    "authorize-post",
    "client-public",
    "sso-openid-connect",
    "context-banner",
    "context-style",
    "context-ehr-patient",
    "context-ehr-encounter",
    "context-standalone-patient",
    "permission-offline",
    "permission-online",
    "permission-patient",
    "permission-user",
    "permission-v1",
    "permission-v2",
  ],
});

export const openidConfiguration = (addresses: SmartAddresses) => ({
  issuer: addresses.issuer,
  authorization_endpoint: addresses.authorize,
  token_endpoint: addresses.token,
  jwks_uri: addresses.jwks,
  introspection_endpoint: addresses.introspect,
  revocation_endpoint: addresses.revoke,
  response_types_supported: ["code"],
  grant_types_supported: ["authorization_code", "refresh_token"],
  subject_types_supported: ["public"],
  id_token_signing_alg_values_supported: ["RS256"],
  code_challenge_methods_supported: ["S256"],
  token_endpoint_auth_methods_supported: ["none"],
  scopes_supported: SCOPES_SUPPORTED,
  claims_supported: ["sub", "iss", "aud", "exp", "iat", "nonce", "fhirUser", "name"],
});
