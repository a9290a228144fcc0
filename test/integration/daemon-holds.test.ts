import { expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { runCommand } from "../support/daemon-process.js";

const bench = useDaemonBench();

it("keeps the relay off under a maintenance lock over a restart, then for a refill until the charge is recorded", async () => {
  const running = await bench().run();
  const command = (...words: readonly string[]) => runCommand([...words, "--config", running.configFile]);
  const last = (topic: string): Readonly<Record<string, unknown>> =>
    JSON.parse(
      bench()
        .observer.messages.filter((message) => message.topic === `fizzward/mill-house/${topic}`)
        .at(-1)?.payload ?? "{}",
    ) as Readonly<Record<string, unknown>>;
  await bench().observer.publish("tank/ph", "6.8");
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 20_000 });

  const locked = await command("maintenance", "begin", "vessel", "cellar", "--note", "new seal");
  expect(locked.output).toMatch(
    /stays closed until you lift it.*Shut the vessel by hand and pull the relay's plug/s,
  );
  expect(locked.exitCode).toBe(0);
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(false), { timeout: 10_000 });
  await vi.waitFor(
    () => expect(last("valve/outlet").holds).toMatchObject([{ kind: "maintenance lock", note: "new seal" }]),
    { timeout: 10_000 },
  );

  running.child.kill("SIGKILL");
  await running.exitCode();
  const changes = bench().relay.changes.length;
  await bench().run({ folder: running.folder });
  await bench().observer.publish("tank/ph", "6.8");
  await vi.waitFor(
    async () =>
      expect((await command("status")).output).toContain(
        "held     maintenance lock on vessel cellar (new seal)",
      ),
    { timeout: 20_000 },
  );
  expect((await command("maintenance", "end", "valve", "outlet")).exitCode).toBe(1);
  expect((await command("refill", "begin", "cellar")).output).toMatch(/let the rest off slowly and outside/);
  expect((await command("maintenance", "end", "vessel", "cellar")).output).toContain(
    "still set: refill in progress on vessel cellar",
  );
  expect(
    bench()
      .relay.changes.slice(changes)
      .filter(({ state }) => state === "on"),
  ).toEqual([]);

  const soaked = await command("upkeep", "done", "sediment-soak", "cellar");
  expect(soaked.output).toContain("upkeep done: sediment soak");
  expect((await command("upkeep", "list")).output).toMatch(
    /vessel cellar {2}sediment soak: due at the next refill, last done \d{4}-/,
  );
  expect(last("upkeep").tasks).toContainEqual(expect.objectContaining({ task: "sediment soak" }));
  const charge = ["--bicarbonate", "60", "--acid-anhydrous", "50", "--water", "0.5", "--temperature", "20"];
  expect((await command("journal", "charge-closed", ...charge)).exitCode).toBe(0);
  await vi.waitFor(() => expect(bench().relay.isOn()).toBe(true), { timeout: 20_000 });
  await vi.waitFor(() => expect(last("valve/outlet").holds).toEqual([]), { timeout: 10_000 });
}, 120_000);
