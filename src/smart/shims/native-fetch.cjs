// Every browser we support has fetch and AbortController; fhirclient's stand-ins for old ones are left out.
module.exports = { fetch: globalThis.fetch };
