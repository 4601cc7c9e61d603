import { useEffect, useRef } from "react";

/** The heading of a step. It takes the focus when the clinician has moved to the step, so that reading starts there. */
export function StepHeading({ children, moved }: { children: string; moved: boolean }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    if (!moved) return;
    window.scrollTo(0, 0);
    heading.current?.focus({ preventScroll: true });
  }, [moved]);
  return (
    <h1 ref={heading} tabIndex={-1}>
      {children}
    </h1>
  );
}
