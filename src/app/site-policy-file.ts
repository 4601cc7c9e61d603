import type { ConfigAnswer } from "../smart/config.ts";

export const UNREADABLE = "unreadable";
/** The site's own values, unchecked; undefined for a site without a file, which then has the defaults. Never rejects. */
export async function sitePolicyOf(config: ConfigAnswer): Promise<unknown> {
  const sitePolicy = config.ok ? config.config.sitePolicy : undefined;
  if (sitePolicy === undefined) return undefined;
  try {
    const answer = await fetch(new URL(sitePolicy, document.baseURI), { credentials: "omit" });
    return answer.ok ? await answer.json() : UNREADABLE;
  } catch {
    return UNREADABLE;
  }
}
