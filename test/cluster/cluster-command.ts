/** Tries what a broker must do with two mosquittos and with a cluster of two rabbitmq nodes, and writes the page: `npm run cluster`. */
import { writeFileSync } from "node:fs";
import { format, resolveConfig } from "prettier";
import { brokerPage, type BrokerFindings } from "./broker-page.js";
import { allTraits, brokerTraits, judgeKill, type Judged } from "./broker-traits.js";
import { brokerNames, startBroker, type BrokerName, type BrokerUnderTest } from "./broker-under-test.js";
import { driveMove, moveLimits } from "./failover-drive.js";
import { missingForRabbitmq } from "./rabbitmq-cluster.js";

const page = "deploy/docs/brokers.md";

// Debian puts it where not everybody looks.
process.env["PATH"] = `${process.env["PATH"] ?? ""}:/usr/sbin:/sbin`;
const missing = missingForRabbitmq();
if (missing.length > 0) {
  process.stderr.write(`npm run cluster cannot run here, and nothing was tried:\n${missing.join("\n")}\n`);
  process.exit(2);
}
const found: BrokerFindings[] = [];
for (const name of brokerNames) found.push(await findingsOf(name));
const options = await resolveConfig(page);
writeFileSync(page, await format(brokerPage(found), { ...options, filepath: page }));
const misses = found.flatMap(({ name, move }) =>
  moveLimits.flatMap(({ key, what, limit_s }) =>
    move[key] <= limit_s * 1000 ? [] : [`${name}: ${what}: not within ${limit_s} s`],
  ),
);
process.stdout.write(misses.length === 0 ? "every move as promised\n" : `${misses.join("\n")}\n`);
process.exit(misses.length === 0 ? 0 : 1);

async function findingsOf(name: BrokerName): Promise<BrokerFindings> {
  const traits = await withBroker(name, async (broker) => {
    const judged: Judged[] = [];
    for (const trait of brokerTraits) judged.push(await trait.judge(broker));
    judged.push(...(await judgeKill(broker)));
    allTraits.forEach(({ what }, index) => {
      tell(
        broker.name,
        what,
        `${judged[index]?.holds === true ? "yes" : "no"}, ${judged[index]?.figure ?? ""}`,
      );
    });
    return judged;
  });
  return withBroker(name, async (broker) => {
    broker.prepare();
    const move = await driveMove(broker);
    for (const { key, what } of moveLimits) tell(broker.name, what, `${Math.round(move[key])} ms`);
    return { name: broker.name, traits, move };
  });
}

async function withBroker<T>(name: BrokerName, use: (broker: BrokerUnderTest) => Promise<T>): Promise<T> {
  const broker = await startBroker(name);
  try {
    return await use(broker);
  } finally {
    await broker.dispose();
  }
}

function tell(broker: string, what: string, result: string): void {
  process.stdout.write(`${broker}: ${what}: ${result}\n`);
}
