import { defineConfig } from "vitest/config";

const report = process.env.FIZZWARD_TEST_REPORT;

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts"],
    testTimeout: 30_000,
    pool: "forks",
    maxWorkers: 2,
    reporters: report === undefined ? ["default"] : ["default", ["json", { outputFile: report }]],
    coverage: {
      provider: "v8",
      include: ["lib/**/*.ts"],
      reporter: ["text-summary"],
      thresholds: { branches: 85 },
    },
  },
});
