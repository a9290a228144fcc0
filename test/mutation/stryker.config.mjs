// Which changes of what decides no test sees: `npm run mutation`, or some folders only: `MUTATED=control,alarm npm run mutation`.
const folders = (process.env.MUTATED ?? "control,alarm,schedule,vessel").split(",");

export default {
  testRunner: "vitest",
  plugins: ["@stryker-mutator/vitest-runner"],
  vitest: { configFile: "test/mutation/vitest.config.ts", related: false },
  mutate: folders.map((folder) => `lib/${folder}/**/*.ts`),
  // Constants of a module are read once, before a changed one could be put in their place.
  ignoreStatic: true,
  // The wording is judged by the tests of what a person sees, and by reading.
  mutator: { excludedMutations: ["StringLiteral"] },
  reporters: ["clear-text", "json"],
  clearTextReporter: { allowColor: false, logTests: false, reportTests: false },
  jsonReporter: { fileName: "reports/mutation.json" },
  thresholds: { high: 90, low: 80, break: 80 },
  tempDirName: ".stryker-tmp",
  ignorePatterns: ["coverage", "reports", ".fizzward", "dist"],
};
