/** Registered apps. Public clients only: a browser app cannot keep a secret. */
export interface Client {
  readonly clientId: string;
  readonly name: string;
  /** Compared character by character (RFC 9700, 2.1). */
  readonly redirectUris: readonly string[];
  readonly launchUrl?: string;
}
export class Clients {
  private readonly byId = new Map<string, Client>();
  register(client: Client): void {
    this.byId.set(client.clientId, client);
  }
  find(clientId: string | undefined): Client | undefined {
    return clientId === undefined ? undefined : this.byId.get(clientId);
  }
  /** Origins that may call this server from a browser. */
  isKnownOrigin(origin: string | undefined): boolean {
    return (
      origin !== undefined &&
      [...this.byId.values()].some(({ redirectUris }) => redirectUris.some((uri) => new URL(uri).origin === origin))
    );
  }
  redirectOrigins(): string[] {
    return [
      ...new Set([...this.byId.values()].flatMap(({ redirectUris }) => redirectUris.map((uri) => new URL(uri).origin))),
    ];
  }
}
