import { formatKeyPath, type ConfigFault, type KeyPath, type Position } from "./config-faults.js";

/** A file's text, and its permission bits as the system has them. Rejects when the file cannot be read. */
export type SecretFileReader = (path: string) => Promise<{ readonly text: string; readonly mode: number }>;

/** Reading of the files that a config names, with what is wrong about them at their places in it. */
export interface SecretReading {
  readonly faults: readonly ConfigFault[];
  readonly warnings: readonly ConfigFault[];
  /** The text; undefined where it cannot be read, which is then a fault. A secret that others can read is a warning. */
  read(path: KeyPath, file: string, isSecret: boolean): Promise<string | undefined>;
  fault(path: KeyPath, what: string, allowed: string, todo: string): void;
}

const openToAll = 0o006;
/** What MQTT takes for a password. */
const longestSecret_bytes = 65_535;

export function createSecretReading(
  readFile: SecretFileReader,
  positionOf: (path: KeyPath) => Position = () => ({ line: 1, column: 1 }),
): SecretReading {
  const faults: ConfigFault[] = [];
  const warnings: ConfigFault[] = [];
  const at = (path: KeyPath, what: string, allowed: string, todo: string): ConfigFault => ({
    ...positionOf(path),
    keyPath: formatKeyPath(path),
    what,
    allowed,
    todo,
  });
  return {
    faults,
    warnings,
    fault: (path, what, allowed, todo) => void faults.push(at(path, what, allowed, todo)),
    async read(path, file, isSecret) {
      try {
        const { text, mode } = await readFile(file);
        if (isSecret && (mode & openToAll) !== 0) {
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
    },
  };
}

/** Reads a PEM file (RFC 7468); a text without such a part is a fault. */
export async function readPem(
  reading: SecretReading,
  path: KeyPath,
  file: string | undefined,
  label: "CERTIFICATE" | "PRIVATE KEY",
): Promise<string | undefined> {
  if (file === undefined) return undefined;
  const text = await reading.read(path, file, label === "PRIVATE KEY");
  if (text === undefined || new RegExp(`-----BEGIN [A-Z ]*${label}-----`).test(text)) return text;
  reading.fault(
    path,
    `names ${file}, which holds no ${label.toLowerCase()}`,
    `a PEM file that begins with -----BEGIN`,
    "check the path, or convert the file to PEM",
  );
  return undefined;
}

/** A secret stands alone on the one line of its file. */
export const secretOfFile = (text: string): string => text.replace(/\r?\n$/, "");

/** Why it cannot be a secret, behind "a file" or "a secret"; undefined where it can. */
export function faultOfSecret(secret: string): string | undefined {
  if (secret === "") return "that is empty";
  if (/[\r\n]/.test(secret)) return "with more than one line";
  return Buffer.byteLength(secret, "utf8") > longestSecret_bytes ? "that is too long" : undefined;
}
