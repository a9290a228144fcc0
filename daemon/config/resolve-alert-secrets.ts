import type { ConfigFault, KeyPath, Position } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import {
  createSecretReading,
  faultOfSecret,
  readPem,
  secretOfFile,
  type SecretFileReader,
} from "./secret-reading.js";

/** What the channels need beside the config, by their names. */
export interface AlertSecrets {
  readonly secrets: ReadonlyMap<string, string>;
  /** Certificates of the authorities that signed those of the receivers, as PEM. */
  readonly authorities: ReadonlyMap<string, string>;
}

export interface ResolvedAlertSecrets extends AlertSecrets {
  readonly faults: readonly ConfigFault[];
  readonly warnings: readonly ConfigFault[];
}

/** Reads the secrets of the alert channels, from files or from the environment, and the certificates that they name. */
export async function resolveAlertSecrets(
  config: SiteConfig,
  readFile: SecretFileReader,
  environment: Readonly<Record<string, string | undefined>>,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): Promise<ResolvedAlertSecrets> {
  const secrets = new Map<string, string>();
  const authorities = new Map<string, string>();
  const reading = createSecretReading(readFile, positionOf);

  for (const [id, channel] of Object.entries(config.alerts.channels)) {
    if (channel.kind === "mqtt") continue;
    const { secretFile, secretVariable, caFile } = channel;
    const ca = await readPem(reading, ["alerts", "channels", id, "caFile"], caFile, "CERTIFICATE");
    if (ca !== undefined) authorities.set(id, ca);
    const key = secretFile === undefined ? "secretVariable" : "secretFile";
    const path = ["alerts", "channels", id, key];
    const secret =
      secretFile === undefined
        ? secretVariable === undefined
          ? undefined
          : environment[secretVariable]
        : await fromFile(path, secretFile);
    if (secret === undefined) {
      if (secretFile === undefined && secretVariable !== undefined) {
        reading.fault(
          path,
          `names ${secretVariable}, which is not set`,
          "a variable that the daemon is started with",
          "set it, or use secretFile",
        );
      }
      continue;
    }
    const why = faultOfSecret(secret);
    if (why === undefined) secrets.set(id, secret);
    else reading.fault(path, `gives a secret ${why}`, "the secret alone, on one line", "correct it");
  }
  return { secrets, authorities, faults: reading.faults, warnings: reading.warnings };

  async function fromFile(path: KeyPath, file: string): Promise<string | undefined> {
    const text = await reading.read(path, file, true);
    return text === undefined ? undefined : secretOfFile(text);
  }
}
