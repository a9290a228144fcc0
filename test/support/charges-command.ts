import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { parseArgs } from "node:util";
import type { ChargeConditions } from "../../lib/simulation/drawn-charge.js";
import {
  idealErrorsAt,
  leastRemainingError_percent,
  quantile,
  runEnsemble,
  summarise,
  type ScoredCharge,
} from "./charge-ensemble.js";
import { chargeExperiments, runExperiment, type ExperimentResult } from "./charge-experiments.js";
import { ensembleLines, verdictsOf, type Verdict } from "./charge-report.js";
import { usualFaults, usualOnset_epochMs } from "./charge-faults.js";
import { writeSimulatedCharge } from "./charge-trace-files.js";
import { detectorsUnderTest } from "./detectors-under-test.js";
import { proportionalToCorrectedGauge, proportionalToGauge } from "./naive-supply.js";
import { recursiveEstimator } from "./supply-under-test.js";

/**
 * Simulates charges, runs the estimator and the usual methods over them and prints how they did:
 * `node dist/test/support/charges-command.js --help`.
 */

const help = `Simulated charges: what is left and when it ends, by each method, against the truth.
  --charges N      charges in each ensemble (500)
  --seed N         seed of the first charge; the others count up (1)
  --read-by WHO    device, eye or both (both)
  --experiments N  runs of each experiment with a fault (60; "too strong" 200); 0 for none
  --only TEXT      only the experiments whose name holds the text, and no ensemble
  --export DIR     writes the charges of the ensembles as traces with their truth, and runs nothing
  --fault NAME     with --export: a fault in each, a quarter into its life (${Object.keys(usualFaults).join(", ")})
  --json FILE      writes all figures
`;

const { values } = parseArgs({
  options: {
    charges: { type: "string", default: "500" },
    seed: { type: "string", default: "1" },
    "read-by": { type: "string", default: "both" },
    experiments: { type: "string" },
    only: { type: "string" },
    export: { type: "string" },
    fault: { type: "string" },
    json: { type: "string" },
    help: { type: "boolean", default: false },
  },
});

function whole(name: string, text: string, least: number): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < least) {
    console.error(`--${name} is "${text}"; a whole number from ${least} on is needed`);
    process.exit(2);
  }
  return value;
}

if (values.help) {
  console.log(help);
  process.exit(0);
}

const charges = whole("charges", values.charges, 1);
const firstSeed = whole("seed", values.seed, 0);
const readBy = values["read-by"];
if (!["device", "eye", "both"].includes(readBy)) {
  console.error(`--read-by is "${readBy}"; device, eye or both is needed`);
  process.exit(2);
}
const exportTo = values.export;
const fault = values.fault === undefined ? undefined : usualFaults[values.fault];
if (values.fault !== undefined && (fault === undefined || exportTo === undefined)) {
  console.error(`--fault goes with --export, and is one of ${Object.keys(usualFaults).join(", ")}`);
  process.exit(2);
}

const ensembles: readonly { readonly name: string; readonly conditions: ChargeConditions }[] = [
  { name: "gauge read by a device, every 10 minutes", conditions: { readBy: "device" as const } },
  {
    name: "gauge read by eye twice a week, charges of three weeks and more",
    conditions: { readBy: "eye" as const, leastDays: 21 },
  },
].filter((ensemble) => readBy === "both" || ensemble.conditions.readBy === readBy);

const verdicts: Verdict[] = [];
const figures: { ensembles: unknown[]; experiments: ExperimentResult[] } = { ensembles: [], experiments: [] };
const seconds = (since: number): string => ((performance.now() - since) / 1000).toFixed(0);

if (values.only === undefined) {
  for (const { name, conditions } of ensembles) {
    const since = performance.now();
    const scored: readonly ScoredCharge[] = runEnsemble({
      charges,
      firstSeed,
      conditions: { ...conditions, ...fault?.conditions },
      faultsOf: (drawn) => (fault?.at === undefined ? [] : [fault.at(usualOnset_epochMs(drawn))]),
      withIdeal: exportTo === undefined,
      methods:
        exportTo === undefined ? [recursiveEstimator, proportionalToGauge, proportionalToCorrectedGauge] : [],
      onCharge: (charge, done) => {
        if (exportTo !== undefined) {
          writeSimulatedCharge(join(exportTo, `${conditions.readBy}-${charge.drawn.seed}`), charge);
        }
        if (done % 50 === 0) console.error(`${name}: ${done} of ${charges}, ${seconds(since)} s`);
      },
    });
    if (exportTo !== undefined) continue;
    const summaries = summarise(scored);
    console.log(
      `\n${charges} charges, seeds ${firstSeed} to ${firstSeed + charges - 1}: ${name} (${seconds(since)} s)`,
    );
    for (const line of ensembleLines(summaries)) console.log(line);
    for (const stage of ["half", "quarter"] as const) {
      const errors = idealErrorsAt(scored, stage);
      const [median, p95] = [0.5, 0.95].map((share) => (100 * quantile(errors, share)).toFixed(1));
      console.log(
        `  A run-out forecast at ${stage} that knows all but the chance to come misses by ${median} / ${p95} % of the time left (median / 95th).`,
      );
    }
    const least =
      conditions.readBy === "device"
        ? {
            half: leastRemainingError_percent(scored, "half"),
            quarter: leastRemainingError_percent(scored, "quarter"),
          }
        : undefined;
    if (least !== undefined) {
      console.log(
        `  Grams left by an estimator that knows all but the drawn errors: median error ${least.half.toFixed(2)} points at half, ${least.quarter.toFixed(2)} at quarter.`,
      );
    }
    const judged = verdictsOf(conditions.readBy, summaries, least);
    for (const verdict of judged) console.log(`  ${verdict.met ? "met   " : "MISSED"}  ${verdict.text}`);
    verdicts.push(...judged);
    figures.ensembles.push({ name, charges, firstSeed, summaries, verdicts: judged, scored });
  }
}

if (exportTo === undefined) {
  const runs = values.experiments === undefined ? undefined : whole("experiments", values.experiments, 0);
  const chosen = chargeExperiments.filter((experiment) => experiment.name.includes(values.only ?? ""));
  for (const experiment of runs === 0 ? [] : chosen) {
    const since = performance.now();
    const usual = experiment.id === "too-strong" ? 200 : 60;
    const result = runExperiment(experiment, detectorsUnderTest, { runs: runs ?? usual, firstSeed });
    figures.experiments.push(result);
    if (result.kind === "no-detector-yet") {
      console.log(`\n${result.name}: no detector yet`);
      continue;
    }
    console.log(`\n${result.name}: ${result.runs} runs (${seconds(since)} s)`);
    for (const [figure, value] of Object.entries(result.figures)) {
      console.log(`  ${figure.padEnd(24)} ${value.toPrecision(3)}`);
    }
    for (const { text, met } of result.limits) console.log(`  ${met ? "met   " : "MISSED"}  ${text}`);
    verdicts.push(...result.limits);
  }
}

if (values.json !== undefined) writeFileSync(values.json, `${JSON.stringify(figures, null, 2)}\n`);
if (verdicts.some((verdict) => !verdict.met)) process.exitCode = 1;
