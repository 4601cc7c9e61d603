/** Which requests to the EHR waited for which: read from the browser's own record of the network. */
import type { CDPSession } from "playwright-core";

/** One trip to the EHR and back. Times in seconds on the browser's clock. */
interface Trip {
  readonly method: string;
  readonly url: string;
  readonly issued: number;
  answered: number;
}
export interface Journey {
  /** Trips to the EHR, preflights included. */
  readonly requests: number;
  /**
   * Longest chain of trips of which each was asked for only after the one before had been answered. A request that merely
   * waits for a free connection does not lengthen it; the preflight before a request does.
   */
  readonly depth: number;
  /** From the request for the launch page to the last answer of the EHR. */
  readonly milliseconds: number;
}
export interface RoundTrips {
  journey(): Journey;
  /** Forgets what was seen, before another launch of the same page. */
  clear(): void;
}

/** Watches one page from now on. Only addresses under the EHR's sign-in and FHIR server count as trips. */
export async function watchRoundTrips(devtools: CDPSession, ehrUrl: string): Promise<RoundTrips> {
  let trips: Trip[] = [];
  let begun: number | undefined;
  const open = new Map<string, Trip>();
  const answered = (id: string, at: number) => {
    const trip = open.get(id);
    if (trip) trip.answered = at;
    open.delete(id);
  };
  devtools.on("Network.requestWillBeSent", ({ requestId, request, timestamp, redirectResponse }) => {
    begun ??= timestamp;
    if (redirectResponse) answered(requestId, timestamp);
    if (!["/fhir", "/auth"].some((part) => request.url.startsWith(`${ehrUrl}${part}`))) return;
    const trip: Trip = { method: request.method, url: request.url, issued: timestamp, answered: Number.NaN };
    trips.push(trip);
    open.set(requestId, trip);
  });
  // What the browser answers from its own cache is no trip.
  devtools.on("Network.responseReceived", ({ requestId, response }) => {
    if (response.fromDiskCache) trips = trips.filter((trip) => trip !== open.get(requestId));
  });
  devtools.on("Network.requestServedFromCache", ({ requestId }) => {
    trips = trips.filter((trip) => trip !== open.get(requestId));
  });
  devtools.on("Network.loadingFinished", ({ requestId, timestamp }) => answered(requestId, timestamp));
  devtools.on("Network.loadingFailed", ({ requestId, timestamp }) => answered(requestId, timestamp));
  await devtools.send("Network.enable");
  return {
    clear: () => {
      trips = [];
      begun = undefined;
    },
    journey: () => ({
      requests: trips.length,
      depth: longestChain(trips),
      milliseconds: (Math.max(...trips.map((trip) => trip.answered)) - (begun ?? Number.NaN)) * 1000,
    }),
  };
}

function longestChain(trips: readonly Trip[]): number {
  const depths = new Map<Trip, number>();
  const depthOf = (trip: Trip): number => {
    const known = depths.get(trip);
    if (known !== undefined) return known;
    const before = trips.filter((other) => other.answered <= trip.issued || opensTheWay(other, trip));
    const depth = 1 + Math.max(0, ...before.map(depthOf));
    depths.set(trip, depth);
    return depth;
  };
  return Math.max(0, ...trips.map(depthOf));
}

/** A preflight and its request are issued together, but the request leaves only once the preflight is answered. */
const opensTheWay = (preflight: Trip, trip: Trip) =>
  preflight.method === "OPTIONS" &&
  trip.method !== "OPTIONS" &&
  preflight.url === trip.url &&
  preflight.answered <= trip.answered;
