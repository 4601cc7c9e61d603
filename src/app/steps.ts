import { useSyncExternalStore } from "react";

export const STEPS = ["findings", "plan", "sign", "record", "about"] as const;
export type Step = (typeof STEPS)[number];

let last: Step | undefined;
let moved = false;
/** The step that the address bar names; a hash that names none (a jump within the page) leaves the step as it is. */
const current = (): Step | undefined => {
  const { hash } = window.location;
  last = hash === "" ? undefined : (STEPS.find((s) => `#${s}` === hash) ?? last);
  return last;
};
const listen = (listener: () => void) => {
  const heard = () => {
    const before = last;
    if (current() !== before) moved = true;
    listener();
  };
  window.addEventListener("hashchange", heard);
  return () => window.removeEventListener("hashchange", heard);
};
export interface Steps {
  readonly step: Step;
  /** True once the clinician has gone from one step to another. */
  readonly moved: boolean;
  readonly go: (step: Step) => void;
}
/** Which step is shown. It stands in the address bar (never anything of the patient), so Back and Forward work and lose nothing. */
export function useSteps(first: Step): Steps {
  const step = useSyncExternalStore(listen, current) ?? first;
  return {
    step,
    moved,
    go: (next) => {
      window.location.hash = next;
    },
  };
}
