/** Set by the build; absent where the source runs as it is. */
declare const __BUILD__: string | undefined;
/** Names this build: the same sources give the same name. */
export const BUILD = typeof __BUILD__ === "string" ? __BUILD__ : undefined;
