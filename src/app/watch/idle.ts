import { useEffect, useState } from "react";
import { TICK_SECONDS, WARN_BEFORE_SECONDS } from "./figures.ts";

/** Signs that somebody is there. Only the screen reader's own reading leaves none, so the warning can be answered. */
const INPUT = ["pointerdown", "pointermove", "keydown", "wheel", "touchstart", "focusin", "input"] as const;

/**
 * Calls `onIdle` once nothing was entered for `minutes`, and is true for the two minutes before that; any input begins anew.
 * Counted on both clocks: the monotonic one stands still while a computer sleeps, the other one can be set.
 */
export function useIdle(minutes: number, onIdle: () => void): boolean {
  const [warning, setWarning] = useState(false);
  // biome-ignore lint/correctness/useExhaustiveDependencies: what is done at the end may change, the count must not begin anew
  useEffect(() => {
    let since = { wall: Date.now(), steady: performance.now() };
    const idle = () => Math.max(Date.now() - since.wall, performance.now() - since.steady) / 1000;
    const end = minutes * 60;
    const look = () => {
      if (idle() >= end) onIdle();
      else setWarning(idle() >= end - WARN_BEFORE_SECONDS);
    };
    const heard = () => {
      // A page that woke from sleep is covered first: the hand that woke it may be another one.
      if (idle() >= end) return look();
      since = { wall: Date.now(), steady: performance.now() };
      setWarning(false);
    };
    for (const event of INPUT) window.addEventListener(event, heard, { capture: true, passive: true });
    document.addEventListener("visibilitychange", look);
    const timer = setInterval(look, TICK_SECONDS * 1000);
    return () => {
      for (const event of INPUT) window.removeEventListener(event, heard, { capture: true });
      document.removeEventListener("visibilitychange", look);
      clearInterval(timer);
    };
  }, [minutes]);
  return warning;
}
