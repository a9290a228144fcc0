import type { Judged } from "./broker-traits.js";
import { allTraits } from "./broker-traits.js";
import { moveLimits, type Move } from "./failover-drive.js";

export interface BrokerFindings {
  readonly name: string;
  /** One for each trait, in their order. */
  readonly traits: readonly Judged[];
  readonly move: Move;
}

const head = `# What a broker must do, and which do

\`npm run cluster\` (as root, with Debian's mosquitto and rabbitmq-server; some minutes) tries it with real brokers on loopback and the compiled daemon, and writes this page; it ends with an exit code other than 0 when a move is not as promised.

Several addresses under \`broker.addresses\` are tried in their order, on each loss anew. They may be nodes of one cluster, or brokers that know nothing of each other: then relay, sensors and hub must move too.
`;

const advice = `## What follows for a cluster of rabbitmq

- **Before any client comes:** \`rabbitmqctl set_policy subscriptions '^mqtt-subscription-' '{"ha-mode":"all"}' --apply-to queues\`. Without it the daemon may not get in again after the kill of a node, and the valve stays closed.
- A relay must find the other node by itself, and soon: of two moves that were driven one had it off after 4 s, in the other, with an auto-off of 300 s, it had not come back and heard no OFF for 30 s. Set its auto-off as short as it goes.
- A relay that stays at the other node hears no will when the daemon's node dies. It is off when the daemon has moved, or by its own auto-off, which is required anyway.
- A hub must subscribe to exact topics, or bridge from a broker that serves wildcards: discovery by wildcard finds nothing that was published before it came. Have it say that it comes up (\`hub.online\`): everything is then told again.
- By 3.1.1 a late ON does not expire. It goes out by the connection that holds the will alone, with QoS 0, and nothing is queued by the daemon.
- A command that was sent retained acts when it comes live: by 3.1.1 nobody can tell.

Where none of this is wanted: one mosquitto beside the daemon, and a bridge to everything else ([hub-bridge.md](hub-bridge.md)).
`;

/** The page, from what was found of each broker. */
export function brokerPage(found: readonly BrokerFindings[]): string {
  const names = found.map(({ name }) => name);
  const rule = (columns: number): string => row(Array.from({ length: columns }, () => "---"));
  return [
    head,
    "## What it must do",
    "",
    row(["a broker ...", "needed for", ...names]),
    rule(2 + names.length),
    ...allTraits.map(({ what, neededFor }, index) =>
      row([what, neededFor, ...found.map(({ traits }) => verdictOf(traits[index]))]),
    ),
    "",
    "## A broker is killed while gas flows",
    "",
    "The daemon, the relay and its dead-man connection are at the first address, which is killed. The relay finds the other one later than the daemon, so that what is said to it before is lost.",
    "",
    row(["from the kill until", "limit", ...names]),
    rule(2 + names.length),
    ...moveLimits.map(({ key, what, limit_s }) =>
      row([what, `${limit_s} s`, ...found.map(({ move }) => timeOf(move[key]))]),
    ),
    row(["documents", "", ...found.map(({ move }) => String(move.documents))]),
    "",
    advice,
  ].join("\n");
}

function verdictOf(judged: Judged | undefined): string {
  if (judged === undefined) return "not tried";
  return judged.holds ? `yes (${judged.figure})` : `**no** (${judged.figure})`;
}

function timeOf(took_ms: number): string {
  return Number.isNaN(took_ms) ? "never" : `${(took_ms / 1000).toFixed(1)} s`;
}

/** A line of a table ends with the line, and a cell at each bar. */
function row(cells: readonly string[]): string {
  return `| ${cells.map((cell) => cell.replaceAll(/[|\n]/g, " ")).join(" | ")} |`;
}
