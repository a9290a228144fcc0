import { defineConfig } from "vitest/config";

const report = process.env.FIZZWARD_TEST_REPORT;

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts"],
    testTimeout: 30_000,
    pool: "forks",
    // Many tests wait for processes and brokers: three of them fill two cores.
    maxWorkers: 3,
    reporters: report === undefined ? ["default"] : ["default", ["json", { outputFile: report }]],
    coverage: {
      provider: "v8",
      include: ["lib/**/*.ts"],
      reporter: ["text-summary"],
      thresholds: { branches: 85 },
    },
  },
});
