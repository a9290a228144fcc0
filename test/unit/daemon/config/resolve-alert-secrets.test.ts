import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { resolveAlertSecrets } from "../../../../daemon/config/resolve-alert-secrets.js";
import type { SecretFileReader } from "../../../../daemon/config/secret-reading.js";
import { edited, exampleText } from "../../../support/marked-config.js";

async function resolved(
  file: { readonly text: string; readonly mode: number } | "absent" | "denied",
  variable: string | undefined,
) {
  const parsed = parseConfig(exampleText, "/srv/site.yaml");
  if (parsed.kind === "invalid") throw new Error(parsed.faults.map(({ what }) => what).join("\n"));
  const read: SecretFileReader = (path) => {
    if (file === "absent") return Promise.reject(Object.assign(new Error("no"), { code: "ENOENT" }));
    if (file === "denied") return Promise.reject(Object.assign(new Error("no"), { code: "EACCES" }));
    expect(path).toBe("/srv/push-token");
    return Promise.resolve(file);
  };
  return resolveAlertSecrets(parsed.config, read, { FIZZWARD_MAIL_PASSWORD: variable }, parsed.positionOf);
}

const sound = { text: "lantern\n", mode: 0o100600 };

describe("the secrets of alert channels", () => {
  it("come from a file beside the config and from the environment", async () => {
    const { secrets, faults, warnings } = await resolved(sound, "reed");
    expect(Object.fromEntries(secrets)).toEqual({ phone: "lantern", mail: "reed" });
    expect([...faults, ...warnings]).toEqual([]);
  });

  it.each([
    { because: "the file is not there", file: "absent", variable: "reed", says: /ENOENT/ },
    { because: "it is empty", file: { ...sound, text: "\n" }, variable: "reed", says: /that is empty/ },
    { because: "it has two lines", file: { ...sound, text: "a\nb\n" }, variable: "reed", says: /one line/ },
    { because: "the variable is not set", file: sound, variable: undefined, says: /MAIL_PASSWORD.*not set/ },
  ] as const)("are a fault with its place where $because", async ({ file, variable, says }) => {
    const { faults } = await resolved(file, variable);
    expect(faults.map(({ what, allowed }) => `${what}; ${allowed}`)).toEqual([expect.stringMatching(says)]);
    expect(faults[0]!.line).toBeGreaterThan(100);
    expect(JSON.stringify(faults)).not.toContain("lantern");
  });

  it("come with the certificate of an authority of one's own, and a file without one is a fault", async () => {
    const parsed = parseConfig(
      edited(exampleText, [["# caFile: home-ca.pem", "caFile: home-ca.pem"]]),
      "/srv/site.yaml",
    );
    if (parsed.kind === "invalid") throw new Error(parsed.faults.map(({ what }) => what).join("\n"));
    const read = (certificate: string) =>
      resolveAlertSecrets(
        parsed.config,
        (path) =>
          Promise.resolve(path === "/srv/home-ca.pem" ? { text: certificate, mode: 0o100644 } : sound),
        { FIZZWARD_MAIL_PASSWORD: "reed" },
        parsed.positionOf,
      );
    const pem = "-----BEGIN CERTIFICATE-----\nx\n-----END CERTIFICATE-----\n";
    const { authorities, faults, warnings } = await read(pem);
    expect(Object.fromEntries(authorities)).toEqual({ phone: pem });
    expect([...faults, ...warnings]).toEqual([]);
    expect((await read("x")).faults).toMatchObject([
      {
        keyPath: "alerts.channels.phone.caFile",
        what: expect.stringContaining("holds no certificate") as string,
      },
    ]);
  });

  it("that this user may not read are a fault that names the daemon's user", async () => {
    const { faults } = await resolved("denied", "reed");
    expect(faults.map(({ todo }) => todo)).toEqual([
      "give the daemon's user the right to read it; to check it, be that user",
    ]);
  });

  it("that others can read give a warning", async () => {
    const { warnings } = await resolved({ ...sound, mode: 0o100644 }, "reed");
    expect(warnings.map(({ todo }) => todo)).toEqual(["run: chmod 600 /srv/push-token"]);
  });
});
