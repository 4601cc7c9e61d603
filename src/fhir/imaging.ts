import * as z from "zod/mini";
import { type Origin, originOf, type Reading, type Suggestions } from "./chart-resource.ts";
import { LOINC, SNOMED } from "./codings.ts";
import { digitOfSite, injuredDigit, sideOfSite } from "./condition.ts";
import { isFhirDate } from "./dates.ts";
import { daysBefore, RECENT_DAYS } from "./searches.ts";
import { codingShape, conceptShape, conceptWords, hasCode, lookUp, periodShape, referenceShape } from "./shapes.ts";

export interface ImagingLine {
  readonly kind: "study" | "report";
  readonly title: string;
  readonly date?: string | undefined;
  readonly status: string;
  /** A report that is not yet final. */
  readonly preliminary: boolean;
  readonly modality?: string | undefined;
  readonly site?: string | undefined;
  readonly side?: "left" | "right" | undefined;
  readonly images?: number | undefined;
  /** The report's own words: shown, never read by a rule. */
  readonly conclusion?: string | undefined;
  /** It was open in the chart when this program was started from there. */
  readonly opened?: boolean | undefined;
  readonly from: Origin;
}

const studyShape = z.object({
  status: z.string(),
  subject: referenceShape,
  started: z.optional(z.string()),
  modality: z.optional(z.array(codingShape)),
  description: z.optional(z.string()),
  procedureCode: z.optional(z.array(conceptShape)),
  numberOfInstances: z.optional(z.number()),
  series: z.optional(
    z.array(
      z.object({
        modality: z.optional(codingShape),
        bodySite: z.optional(codingShape),
        laterality: z.optional(codingShape),
      }),
    ),
  ),
});
const reportShape = z.object({
  status: z.string(),
  subject: z.optional(referenceShape),
  code: z.optional(conceptShape),
  effectiveDateTime: z.optional(z.string()),
  effectivePeriod: z.optional(periodShape),
  issued: z.optional(z.string()),
  conclusion: z.optional(z.string()),
  conclusionCode: z.optional(z.array(conceptShape)),
});

/** SNOMED structures of finger, thumb, their phalanges and nails (eHDSI value sets; DICOM). */
const FINGER_SITES = [
  "7569003",
  "76505004",
  "282823009",
  "306792002",
  "2550002",
  "73696005",
  "371200006",
  "115955008",
  "770809003",
  "770810008",
  "770815003",
  "770816002",
  "770817006",
  "770818001",
];
/** Plain films of finger and thumb (Belgian eReferral imaging value set). */
const FINGER_FILMS = ["786844003", "783542002"];
/** LOINC finger and thumb films with their side; the last of each row covers both sides. */
const LOINC_FILMS: Record<string, { thumb: boolean; side?: "left" | "right" }> = {
  "26126-3": { thumb: false, side: "right" },
  "26125-5": { thumb: false, side: "left" },
  "26124-8": { thumb: false },
  "26162-8": { thumb: true, side: "right" },
  "26161-0": { thumb: true, side: "left" },
  "26160-2": { thumb: true },
};

/**
 * Films and reports as lines, those that were open at launch before the others, then newest first; that a finger film exists,
 * and which side and digit it names, as proposals in the same order.
 */
export function readImaging(
  studies: readonly unknown[],
  reports: readonly unknown[],
  reading: Reading,
  opened: readonly string[] = [],
): Suggestions & { lines: ImagingLine[] } {
  const lines: ImagingLine[] = [];
  const proposals: Suggestions["proposals"][number][] = [];
  const since = daysBefore(reading.today, RECENT_DAYS);
  const isRecent = (date: string | undefined) => date !== undefined && isFhirDate(date) && date >= since;
  for (const found of reading.each(studies, "ImagingStudy", studyShape, (s) => s.subject.reference)) {
    const { data } = found;
    if (data.status === "entered-in-error") {
      reading.leftOut("entered-in-error", "ImagingStudy");
      continue;
    }
    if (data.status === "cancelled") {
      reading.leftOut("over", "ImagingStudy");
      continue;
    }
    const series = data.series ?? [];
    const sites = series.flatMap((s) => (s.bodySite ? [s.bodySite] : []));
    const film = (data.procedureCode ?? [])
      .flatMap((p) => p.coding ?? [])
      .flatMap((c) => (c.system === LOINC && lookUp(LOINC_FILMS, c.code)) || []);
    const sides = [...series.map((s) => sideOfSite(s.laterality?.code)), ...film.map((f) => f.side)].filter(
      (s) => s !== undefined,
    );
    const side = sides.every((s) => s === sides[0]) ? sides[0] : undefined;
    const named = sites.flatMap((s) => digitOfSite(s.code) ?? []);
    const digits = named.length > 0 ? named : film.some((f) => f.thumb) ? ["thumb"] : [];
    const title = data.description ?? conceptWords(data.procedureCode?.[0]) ?? "Imaging study";
    const site = sites.find((s) => s.display)?.display;
    const modality = data.modality?.map((m) => m.code).join(", ") || series.find((s) => s.modality)?.modality?.code;
    const from = originOf(found, `Imaging: ${title}`, data.started);
    lines.push({
      kind: "study",
      title,
      status: data.status,
      preliminary: false,
      from,
      date: data.started,
      modality,
      site,
      side,
      images: data.numberOfInstances,
    });
    const ofFinger =
      sites.some((s) => s.system === SNOMED && FINGER_SITES.includes(s.code ?? "")) ||
      film.length > 0 ||
      (data.procedureCode ?? []).some((p) => hasCode(p, SNOMED, FINGER_FILMS));
    // "registered" means no image has arrived yet.
    if (!ofFinger || data.status !== "available" || !isRecent(data.started)) continue;
    proposals.push({ finding: "filmTaken", scope: "digit", value: "yes", from });
    for (const value of new Set(sides)) proposals.push({ finding: "side", scope: "digit", value, from });
    for (const value of new Set(digits)) proposals.push({ finding: "digit", scope: "digit", value, from });
  }
  for (const found of reading.each(reports, "DiagnosticReport", reportShape, (r) => r.subject?.reference)) {
    const { data } = found;
    if (data.status === "entered-in-error") {
      reading.leftOut("entered-in-error", "DiagnosticReport");
      continue;
    }
    if (data.status === "cancelled") {
      reading.leftOut("over", "DiagnosticReport");
      continue;
    }
    const title = conceptWords(data.code) ?? "Report";
    const date = data.effectiveDateTime ?? data.effectivePeriod?.start ?? data.issued;
    const from = originOf(found, `Report: ${title}`, date);
    const preliminary = ["registered", "partial", "preliminary", "unknown"].includes(data.status);
    lines.push({
      kind: "report",
      title,
      status: data.status,
      preliminary,
      from,
      date,
      conclusion: data.conclusion,
    });
    if (!isRecent(date)) continue;
    const note = preliminary ? { note: "from a report that is not final" } : {};
    for (const code of data.conclusionCode ?? []) {
      const injury = injuredDigit(code, []);
      for (const value of injury?.digits ?? [])
        proposals.push({ finding: "digit", scope: "digit", value, from, ...note });
      for (const value of injury?.sides ?? [])
        proposals.push({ finding: "side", scope: "digit", value, from, ...note });
    }
  }
  const isOpened = ({ from }: { readonly from: Origin }) => opened.includes(from.reference);
  const openedFirst = <T extends { readonly from: Origin }>(a: T, b: T) => Number(isOpened(b)) - Number(isOpened(a));
  return {
    lines: lines
      .map((line) => (isOpened(line) ? { ...line, opened: true } : line))
      .sort((a, b) => openedFirst(a, b) || (b.date ?? "").localeCompare(a.date ?? "")),
    proposals: proposals.sort(openedFirst),
    dates: [],
  };
}
