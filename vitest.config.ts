import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";

const report = process.env.FIZZWARD_TEST_REPORT;

/** What lasts longest begins first: files that wait for processes beside files that reckon. */
const longest = [
  "daemon-person",
  "virtual-year",
  "daemon-closing",
  "supply-tracker",
  "daemon-cut-off",
  "learnt-tank",
  "mqtt-dead-man",
  "charge-views",
  "daemon-journal",
  "pressurising-fit",
  "daemon-payloads",
  "simulated-charges",
  "daemon-supply",
  "browser/page",
];

class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const sorted = await super.sort(files);
    const rank = ({ moduleId }: TestSpecification): number => {
      const place = longest.findIndex((name) => moduleId.includes(`${name}.test.`));
      return place < 0 ? longest.length : place;
    };
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
    // Many tests wait for processes and brokers: four of them fill two cores.
    maxWorkers: 4,
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
