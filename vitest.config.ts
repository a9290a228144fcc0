import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";

const report = process.env.FIZZWARD_TEST_REPORT;

/** What lasts longest begins first: the files that wait for processes and brokers, and the longest reckonings beside them. */
class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const sorted = await super.sort(files);
    const rank = ({ moduleId }: TestSpecification): number =>
      /\/(virtual-year|simulated-charges)\.test/.test(moduleId)
        ? 0
        : /\/test\/(integration\/(?!store-)|browser\/)/.test(moduleId)
          ? 1
          : 2;
    return sorted
      .map((file, place) => ({ file, place }))
      .sort((a, b) => rank(a.file) - rank(b.file) || a.place - b.place)
      .map(({ file }) => file);
  }
}

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts"],
    testTimeout: 30_000,
    pool: "forks",
    // Many tests wait for processes and brokers: three of them fill two cores.
    maxWorkers: 3,
    sequence: { sequencer: LongestFirst },
    reporters: report === undefined ? ["default"] : ["default", ["json", { outputFile: report }]],
    coverage: {
      provider: "v8",
      include: ["lib/**/*.ts"],
      reporter: ["text-summary"],
      thresholds: { branches: 85 },
    },
  },
});
