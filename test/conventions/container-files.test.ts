import { existsSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";

const root = fileURLToPath(new URL("../../", import.meta.url));
const containerfile = readFileSync(`${root}deploy/container/Containerfile`, "utf8");
const compose = parse(readFileSync(`${root}deploy/container/compose.yaml`, "utf8")) as {
  readonly services: Readonly<Record<string, Service>>;
  readonly volumes: Readonly<Record<string, unknown>>;
};

type Service = Readonly<Record<string, unknown>>;

function textsOf(service: Service | undefined, key: string): readonly string[] {
  const value = service?.[key];
  return Array.isArray(value) ? value.map(String) : [];
}

const lines = containerfile.replaceAll(/\\\n/g, " ").split("\n");
const user = /^USER (\d+):(\d+)$/m.exec(containerfile);

describe("the container's files", () => {
  it("copy nothing into the image but what the context lets through", () => {
    const letThrough = readFileSync(`${root}.dockerignore`, "utf8").trim().split("\n");
    expect(letThrough[0]).toBe("*");
    const fromContext = lines
      .filter((line) => line.startsWith("COPY ") && !line.includes("--from="))
      .flatMap((line) => line.split(/\s+/).slice(1, -1));
    expect(fromContext.length).toBeGreaterThan(5);
    const named = letThrough.filter((line) => line.startsWith("!")).map((line) => line.slice(1));
    expect([...fromContext].sort()).toEqual(named.sort());
    expect(fromContext.filter((name) => !existsSync(`${root}${name}`))).toEqual([]);
  });

  it("keep the keeper's passwords out of the image and out of the repository", () => {
    for (const name of [".dockerignore", ".gitignore"]) {
      const ignored = readFileSync(`${root}${name}`, "utf8").split("\n");
      for (const folder of ["broker", "site"]) {
        expect(ignored.some((line) => line.replace(/\/$/, "") === `deploy/container/${folder}`)).toBe(true);
      }
    }
  });

  it("run the daemon as a user of its own, by its number, who owns its folder alone", () => {
    expect(Number(user?.[1])).toBeGreaterThan(999);
    const owned = lines.filter((line) => /chown|install -d/.test(line));
    expect(owned).toEqual([`RUN install -d -o ${user![1]!} -g ${user![2]!} -m 0750 /var/lib/fizzward`]);
    expect(lines.indexOf(user![0])).toBeGreaterThan(lines.indexOf(owned[0]!));
  });

  it.each(Object.entries(compose.services))("let %s write nothing but its data", (_, service) => {
    expect(service["read_only"]).toBe(true);
    expect(textsOf(service, "cap_drop")).toEqual(["ALL"]);
    expect(textsOf(service, "security_opt")).toContain("no-new-privileges:true");
    expect(service["privileged"]).toBeUndefined();
    const writable = textsOf(service, "volumes").filter((volume) => !volume.endsWith(":ro"));
    expect(writable).toHaveLength(1);
    expect(Object.keys(compose.volumes)).toContain(writable[0]!.split(":")[0]);
  });

  it("give the daemon its socket's folder, and longer to stop than it takes to give up on silent relays", () => {
    const { fizzward } = compose.services;
    expect(textsOf(fizzward, "tmpfs")).toEqual([`/run/fizzward:uid=${user![1]!},gid=${user![2]!},mode=0700`]);
    // Relays are waited for 5 s, the store 10 s.
    expect(Number.parseInt(String(fizzward?.["stop_grace_period"]), 10)).toBeGreaterThanOrEqual(20);
    expect(fizzward?.["build"]).toEqual({ context: "../..", dockerfile: "deploy/container/Containerfile" });
  });

  it("say of the broker what Debian's own configuration says, and take ours from beside it", () => {
    const conf = readFileSync(`${root}deploy/container/mosquitto.conf`, "utf8");
    const keys = conf.split("\n").filter((line) => line !== "" && !line.startsWith("#"));
    const folder = textsOf(compose.services["broker"], "volumes").find((volume) =>
      volume.includes("/etc/mosquitto"),
    );
    expect(keys).toContain(`include_dir ${folder!.split(":")[1]!}/conf.d`);
    // Said once only, here or in deploy/mosquitto/fizzward.conf: mosquitto refuses some that come twice.
    const ours = readFileSync(`${root}deploy/mosquitto/fizzward.conf`, "utf8");
    for (const key of keys) expect(ours).not.toMatch(new RegExp(`^${key.split(" ")[0]!} `, "m"));
  });
});
