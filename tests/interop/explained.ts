/** Placeholder */
export const EXPLAINED: readonly { remark: RegExp; why: string; onlyWith?: "practice EHR" }[] = [];
export const FAULTY_EXAMPLES: Record<string, string> = {};
