import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

interface CertificateFiles {
  readonly certificateFile: string;
  readonly keyFile: string;
  /** The same as PEM text. */
  readonly certificate: string;
  readonly key: string;
}

export interface CertificateAuthority {
  readonly caFile: string;
  readonly ca: string;
  /** @param valid_days  from now on; below zero makes one that has expired. */
  issue(commonName: string, subjectAlternativeName?: string, valid_days?: number): CertificateFiles;
  dispose(): void;
}

/** A certificate authority of the test's own, made with openssl. */
export function createCertificateAuthority(name: string): CertificateAuthority {
  const folder = mkdtempSync(join(tmpdir(), "fizzward-ca-"));
  const file = (suffix: string): string => join(folder, suffix);
  const openssl = (...args: readonly string[]): void => {
    execFileSync("openssl", args, { cwd: folder, stdio: "pipe" });
  };
  const newKey = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"];
  openssl(
    "req",
    "-x509",
    ...newKey,
    "-keyout",
    "ca.key",
    "-out",
    "ca.crt",
    "-days",
    "2",
    "-subj",
    `/CN=${name}`,
  );
  let issued = 0;
  return {
    caFile: file("ca.crt"),
    ca: readFileSync(file("ca.crt"), "utf8"),
    issue(commonName, subjectAlternativeName, valid_days = 2) {
      issued += 1;
      const base = `issued-${issued}`;
      openssl(
        "req",
        ...newKey,
        "-keyout",
        `${base}.key`,
        "-out",
        `${base}.csr`,
        "-subj",
        `/CN=${commonName}`,
      );
      writeFileSync(
        file(`${base}.ext`),
        subjectAlternativeName === undefined ? "" : `subjectAltName=${subjectAlternativeName}\n`,
      );
      openssl(
        ...["x509", "-req", "-in", `${base}.csr`, "-CA", "ca.crt", "-CAkey", "ca.key", "-CAcreateserial"],
        ...["-out", `${base}.crt`, "-days", String(valid_days), "-extfile", `${base}.ext`],
      );
      return {
        certificateFile: file(`${base}.crt`),
        keyFile: file(`${base}.key`),
        certificate: readFileSync(file(`${base}.crt`), "utf8"),
        key: readFileSync(file(`${base}.key`), "utf8"),
      };
    },
    dispose: () => rmSync(folder, { recursive: true, force: true }),
  };
}
