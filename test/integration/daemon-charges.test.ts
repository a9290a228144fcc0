import { expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { runCommand } from "../support/daemon-process.js";

const bench = useDaemonBench();

it("ends a charge with the closing of the next, tells of it on the vessel's topic, and lists both while it runs", async () => {
  const closedAt = new Date(Date.now() - 12 * 86_400_000).toISOString().replace(/\.\d+Z$/, "Z");
  const vesselKeys = `,
    prices: { currency: EUR, sodiumBicarbonate_perKg: 3, citricAcid_perKg: 8 },
    charge: { sodiumBicarbonate_g: 120, citricAcidAnhydrous_g: 100, water_kg: 0.5, sealedAt_degC: 20, closedAt: "${closedAt}" }`;
  const running = await bench().run({ config: { vesselKeys } });
  const lastCharge = (): unknown => {
    const last = bench()
      .observer.messages.filter(({ topic }) => topic === "fizzward/mill-house/vessel/cellar")
      .at(-1);
    return (JSON.parse(last?.payload ?? "{}") as { readonly lastCharge?: unknown }).lastCharge;
  };
  await vi.waitFor(
    () => {
      const estimated = bench().observer.messages.some(({ payload }) => payload.includes("co2Remaining_g"));
      expect(estimated).toBe(true);
    },
    { timeout: 30_000 },
  );
  expect(lastCharge()).toBe(null);
  const life = await runCommand(["status", "--config", running.configFile, "--tanks", "3"]);
  expect(life.output).toMatch(
    / {2}3 tanks: how long it lasts cannot be told yet.*, emptied 3\.0 times as fast/,
  );

  const entered = await runCommand([
    ...["journal", "charge-closed", "--config", running.configFile],
    ...["--bicarbonate", "100", "--acid-anhydrous", "83", "--ice", "0.5", "--temperature", "18"],
    ...["--planned-bicarbonate", "101", "--planned-acid", "84"],
  ]);
  expect(entered.output).toContain("; planned 101 g and 84 g");
  await vi.waitFor(
    () =>
      expect(lastCharge()).toMatchObject({
        ended: "refilled early",
        closedWith: "water",
        currency: "EUR",
        remarks: [{ id: "not-run-to-its-end" }],
      }),
    { timeout: 30_000 },
  );

  const listed = await vi.waitFor(
    async () => {
      const { output, exitCode } = await runCommand(["charges", "--config", running.configFile, "--json"]);
      expect(exitCode).toBe(0);
      const { charges } = JSON.parse(output) as { readonly charges: readonly unknown[] };
      expect(charges).toHaveLength(2);
      return charges;
    },
    { timeout: 20_000 },
  );
  expect(listed).toMatchObject([
    { ended: "refilled early", weighed: { sodiumBicarbonate_g: 120 } },
    { ended: "running", planned: { sodiumBicarbonate_g: 101, citricAcid_g: 84 }, closedWith: "ice" },
  ]);
}, 120_000);
