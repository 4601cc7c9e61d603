/** Version of the clinical knowledge (semver), separate from the program's; stamped on every assessment and every written resource. */
export const KNOWLEDGE_VERSION = "0.2.0";
