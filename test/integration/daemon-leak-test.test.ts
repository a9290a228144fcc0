import { expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { runCommand } from "../support/daemon-process.js";

const bench = useDaemonBench();

it("holds a vessel's relay off for a leak test, over a restart, and tells of it on the vessel's topic", async () => {
  const closedAt = new Date(Date.now() - 20 * 86_400_000).toISOString().replace(/\.\d+Z$/, "Z");
  const vesselKeys = `,
    charge: { sodiumBicarbonate_g: 120, citricAcidAnhydrous_g: 100, water_kg: 0.5, sealedAt_degC: 20, closedAt: "${closedAt}" }`;
  const running = await bench().run({ config: { vesselKeys } });
  const leakTest = (command: string, ...rest: readonly string[]) =>
    runCommand(["leak-test", command, "--config", running.configFile, ...rest]);
  const told = (): unknown => {
    const last = bench()
      .observer.messages.filter(({ topic }) => topic === "fizzward/mill-house/vessel/cellar")
      .at(-1);
    return (JSON.parse(last?.payload ?? "{}") as { readonly leakTest?: unknown }).leakTest;
  };
  await bench().observer.publish("tank/ph", "6.8");
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 20_000 });
  await vi.waitFor(() => expect(told()).toBe(null), { timeout: 20_000 });

  const look = ["--gauge", "120", "--unit", "psi", "--temperature", "20"];
  const begun = await vi.waitFor(
    async () => {
      const { output, exitCode } = await leakTest(
        "begin",
        "--hours",
        "12",
        ...look,
        "--accuracy",
        "2",
        "--yes",
      );
      expect(output).not.toContain("no charge of cellar is known");
      return { output, exitCode };
    },
    { timeout: 20_000 },
  );
  expect(begun.output).toMatch(/1 g a day can be told after about \d+ h closed/);
  expect(begun.output).toContain("every valve of it is held closed");
  expect(begun.exitCode).toBe(0);
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 10_000 });
  await vi.waitFor(() => expect(told()).toMatchObject({ state: "running", readFrom: "by eye" }), {
    timeout: 10_000,
  });

  running.child.kill("SIGTERM");
  expect(await running.exitCode()).toBe(0);
  const changes = bench().relay.changes.length;
  await bench().run({ config: { vesselKeys }, folder: running.folder });
  await bench().observer.publish("tank/ph", "6.8");
  const status = await vi.waitFor(
    async () => {
      const said = await runCommand(["status", "--config", running.configFile]);
      expect(said.output).toContain("is told closed: leak test");
      return said.output;
    },
    { timeout: 20_000 },
  );
  expect(status).toContain("h; its valves are held closed");
  expect(
    bench()
      .relay.changes.slice(changes)
      .filter(({ state }) => state === "on"),
  ).toEqual([]);

  const ended = await leakTest("end", "--gauge", "119", "--unit", "psi", "--temperature", "20");
  expect(ended.output).toContain("It cannot be told after");
  expect(ended.output).toContain("follow schedule and rules again");
  await vi.waitFor(
    () => expect(told()).toMatchObject({ state: "ended", verdict: "cannot-be-told", leak_gPerDay: null }),
    { timeout: 10_000 },
  );
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 20_000 });
}, 120_000);
