import { expect, it } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand } from "../support/daemon-process.js";
import { dosing } from "../support/dosing-daemon.js";

const bench = useDaemonBench();

const verdictOf = (output: string, subject: string): string | undefined =>
  output
    .split("\n")
    .find((line) => line.includes(`  ${subject}`))
    ?.split("  ")[0];

it("an inspection looks at all that a daemon needs, moves no valve without consent, and with it only for as long as it says", async () => {
  const running = await dosing(bench());
  const inspect = ["inspect", "--config", running.configFile, "--listen", "0"];
  const { relay } = bench();
  const before = relay.changes.length;

  const looked = await runCommand(inspect);
  for (const subject of ["broker", "daemon", "disk", "database", "sensor tank-ph"])
    expect(`${subject}: ${verdictOf(looked.output, subject)}`).toBe(`${subject}: good`);
  expect(looked.output).toMatch(/MQTT 5, not encrypted; a message was there and back in \d+ ms/);
  expect(looked.output).toContain("not tried: with somebody at the tank, give --at-the-tank outlet");
  expect(looked.output).toContain("nothing to mend first");
  expect(looked.exitCode).toBe(0);
  expect(relay.changes.length).toBe(before);

  const clicked = await runCommand([...inspect, "--at-the-tank", "outlet"]);
  expect(clicked.output).toContain("outlet went off, on and off as told, and follows its schedule again");
  expect(clicked.exitCode).toBe(0);
  const [off, on, offAgain] = relay.changes.slice(before);
  expect([off, on, offAgain].map((change) => change?.state)).toEqual(["off", "on", "off"]);
  expect(offAgain!.at_ms - on!.at_ms).toBeLessThan(3000);

  kill(running.processIds().daemon, "SIGKILL");
  await running.exitCode();
  const heard = relay.changes.length;
  const alone = await runCommand([...inspect, "--at-the-tank", "outlet"]);
  expect(alone.output).toContain("not tried: no daemon answers, and nothing but the daemon may open a valve");
  expect(verdictOf(alone.output, "database")).toBe("look at this");
  expect(alone.output).toContain("the daemon was ended hard");
  expect(relay.changes.slice(heard).map(({ state }) => state)).not.toContain("on");

  const mistaken = await runCommand([...inspect, "--at-the-tank", "oulet"]);
  expect(mistaken.exitCode).toBe(1);
  expect(mistaken.output).toContain('there is no valve "oulet"; the config has outlet');
}, 40_000);
