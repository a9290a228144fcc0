import type { ConfigFault, KeyPath, Position } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import {
  createSecretReading,
  faultOfSecret,
  readPem,
  secretOfFile,
  type SecretFileReader,
} from "./secret-reading.js";

/** What the broker is shown; the config itself holds only the paths. */
export interface BrokerSecrets {
  readonly password?: string;
  readonly ca?: string;
  readonly certificate?: string;
  readonly key?: string;
}

export type ResolvedSecrets =
  | { readonly kind: "resolved"; readonly secrets: BrokerSecrets; readonly warnings: readonly ConfigFault[] }
  | {
      readonly kind: "unreadable";
      readonly faults: readonly ConfigFault[];
      readonly warnings: readonly ConfigFault[];
    };

/**
 * Reads the password and the certificates that the config names.
 * @param positionOf  of a valid config, so that a fault points into its file.
 */
export async function resolveSecrets(
  config: SiteConfig,
  readFile: SecretFileReader,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): Promise<ResolvedSecrets> {
  const reading = createSecretReading(readFile, positionOf);
  const { faults, warnings } = reading;

  const { broker } = config;
  const passwordPath = ["broker", "passwordFile"];
  const text =
    broker.passwordFile === undefined
      ? undefined
      : await reading.read(passwordPath, broker.passwordFile, true);
  const fromFile = text === undefined ? undefined : secretOfFile(text);
  const why = fromFile === undefined ? undefined : faultOfSecret(fromFile);
  if (why !== undefined) {
    reading.fault(
      passwordPath,
      `names a file ${why}`,
      "the password alone, on one line",
      "write the password into it and nothing else",
    );
  }
  const password = fromFile ?? broker.password;
  const tls = ["broker", "tls"];
  const ca = await readPem(reading, [...tls, "caFile"], broker.tls?.caFile, "CERTIFICATE");
  const certificate = await readPem(
    reading,
    [...tls, "certificateFile"],
    broker.tls?.certificateFile,
    "CERTIFICATE",
  );
  const key = await readPem(reading, [...tls, "keyFile"], broker.tls?.keyFile, "PRIVATE KEY");
  if (faults.length > 0) return { kind: "unreadable", faults, warnings };
  return {
    kind: "resolved",
    secrets: {
      ...(password === undefined ? {} : { password }),
      ...(ca === undefined ? {} : { ca }),
      ...(certificate === undefined ? {} : { certificate }),
      ...(key === undefined ? {} : { key }),
    },
    warnings,
  };
}
