import { commonPractice } from "../evidence/citation.ts";
import type { PolicyChoice } from "./policy-value.ts";

const wanted = (value: "on" | "off", note: string) =>
  ({ type: "choice", value, options: ["on", "off"], sources: [commonPractice], note }) as const satisfies PolicyChoice;

/** Which classifications a site wants on its diagnoses. No rule of the pathway reads them: codes follow what is found, never the reverse. */
export const CODING_POLICY = {
  "coding.icd10cm": wanted(
    "on",
    "ICD-10-CM, for the United States. Off: none is written when a plan is signed, and none is proposed to coders.",
  ),
  "coding.icd10": wanted(
    "off",
    "WHO ICD-10, 2019, beside or instead of ICD-10-CM: without phalanx, side or displacement.",
  ),
  "coding.snomed": wanted("on", "SNOMED CT. Off where a site has no licence for it."),
  "coding.aoOta": wanted(
    "off",
    "Local reading of AO/OTA 2018, in part from memory; not to be used for profit without permission of its owners.",
  ),
} as const;
