import { expect, it } from "vitest";
import { chartProgress } from "../../src/app/parts/chart-progress.ts";
import { joinResults, type PartResult } from "../../src/fhir/part-result.ts";
import { CHART_PARTS } from "../../src/fhir/searches.ts";

const film: PartResult = { state: "found", resources: [{ resourceType: "ImagingStudy" }], more: false };
const refused: PartResult = { state: "refused", resources: [], more: false };
const said = (imaging: PartResult) =>
  chartProgress({ ...Object.fromEntries(CHART_PARTS.map((part) => [part, { state: "empty" as const }])), imaging });

it("REL-10 a chart whose search for films was refused is not called read, though the film that was open came", () => {
  expect(said(joinResults([film, refused]))).toBe("Chart read, without: imaging studies in part.");
  expect(said(refused)).toBe("Chart read, without: imaging studies.");
  expect(said(joinResults([film, film]))).toBe("Chart read.");
});
