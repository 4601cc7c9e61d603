/**
 * Before all interop tests: the Java programs built, the stock server started; stopped at the end. With FINGERPOST_FHIR set, a
 * server that is already running is used instead (its data are erased).
 */
import { mkdirSync } from "node:fs";
import { build, missingPrograms, startStockServer } from "./java.ts";
import { JOURNEY_WRITES } from "./writes.ts";

export default async function setup(): Promise<() => Promise<void>> {
  const missing = missingPrograms();
  if (missing.length)
    throw new Error(`Interop tests need ${missing.join(" and ")} on PATH (Java 17, Maven 3.8 or later).`);
  mkdirSync(JOURNEY_WRITES, { recursive: true });
  build();
  if (process.env.FINGERPOST_FHIR) {
    console.log(`interop: on the server that is running already at ${process.env.FINGERPOST_FHIR}`);
    return async () => {};
  }
  const begun = performance.now();
  const server = await startStockServer();
  console.log(`interop: stock server ready in ${((performance.now() - begun) / 1000).toFixed(0)} s at ${server.url}`);
  process.env.FINGERPOST_FHIR = server.url;
  return server.stop;
}
