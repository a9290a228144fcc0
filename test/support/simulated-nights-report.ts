import { jumpRow, type JumpDay } from "./jump-trial.js";
import { restRow } from "./rest-trial.js";
import { leadRow, nightRow, seeds, summarise, watchRow } from "./night-trial.js";

/**
 * Prints how well the tank's balance is learnt from simulated nights of finer physics:
 * `node dist/test/support/simulated-nights-report.js`. Figures to look at; the scenarios hold them to their limits.
 */

const percent = (share: number): string => (Number.isNaN(share) ? "-" : (100 * share).toFixed(1));
const print = (cells: readonly (string | number)[]): void =>
  console.log(cells.map((cell) => String(cell).padStart(9)).join(" "));

const rows = seeds(1, 500).map(nightRow);
console.log("500 nights by the true k times the night; shares in %");
print([
  "k x night",
  "nights",
  "numbers",
  "bounds",
  "rejected",
  "in 15 %",
  "in 35 %",
  "95 % off",
  "80 % int",
  "90 % int",
  "bounds ok",
]);
for (const [low, high] of [
  [0, 1],
  [1, 1.3],
  [0, 1.3],
  [1.3, 1.8],
  [1.8, 2.5],
  [2.5, 4],
  [4, 100],
  [1.8, 100],
  [0, 100],
] as const) {
  const found = summarise(
    rows.filter(({ nightOverK_ratio }) => nightOverK_ratio >= low && nightOverK_ratio < high),
  );
  print([
    high === 100 ? `${low} up` : `${low}-${high}`,
    found.nights,
    found.numbers,
    found.bounds,
    found.rejected,
    percent(found.within15),
    percent(found.within35),
    percent(found.error95_ratio),
    percent(found.held80),
    percent(found.held90),
    percent(found.boundsHeld),
  ]);
}

const leads = seeds(5001, 200).flatMap((seed) => leadRow(seed) ?? []);
const middleOf = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
console.log(`\n${leads.length} of 200 tanks learnt from three nights and a morning of two hours`);
console.log(
  `dose: off by ${percent(middleOf(leads.map((row) => Math.abs(Math.expm1(row.doseError_ln)))))} % in the middle, ` +
    `80 % interval holds ${percent(leads.filter((row) => Math.abs(row.doseError_ln) < 1.2816 * row.doseSigma_ln).length / leads.length)} %`,
);
console.log(
  `lead: off by ${percent(middleOf(leads.map((row) => Math.abs(row.lead_h / row.trueLead_h - 1))))} % in the middle, ` +
    `80 % interval holds ${percent(leads.filter((row) => row.trueLead_h >= row.leadLow80_h && row.trueLead_h <= row.leadHigh80_h).length / leads.length)} %`,
);

console.log("\n200 nights each under watch; hours from the closing, of those that were told");
print(["gas still", "k 1/h", "nights", "open", "closed", "untold", "middle h", "90 % h"]);
for (const leak_ratio of [0, 1, 0.5, 0.3]) {
  const watched = seeds(7001, 200).map((seed) => watchRow(seed, leak_ratio));
  for (const [low, high] of [
    [0, 0.1],
    [0.1, 0.2],
    [0.2, 1],
  ] as const) {
    const part = watched.filter(({ k_perH }) => k_perH >= low && k_perH < high);
    const told = part
      .filter(({ kind }) => kind === "gas stopped" || kind === "gas did not stop")
      .map(({ told_h }) => told_h)
      .sort((a, b) => a - b);
    print([
      `${percent(leak_ratio)} %`,
      `${low}-${high}`,
      part.length,
      part.filter(({ kind }) => kind === "gas did not stop").length,
      part.filter(({ kind }) => kind === "gas stopped").length,
      part.length - told.length,
      told[Math.floor(told.length / 2)] ?? "-",
      told[Math.floor(0.9 * told.length)] ?? "-",
    ]);
  }
}

const dayKinds: readonly JumpDay[] = [
  "nothing",
  "spikes",
  "probe out and back",
  "probe unplugged",
  "water change",
  "flow bursts",
];
console.log("\n200 days each with a jump that is due, or none; minutes from due to told");
print(["told", "due", "not told", "middle", "90 %", "day"]);
for (const day of dayKinds) {
  const days = seeds(1, 200).map((seed) => jumpRow(seed, day));
  const due = days.filter(({ due_min }) => due_min !== undefined);
  const lags = due
    .flatMap(({ told_min, due_min = NaN }) => (told_min === undefined ? [] : [told_min - due_min]))
    .sort((a, b) => a - b);
  print([
    days.filter(({ told_min }) => told_min !== undefined).length,
    due.length,
    due.length - lags.length,
    lags[Math.floor(lags.length / 2)] ?? "-",
    lags[Math.floor(0.9 * lags.length)] ?? "-",
    day,
  ]);
}

console.log("\n200 tanks each whose valve leaks from the first night on, watched for seven nights");
print(["gas still", "k 1/h", "tanks", "told", "middle", "last"]);
for (const leak_ratio of [0, 0.1, 0.2, 0.3, 0.5]) {
  const tanks = seeds(20_001, 200).map((seed) => restRow(seed, leak_ratio, 7));
  for (const [low, high] of [
    [0, 0.1],
    [0.1, 0.2],
    [0.2, 1],
  ] as const) {
    const part = tanks.filter(({ k_perH }) => k_perH >= low && k_perH < high);
    const told = part.flatMap(({ toldAfter }) => toldAfter ?? []).sort((a, b) => a - b);
    print([
      `${percent(leak_ratio)} %`,
      `${low}-${high}`,
      part.length,
      told.length,
      told[Math.floor(told.length / 2)] ?? "-",
      told.at(-1) ?? "-",
    ]);
  }
}
