/** What the authorization server remembers: launches, pending choices, codes, refresh families, revoked tokens. In memory only. */
import { createHash, randomBytes } from "node:crypto";
import type { Person } from "./people.ts";

export const LAUNCH_SECONDS = 5 * 60;
export const CODE_SECONDS = 60;
export const CHOICE_SECONDS = 10 * 60;
export const REFRESH_SECONDS = 8 * 60 * 60;

/** Unguessable, 256 bits. */
export const secret = (): string => randomBytes(32).toString("base64url");
export const sha256 = (text: string): string => createHash("sha256").update(text).digest("base64url");

export interface Context {
  readonly person: Person;
  readonly patient: string | undefined;
  readonly encounter: string | undefined;
  readonly fhirContext: readonly { reference: string }[];
  readonly intent?: string;
}
/** An authorization request that passed every check. */
export interface Asked {
  readonly clientId: string;
  readonly redirectUri: string;
  readonly scopes: readonly string[];
  readonly state: string;
  readonly challenge: string;
  readonly nonce: string | undefined;
  readonly launched: boolean;
}
export interface Grant {
  readonly asked: Asked;
  readonly context: Context;
  readonly scopes: readonly string[];
  /** All tokens that come from one sign-in; revoked together. */
  readonly family: string;
  /** seconds since the epoch */
  readonly authTime: number;
}

interface Kept<T> {
  readonly value: T;
  readonly until: number;
  spent: boolean;
}
/** Single-use values with a life span. A spent value is remembered until it expires, so that reuse can be told from nonsense. */
export class SingleUse<T> {
  private readonly kept = new Map<string, Kept<T>>();
  private readonly seconds: number;
  constructor(seconds: number) {
    this.seconds = seconds;
  }
  add(value: T): string {
    const key = secret();
    this.sweep();
    this.kept.set(key, { value, until: Date.now() + this.seconds * 1000, spent: false });
    return key;
  }
  peek(key: string): T | undefined {
    const found = this.kept.get(key);
    return found && !found.spent && found.until > Date.now() ? found.value : undefined;
  }
  /** "spent" when it was used before, undefined when unknown or too old. */
  take(key: string): { state: "fresh" | "spent"; value: T } | undefined {
    const found = this.kept.get(key);
    if (!found) return undefined;
    if (found.spent) return { state: "spent", value: found.value };
    if (found.until <= Date.now()) return undefined;
    found.spent = true;
    return { state: "fresh", value: found.value };
  }
  private sweep(): void {
    const horizon = Date.now() - 24 * 60 * 60 * 1000;
    for (const [key, { until }] of this.kept) if (until < horizon) this.kept.delete(key);
  }
}

export class Grants {
  readonly launches = new SingleUse<Context>(LAUNCH_SECONDS);
  readonly choices = new SingleUse<Asked>(CHOICE_SECONDS);
  readonly codes = new SingleUse<Grant>(CODE_SECONDS);
  readonly refreshTokens = new SingleUse<Grant>(REFRESH_SECONDS);
  private readonly revokedFamilies = new Set<string>();
  private readonly revokedTokens = new Set<string>();

  revokeFamily(family: string): void {
    this.revokedFamilies.add(family);
    this.revokedFamilies.add(sha256(family));
  }
  revokeToken(jti: string): void {
    this.revokedTokens.add(jti);
  }
  /** By the family's name or, as access tokens carry it, by its hash. */
  isRevoked(family: string, jti?: string): boolean {
    return this.revokedFamilies.has(family) || (jti !== undefined && this.revokedTokens.has(jti));
  }
}
