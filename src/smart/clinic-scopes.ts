/** What clinic staff ask the record system for: to see what is to be arranged, and to write in the book. Over many patients, so `user/`. */
import { covers, type ScopeLetter } from "./granted.ts";

interface ClinicNeed {
  readonly resource: string;
  readonly letters: string;
  /** What the staff member loses without it. */
  readonly without: string;
  /** What is lost when it can be read but not written. */
  readonly unwritten?: string;
}

const CLINIC_NEEDS: readonly ClinicNeed[] = [
  { resource: "Patient", letters: "rs", without: "It is not shown whose visits they are." },
  { resource: "ServiceRequest", letters: "rs", without: "What is to be arranged is not found." },
  { resource: "Condition", letters: "rs", without: "What is broken is shown by the finger only." },
  {
    resource: "Appointment",
    letters: "crus",
    without: "Visits are not found.",
    unwritten: "Visits cannot be booked, moved or cancelled here.",
  },
  { resource: "Schedule", letters: "rs", without: "The clinics' sessions are not found." },
  {
    resource: "Slot",
    letters: "rus",
    without: "Free times are not found.",
    unwritten: "A time cannot be taken or given back.",
  },
  { resource: "Provenance", letters: "c", without: "", unwritten: "It cannot be filed who booked." },
  {
    resource: "Communication",
    letters: "c",
    without: "",
    unwritten: "A doctor cannot be told here of a visit outside their days: phone them.",
  },
];

const version1 = ({ resource, letters }: ClinicNeed): string[] => [
  ...(/[rs]/.test(letters) ? [`user/${resource}.read`] : []),
  ...(/[cu]/.test(letters) ? [`user/${resource}.write`] : []),
];

/** The scope string of a clinic launch (SMART App Launch 2.2): no patient is asked for, nothing may be deleted. */
export const clinicScopes = (how: {
  launch: "ehr" | "standalone";
  syntax: "v1" | "v2";
  onlineAccess: boolean;
  openId: boolean;
}): string =>
  [
    ...(how.launch === "ehr" ? ["launch"] : []),
    ...(how.openId ? ["openid", "fhirUser"] : []),
    ...(how.onlineAccess ? ["online_access"] : []),
    ...CLINIC_NEEDS.flatMap((need) => (how.syntax === "v1" ? version1(need) : `user/${need.resource}.${need.letters}`)),
  ].join(" ");

/** What the staff member has to do without, in sentences, because less was granted than was asked. */
export const clinicLosses = (granted: readonly string[]): string[] =>
  CLINIC_NEEDS.flatMap(({ resource, letters, without, unwritten }) => {
    const missing = [...letters].filter((letter) => !covers(granted, resource, letter as ScopeLetter));
    if (missing.some((letter) => "rs".includes(letter))) return without;
    return missing.length > 0 && unwritten ? unwritten : [];
  });
