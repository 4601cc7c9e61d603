/**
 * With FINGERPOST_WRITES set, what reaches the practice EHR through its FHIR interface is kept there for the HL7 validator. A watcher of
 * tests that run anyway: it changes nothing in them.
 */
import { expect } from "vitest";
import { PracticeServer } from "../../launch/ehr/fhir/server.ts";
import { Store } from "../../launch/ehr/fhir/store.ts";
import { keeper, PRACTICE_WRITES } from "./writes.ts";

// Tests of the practice EHR itself write by hand, faults included.
if (PRACTICE_WRITES && !expect.getState().testPath?.includes("/tests/launch/")) {
  const keep = keeper(PRACTICE_WRITES, `${process.pid}-${process.env.VITEST_POOL_ID ?? 0}`);
  // The charts of the start and what a colleague enters come another way.
  let asked = false;
  const { handle } = PracticeServer.prototype;
  PracticeServer.prototype.handle = function (request) {
    asked = true;
    try {
      return handle.call(this, request);
    } finally {
      asked = false;
    }
  };
  const { put } = Store.prototype;
  Store.prototype.put = function (...args) {
    const stored = put.apply(this, args);
    if (asked) keep(stored);
    return stored;
  };
}
