import type { Fault, Finding } from "./fault.js";

/** What came of one fault: what was found, or why it could not be driven. */
export interface FaultRow {
  readonly group: string;
  readonly fault: Fault;
  readonly finding: Finding | { readonly failed: string };
}

/** What was not as promised; empty where everything was. */
export function missesOf({ fault, finding }: FaultRow): readonly string[] {
  if ("failed" in finding) return [finding.failed];
  const limit_ms = fault.limit_s * 1000;
  const misses = finding.miss === undefined ? [] : [finding.miss];
  if (!(finding.took_ms <= limit_ms)) misses.push(`${finding.valve}: not within ${fault.limit_s} s`);
  if (fault.alarm === "none") {
    if (finding.alarms.length > 0) misses.push(`alarms that nobody needs: ${finding.alarms.join(", ")}`);
  } else if (!finding.alarms.some((alarm) => alarm.startsWith(fault.alarm))) {
    misses.push(`no alarm ${fault.alarm}, but ${finding.alarms.join(", ") || "none"}`);
  }
  return misses;
}

const head = `# What happens to the valve when something fails

Each row was driven, on Linux, against the compiled daemon, a real mosquitto and simulated relays and sensors that really wait. \`npm run faults\` (as root, with Debian's mosquitto and iproute2; about a quarter of an hour) drives all of them again and writes this page; it ends with an exit code other than 0 when a row is not as promised. \`npm run faults -- WORD\` drives those whose name holds the word and renews their rows.

- **closed**: no gas flows from the limit on.
- **provably safe**: gas may go on as wanted, and what has to close it while the fault goes on does so within the limit.
- **told**: no machine can close a lone valve that hangs open. A person is told within the limit, with what to do: shut the vessel by hand, aerate, watch the fish. A second valve in series closes it: those rows stand beside.

The times are as measured the last time each was driven; the limits hold. Where the relay's own auto-off is the closing, it is set to the shortest that the config takes, 10 s: yours takes as long as yours is set to. Where it is not, it is set to 300 s, so that it cannot be what closed. The config's own words about a relay that nobody has tried raise an alarm of low priority in every row, which is left out. Readings are written once a second here, in an ordinary config once a minute.
`;

/** The page: every fault of the suite in its order, with what was found now or, where it was not driven, what stood there before. */
export function faultPage(
  groups: Readonly<Record<string, readonly Fault[]>>,
  found: readonly FaultRow[],
  before: string,
): string {
  const known = new Map(faultLinesOf(before).map((cells) => [cells[0], cells]));
  const sections = Object.entries(groups).map(([group, faults]) => [
    `## ${group}`,
    "",
    "| fault | the valve | after | limit | alarm | lost | verdict |",
    "| --- | --- | --- | --- | --- | --- | --- |",
    ...faults.map((fault) => {
      const row = found.find((each) => each.fault === fault);
      return row === undefined ? keptLine(fault, known.get(fault.name)) : line(row);
    }),
    "",
  ]);
  return [head, ...sections.flat()].join("\n");
}

/** The cells of each fault that a page shows. */
export function faultLinesOf(page: string): readonly (readonly string[])[] {
  return page
    .split("\n")
    .filter((text) => text.startsWith("| "))
    .map((text) =>
      text
        .slice(1, text.lastIndexOf("|"))
        .split("|")
        .map((cell) => cell.trim()),
    )
    .filter(([first = ""]) => first !== "fault" && !first.startsWith("---"));
}

/** What the last column says of a fault that went as promised. */
export function promiseOf({ verdict, because }: Pick<Fault, "verdict" | "because">): string {
  return because === "" ? verdict : `${verdict}: ${because}`;
}

/** What was found stays; what is promised of it may be said in other words, or held to another limit, since. */
function keptLine(fault: Fault, cells: readonly string[] | undefined): string {
  if (cells === undefined) return `| ${fault.name} | not driven yet | | ${fault.limit_s} s | | | |`;
  const [, valve = "", after = "", , alarm = "", lost = "", verdict = ""] = cells;
  const isWithin = secondsIn(after) <= fault.limit_s;
  const promise = verdict.includes("MISSED") ? verdict : isWithin ? promiseOf(fault) : "**MISSED**";
  return `| ${[fault.name, valve, after, `${fault.limit_s} s`, alarm, lost, promise].join(" | ")} |`;
}

/** The time that a page shows; NaN for never. */
export function secondsIn(shown: string): number {
  return shown === "at once" ? 0 : Number(/^([\d.]+) s$/.exec(shown)?.[1] ?? Number.NaN);
}

function line(row: FaultRow): string {
  const { fault, finding } = row;
  const misses = missesOf(row);
  const verdict = misses.length > 0 ? `**MISSED**: ${misses.join("; ")}` : promiseOf(fault);
  const cells =
    "failed" in finding
      ? [fault.name, "", "", `${fault.limit_s} s`, "", "", verdict]
      : [
          fault.name,
          finding.valve,
          secondsOf(finding.took_ms),
          `${fault.limit_s} s`,
          finding.alarms.map((alarm) => `\`${alarm}\``).join(", ") || "none",
          finding.lost,
          verdict,
        ];
  // A line of a table ends with the line, and a cell at each bar.
  return `| ${cells.map((cell) => cell.replaceAll(/[|\n]/g, " ")).join(" | ")} |`;
}

export function secondsOf(duration_ms: number): string {
  if (Number.isNaN(duration_ms)) return "never";
  return duration_ms === 0 ? "at once" : `${(duration_ms / 1000).toFixed(duration_ms < 100 ? 3 : 1)} s`;
}
