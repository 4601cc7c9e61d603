import type { Session } from "../smart/session.ts";

export const UNREADABLE = "unreadable";
/** The site's own values, unchecked; undefined for a site without a file, which then has the defaults. */
export async function sitePolicyOf(session: Session): Promise<unknown> {
  const { sitePolicy } = session.config;
  if (sitePolicy === undefined) return undefined;
  try {
    const answer = await fetch(new URL(sitePolicy, document.baseURI), { credentials: "omit" });
    return answer.ok ? await answer.json() : UNREADABLE;
  } catch {
    return UNREADABLE;
  }
}
