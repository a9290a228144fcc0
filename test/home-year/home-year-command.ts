/**
 * A year of a home with three tanks against the daemon's own composition, faster than it goes by:
 * `npm run home-year -- --seed 7 --days 365`. Prints one JSON object and a table; ends with 1 where a goal is missed.
 */
import { parseArgs } from "node:util";
import { runHomeYear } from "./home-year.js";
import { reportOf, tableOf } from "./year-report.js";

const { values } = parseArgs({
  options: {
    seed: { type: "string", default: "1" },
    days: { type: "string", default: "365" },
    faults: { type: "string", default: "24" },
    from: { type: "string" },
    log: { type: "boolean", default: false },
  },
});

const record = await runHomeYear({
  seed: Number(values.seed),
  days: Number(values.days),
  faultsPerYear: Number(values.faults),
  ...(values.from === undefined ? {} : { from: values.from }),
  ...(values.log ? { log: (line: string) => void process.stderr.write(`${line}\n`) } : {}),
});
const report = reportOf(record);
process.stdout.write(`${JSON.stringify(report)}\n\n${tableOf(report)}\n`);
process.exit(report.goals.every(({ isMet }) => isMet) ? 0 : 1);
