import { readSitePolicy, type SitePolicy } from "../pathway/index.ts";
import { BadInput, readJson } from "./command.ts";

/** The site policy of a file; undefined: the defaults. @throws BadInput with every problem of the file */
export function policyFrom(file: string | undefined): SitePolicy {
  const read = readSitePolicy(file === undefined ? undefined : readJson(file, "a site policy in JSON").json);
  if (!read.ok)
    throw new BadInput(
      read.problems.map((p) => `${file}: ${p.path || "the file"} ${p.problem}; allowed: ${p.allowed}`),
    );
  return read.policy;
}
