/**
 * Drives every fault against the compiled daemon and writes the page: `npm run faults`. Or those whose name holds a word, and
 * renews their rows: `npm run faults -- word`.
 */
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { format, resolveConfig } from "prettier";
import { faultGroups } from "./all-faults.js";
import { faultPage, missesOf, secondsOf, type FaultRow } from "./fault-page.js";
import type { Fault } from "./fault.js";
import { missingFor } from "./fault-needs.js";
import { withFaultSite } from "./fault-site.js";

const page = "deploy/docs/faults.md";
const atOnce = 2;
const longestRow_ms = 8 * 60_000;

// Debian puts it where not everybody looks.
process.env["PATH"] = `${process.env["PATH"] ?? ""}:/usr/sbin:/sbin`;
const missing = missingFor({
  user: process.getuid?.(),
  runs: (command, argument) => spawnSync(command, [argument]).error === undefined,
});
if (missing.length > 0) {
  process.stderr.write(`npm run faults cannot run here, and nothing was tried:\n${missing.join("\n")}\n`);
  process.exit(2);
}
const words = process.argv.slice(2);
const wanted = Object.entries(faultGroups).flatMap(([group, faults]) =>
  faults
    .filter(({ name }) => words.length === 0 || words.some((word) => name.includes(word)))
    .map((fault) => ({ group, fault })),
);
const rows = await runAll(wanted);
const misses = rows.filter((row) => missesOf(row).length > 0);
const before = existsSync(page) ? readFileSync(page, "utf8") : "";
const options = await resolveConfig(page);
writeFileSync(page, await format(faultPage(faultGroups, rows, before), { ...options, filepath: page }));
process.stdout.write(`${rows.length} faults, ${misses.length} not as promised\n`);
process.exit(misses.length === 0 && rows.length > 0 ? 0 : 1);

/** Long ones first, two at a time; the rows come back in the order of the list. */
async function runAll(all: readonly Omit<FaultRow, "finding">[]): Promise<readonly FaultRow[]> {
  const done = new Map<Fault, FaultRow>();
  const waiting = [...all].sort((a, b) => b.fault.limit_s - a.fault.limit_s);
  const lane = async (): Promise<void> => {
    for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) {
      const row: FaultRow = { ...next, finding: await drive(next.fault) };
      done.set(next.fault, row);
      tell(row);
    }
  };
  await Promise.all(Array.from({ length: atOnce }, lane));
  return all.flatMap(({ fault }) => done.get(fault) ?? []);
}

async function drive(fault: Fault): Promise<FaultRow["finding"]> {
  let timer: NodeJS.Timeout | undefined;
  const tooLong = new Promise<FaultRow["finding"]>((resolve) => {
    timer = setTimeout(() => resolve({ failed: "it did not end within 8 min" }), longestRow_ms);
  });
  try {
    const run = withFaultSite(fault.site ?? {}, (site) => fault.run(site, fault.limit_s * 1000));
    return await Promise.race([run, tooLong]);
  } catch (error) {
    return { failed: (error instanceof Error ? error.message : String(error)).slice(0, 3000) };
  } finally {
    clearTimeout(timer);
  }
}

function tell(row: FaultRow): void {
  const { fault, finding } = row;
  const missed = missesOf(row);
  const found =
    "failed" in finding
      ? ""
      : `${finding.valve}, ${secondsOf(finding.took_ms)} of ${fault.limit_s} s; ${finding.alarms.join(", ") || "no alarm"}; lost: ${finding.lost}`;
  const verdict = missed.length === 0 ? fault.verdict : `MISSED: ${missed.join("; ")}`;
  process.stdout.write(`${fault.name}: ${found}: ${verdict}\n`);
}
