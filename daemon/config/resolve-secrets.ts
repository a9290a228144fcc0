import type { ConfigFault, KeyPath, Position } from "./config-faults.js";
import { formatKeyPath } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";

/** A file's text, and its permission bits as the system has them. Rejects when the file cannot be read. */
export type SecretFileReader = (path: string) => Promise<{ readonly text: string; readonly mode: number }>;

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

const longestPassword_bytes = 65_535;
const readableByAll = 0o004;
const writableByAll = 0o002;

/**
 * Reads the password and the certificates that the config names.
 * @param positionOf  of a valid config, so that a fault points into its file.
 */
export async function resolveSecrets(
  config: SiteConfig,
  readFile: SecretFileReader,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): Promise<ResolvedSecrets> {
  const faults: ConfigFault[] = [];
  const warnings: ConfigFault[] = [];
  const at = (path: KeyPath, what: string, allowed: string, todo: string): ConfigFault => ({
    ...positionOf(path),
    keyPath: formatKeyPath(path),
    what,
    allowed,
    todo,
  });

  async function read(
    path: KeyPath,
    file: string | undefined,
    isSecret: boolean,
  ): Promise<string | undefined> {
    if (file === undefined) return undefined;
    try {
      const { text, mode } = await readFile(file);
      if (isSecret && (mode & (readableByAll | writableByAll)) !== 0) {
        warnings.push(
          at(
            path,
            `names ${file}, which every user of this machine can read or change`,
            "a file of the daemon's user alone",
            `run: chmod 600 ${file}`,
          ),
        );
      }
      return text;
    } catch (error) {
      const code = error instanceof Error && "code" in error ? ` (${String(error.code)})` : "";
      faults.push(
        at(
          path,
          `names ${file}, which cannot be read${code}`,
          "a file that the daemon's user can read",
          code.includes("EACCES")
            ? "give the daemon's user the right to read it; to check it, be that user"
            : "check path and permissions",
        ),
      );
      return undefined;
    }
  }

  async function readPem(
    path: KeyPath,
    file: string | undefined,
    label: string,
    isSecret: boolean,
  ): Promise<string | undefined> {
    const text = await read(path, file, isSecret);
    if (text === undefined || new RegExp(`-----BEGIN [A-Z ]*${label}-----`).test(text)) return text;
    faults.push(
      at(
        path,
        `names ${String(file)}, which holds no ${label.toLowerCase()}`,
        `a PEM file that begins with -----BEGIN`,
        "check the path, or convert the file to PEM",
      ),
    );
    return undefined;
  }

  const { broker } = config;
  const passwordPath = ["broker", "passwordFile"];
  const fromFile = await read(passwordPath, broker.passwordFile, true);
  const password = fromFile?.replace(/\r?\n$/, "") ?? broker.password;
  if (fromFile !== undefined && password !== undefined) {
    const why = faultOfPassword(password);
    if (why !== undefined) {
      faults.push(
        at(
          passwordPath,
          `names a file ${why}`,
          "the password alone, on one line",
          "write the password into it and nothing else",
        ),
      );
    }
  }
  const tls = ["broker", "tls"];
  const ca = await readPem([...tls, "caFile"], broker.tls?.caFile, "CERTIFICATE", false);
  const certificate = await readPem(
    [...tls, "certificateFile"],
    broker.tls?.certificateFile,
    "CERTIFICATE",
    false,
  );
  const key = await readPem([...tls, "keyFile"], broker.tls?.keyFile, "PRIVATE KEY", true);
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

function faultOfPassword(password: string): string | undefined {
  if (password === "") return "that is empty";
  if (/[\r\n]/.test(password)) return "with more than one line";
  return Buffer.byteLength(password, "utf8") > longestPassword_bytes
    ? "that is too long for a password"
    : undefined;
}
