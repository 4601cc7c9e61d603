import { useSyncExternalStore } from "react";

export const STEPS = ["findings", "plan", "sign", "record", "about"] as const;
export type Step = (typeof STEPS)[number];

const listen = (listener: () => void) => {
  window.addEventListener("hashchange", listener);
  return () => window.removeEventListener("hashchange", listener);
};
/** The step in the address bar (never anything of the patient), so that Back and Forward work and lose nothing. */
export function useStep(first: Step): [Step, (step: Step) => void] {
  const hash = useSyncExternalStore(listen, () => window.location.hash.slice(1));
  const step = STEPS.find((s) => s === hash) ?? first;
  return [
    step,
    (next) => {
      window.location.hash = next;
    },
  ];
}
