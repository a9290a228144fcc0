import { defineConfig } from "vitest/config";

const folders = (process.env.MUTATED ?? "control,alarm,schedule,vessel").split(",");
/** Beside the folder's own unit tests: the properties and published tables that judge it, and nothing that takes minutes. */
const judgedBy: Readonly<Record<string, readonly string[]>> = {
  control: ["properties/control"],
  alarm: ["properties/alarms"],
  vessel: [
    "properties/vessel-equilibrium",
    "properties/pressurising",
    "reference/gas-supply",
    "reference/sealed-vessel",
  ],
};

export default defineConfig({
  test: {
    include: folders.flatMap((folder) => [
      `test/unit/lib/${folder}/**/*.test.ts`,
      ...(judgedBy[folder] ?? []).map((name) => `test/${name}.test.ts`),
    ]),
    setupFiles: [new URL("fewer-runs.ts", import.meta.url).pathname],
    testTimeout: 30_000,
    pool: "forks",
  },
});
