import { formatKeyPath, type ConfigFault, type KeyPath, type Position } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import type { SecretFileReader } from "./resolve-secrets.js";

export interface ResolvedAlertSecrets {
  /** By the name of the channel. */
  readonly secrets: ReadonlyMap<string, string>;
  readonly faults: readonly ConfigFault[];
  readonly warnings: readonly ConfigFault[];
}

const mostBytes = 65_535;
const openToAll = 0o006;

/** Reads the secrets of the alert channels, from files or from the environment. */
export async function resolveAlertSecrets(
  config: SiteConfig,
  readFile: SecretFileReader,
  environment: Readonly<Record<string, string | undefined>>,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): Promise<ResolvedAlertSecrets> {
  const secrets = new Map<string, string>();
  const faults: ConfigFault[] = [];
  const warnings: ConfigFault[] = [];
  const at = (path: KeyPath, what: string, allowed: string, todo: string): ConfigFault => ({
    ...positionOf(path),
    keyPath: formatKeyPath(path),
    what,
    allowed,
    todo,
  });

  for (const [id, channel] of Object.entries(config.alerts.channels)) {
    if (channel.kind === "mqtt") continue;
    const { secretFile, secretVariable } = channel;
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
        faults.push(
          at(
            path,
            `names ${secretVariable}, which is not set`,
            "a variable that the daemon is started with",
            "set it, or use secretFile",
          ),
        );
      }
      continue;
    }
    const why = faultOf(secret);
    if (why === undefined) secrets.set(id, secret);
    else faults.push(at(path, `gives a secret ${why}`, "the secret alone, on one line", "correct it"));
  }
  return { secrets, faults, warnings };

  async function fromFile(path: KeyPath, file: string): Promise<string | undefined> {
    try {
      const { text, mode } = await readFile(file);
      if ((mode & openToAll) !== 0) {
        warnings.push(
          at(
            path,
            `names ${file}, which every user of this machine can read or change`,
            "a file of the daemon's user alone",
            `run: chmod 600 ${file}`,
          ),
        );
      }
      return text.replace(/\r?\n$/, "");
    } catch (error) {
      const code = error instanceof Error && "code" in error ? ` (${String(error.code)})` : "";
      faults.push(
        at(
          path,
          `names ${file}, which cannot be read${code}`,
          "a file that the daemon's user can read",
          "check path and permissions",
        ),
      );
      return undefined;
    }
  }
}

function faultOf(secret: string): string | undefined {
  if (secret === "") return "that is empty";
  if (/[\r\n]/.test(secret)) return "with more than one line";
  return Buffer.byteLength(secret, "utf8") > mostBytes ? "that is too long" : undefined;
}
