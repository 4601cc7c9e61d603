/** The first page of the clinic's list where ten thousand visits wait, on the practice EHR over the network. */
import { format } from "date-fns";
import { startPractice } from "../../launch/start.ts";
import { readVisits } from "../../src/smart/clinic-list.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { signIn } from "../launch/practice.ts";
import { type Measured, median } from "./report.ts";

const VISITS = 10_000;
const RUNS = 9;
const MEGABYTE = 1e6;

/** Milliseconds until the first page can be shown, with what this process (EHR and reader) then holds. */
export async function measureClinicList(): Promise<Measured[]> {
  const practice = await startPractice({ quiet: true, skipBuild: true, ehrPort: 0, pluginPort: 0, clinics: VISITS });
  try {
    const types = ["Patient", "ServiceRequest", "Condition", "Appointment"];
    const scope = `launch openid ${types.map((type) => `user/${type}.rs`).join(" ")}`;
    const { token } = await signIn(practice, { as: "clinic", scope });
    const source = {
      current: async () => token,
      renewAfter: async () => false,
      state: () => ({ kind: "open" as const }),
    };
    const session = { fhir: fhirTransport({ base: practice.fhirBase, token: source }) };
    const day = { today: format(new Date(), "yyyy-MM-dd"), zone: Intl.DateTimeFormat().resolvedOptions().timeZone };
    const times: number[] = [];
    const processor: number[] = [];
    let bytes = 0;
    let first = 0;
    let visits = 0;
    for (let run = 0; run <= RUNS; run++) {
      const before = process.cpuUsage();
      const startedAt = performance.now();
      const page = await readVisits(session, day);
      const took = performance.now() - startedAt;
      const { user, system } = process.cpuUsage(before);
      if (!page.ok || page.value.visits.length === 0) throw new Error("no visits came");
      visits = page.value.visits.length;
      bytes = JSON.stringify(page.value).length;
      if (run === 0) first = took;
      else {
        times.push(took);
        processor.push((user + system) / 1000);
      }
    }
    return [
      { name: `first page of ${VISITS} visits to arrange`, value: median(times), unit: "ms", target: { atMost: 500 } },
      { name: "processor time of it, EHR and reader", value: median(processor), unit: "ms", target: { atMost: 500 } },
      { name: "the very first one after the start of the EHR", value: first, unit: "ms" },
      { name: "visits on the page", value: visits, unit: "" },
      { name: "what the page keeps of it", value: bytes / MEGABYTE, unit: "MB", target: { atMost: 3 } },
      { name: "EHR and reader together", value: process.memoryUsage().heapUsed / MEGABYTE, unit: "MB" },
    ];
  } finally {
    await practice.close();
  }
}
