import type { ConfigFault, KeyPath, Position } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import { createSecretReading, faultOfSecret, secretOfFile, type SecretFileReader } from "./secret-reading.js";

export interface ResolvedPageToken {
  /** Undefined where the config names none. */
  readonly token: string | undefined;
  readonly faults: readonly ConfigFault[];
  readonly warnings: readonly ConfigFault[];
}

/** Nobody guesses so much. */
const shortestToken = 32;
const longestToken = 512;

/** Reads the token that the page asks for. */
export async function resolvePageToken(
  config: SiteConfig,
  readFile: SecretFileReader,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): Promise<ResolvedPageToken> {
  const reading = createSecretReading(readFile, positionOf);
  const file = config.page?.tokenFile;
  const path = ["page", "tokenFile"];
  const text = file === undefined ? undefined : await reading.read(path, file, true);
  const token = text === undefined ? undefined : secretOfFile(text);
  const why = token === undefined ? undefined : faultOfToken(token);
  if (why !== undefined) {
    reading.fault(
      path,
      `gives a token ${why}`,
      `${shortestToken} to ${longestToken} characters, alone on one line`,
      "make one with: openssl rand -base64 32",
    );
  }
  return { token, faults: reading.faults, warnings: reading.warnings };
}

function faultOfToken(token: string): string | undefined {
  if (token.length < shortestToken) return `of ${token.length} characters`;
  return token.length > longestToken ? "that is too long" : faultOfSecret(token);
}
