import type { AskedInjury } from "./module.ts";

const orders = new WeakMap<AskedInjury, readonly string[]>();
/** All findings of an injury: those of its groups in their order, then the rest. Kept, since each assessment needs it. */
export function clinicalOrder(module: AskedInjury): readonly string[] {
  const kept = orders.get(module);
  if (kept) return kept;
  const order = [...new Set([...module.groups.flatMap((g) => g.findings), ...Object.keys(module.findings)])];
  orders.set(module, order);
  return order;
}
