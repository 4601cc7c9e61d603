import { lazy } from "react";
import type { SessionAnswer } from "../smart/session.ts";

const ClinicDesk = lazy(() => import("./tasks/arrange-visits/clinic-desk.tsx"));
const CoderDesk = lazy(() => import("./tasks/code-cases/coder-desk.tsx"));

interface StaffDeskProps {
  readonly answer: Extract<SessionAnswer, { ok: false }>;
  readonly policy: Promise<unknown>;
}

/** Where those work who open the app without a chart. */
export default function StaffDesk({ answer: { clinic, coder }, policy }: StaffDeskProps) {
  if (clinic) return <ClinicDesk session={clinic} />;
  return coder && <CoderDesk session={coder} policy={policy} />;
}
