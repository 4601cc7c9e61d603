/** Addresses of a FHIR server: which may be used at all, and which lie under the one base that may get the token. */

/** R4 `id`: letters, digits, "-" and ".", 1 to 64 of them. */
export const RESOURCE_ID = /^[A-Za-z0-9\-.]{1,64}$/;

function parsed(text: string, base?: string): URL | undefined {
  return URL.canParse(text, base) ? new URL(text, base) : undefined;
}

/** Encrypted, or a server on this very computer. */
export function isPrivateConnection(url: URL): boolean {
  return (
    url.protocol === "https:" ||
    (url.protocol === "http:" && ["localhost", "127.0.0.1", "[::1]"].includes(url.hostname))
  );
}

/**
 * The one spelling of a FHIR base by which issuers are compared: parsed as browsers do, without a closing slash.
 * Undefined when the text cannot be a base: not absolute, not https (http is for this computer only), or carrying a
 * user name, a query or a fragment.
 */
export function fhirBase(text: string): string | undefined {
  const url = parsed(text);
  if (!url || !isPrivateConnection(url) || url.username || url.password) return undefined;
  if (/[?#\\]/.test(text)) return undefined;
  return url.origin + url.pathname.replace(/\/+$/, "");
}

/** The host of an address for showing as text, whatever the address is. */
export function hostIn(text: string): string {
  return parsed(text)?.host.slice(0, 100) || "an address that cannot be read";
}

/**
 * The absolute address for `reference` if, and only if, it lies under `base` (same origin and path prefix).
 * A server behind a proxy may write its own links with http; those are put back to the base's https.
 */
export function addressUnder(base: string, reference: string): URL | undefined {
  const root = new URL(base);
  const url = parsed(reference, `${base}/`);
  if (!url || url.username || url.password) return undefined;
  if (url.protocol === "http:" && root.protocol === "https:" && url.host === root.host) url.protocol = "https:";
  if (url.origin !== root.origin) return undefined;
  // An encoded slash or dot pair would be one path here and another at the server.
  if (/%2f|%5c|%2e/i.test(url.pathname)) return undefined;
  const path = root.pathname.replace(/\/+$/, "");
  if (url.pathname !== path && !url.pathname.startsWith(`${path}/`)) return undefined;
  url.hash = "";
  return url;
}
