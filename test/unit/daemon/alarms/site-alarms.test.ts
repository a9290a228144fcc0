import { describe, expect, it } from "vitest";
import { statusLines } from "../../../../daemon/status-text.js";
import { ControlBench } from "../../../support/control-bench.js";

const morning = "2026-05-04T09:00:00Z";

async function benchWithSilentGuard(step_s = 1): Promise<ControlBench> {
  const bench = new ControlBench({ startAt: morning, step_s });
  await bench.start();
  await bench.seconds(5);
  bench.sensors.delete("loach/ph");
  await bench.seconds(125);
  return bench;
}

const stateOf = (bench: ControlBench, alarmId: string): string | undefined =>
  bench.status.alarms.find(({ condition }) => condition.alarmId === alarmId)?.state;

const said = (bench: ControlBench): readonly string[] =>
  bench.run.events.filter(({ area }) => area === "alarm").map(({ subject, what }) => `${subject} ${what}`);

const silent = "guard-silent/loach-ph";

describe("alarms in the daemon", () => {
  it("are acknowledged at the socket, and every transition is an event with who and why", async () => {
    const bench = await benchWithSilentGuard();
    expect(await bench.say({ command: "alarms-acknowledge", alarm: silent })).toEqual({
      kind: "done",
      text: `${silent} is acknowledged`,
    });
    expect(stateOf(bench, silent)).toBe("acknowledged");
    bench.sensors.set("loach/ph", () => "6.8");
    await bench.seconds(2);
    expect(said(bench)).toEqual([
      `${silent} raised`,
      `${silent} acknowledged`,
      `${silent} returned to normal`,
    ]);
    const event = bench.run.events.find(({ what }) => what === "acknowledged")!;
    expect(event.reason).toMatch(/^by a person at the daemon's socket; guard sensor loach-ph/);
    expect(event.details).toMatchObject({ from: "unacknowledged", to: "acknowledged", priority: "high" });
    expect(bench.disk.events.filter(({ area }) => area === "alarm")).toHaveLength(3);
  });

  it("go on over a restart in the state they were in", async () => {
    const bench = await benchWithSilentGuard();
    await bench.say({ command: "alarms-acknowledge", alarm: silent });
    await bench.kill();
    await bench.start();
    await bench.seconds(5);
    expect(stateOf(bench, silent)).toBe("acknowledged");
    expect(said(bench)).toEqual([]);
  });

  it("that returned unacknowledged while the daemon was down still wait", async () => {
    const bench = await benchWithSilentGuard();
    await bench.kill();
    bench.sensors.set("loach/ph", () => "6.8");
    await bench.start();
    await bench.seconds(5);
    expect(stateOf(bench, silent)).toBe("returned to normal unacknowledged");
    expect(bench.alarms()).toEqual([]);
    await bench.say({ command: "alarms-acknowledge-all" });
    await bench.second();
    expect(bench.status.alarms).toEqual([]);
  });

  it("stay on the shelf over a restart until their time, and no longer", async () => {
    const bench = await benchWithSilentGuard();
    await bench.say({ command: "alarms-shelve", alarm: silent, for_min: 10 });
    await bench.seconds(60);
    await bench.kill();
    await bench.clock.advance(60_000);
    await bench.start();
    await bench.seconds(470);
    expect(stateOf(bench, silent)).toBe("shelved");
    await bench.seconds(15);
    expect(stateOf(bench, silent)).toBe("unacknowledged");
  });

  it("are shelved for no longer when the clock is put back a year meanwhile", async () => {
    const step_s = 30;
    const bench = await benchWithSilentGuard(step_s);
    await bench.say({ command: "alarms-shelve", alarm: silent, for_min: 10 });
    await bench.kill();
    bench.clock.setCivilTime(Date.parse("2025-05-04T09:00:00Z"));
    await bench.start();
    // No longer than eight hours, in passes of half a minute.
    await bench.seconds((8 * 3600) / step_s + 2);
    expect(stateOf(bench, silent)).toBe("unacknowledged");
  });

  it("on the shelf whose cause is gone are no alarms of now, and stay on it", async () => {
    const bench = await benchWithSilentGuard();
    await bench.say({ command: "alarms-shelve", alarm: silent, for_min: 10 });
    await bench.second();
    const lines = (): string => statusLines(bench.status, bench.model).join("\n");
    expect(lines()).toContain("shelved until");
    bench.sensors.set("loach/ph", () => "6.8");
    await bench.seconds(3);
    expect(lines()).toContain("no alarm");
    expect(lines()).not.toContain("shelved");
    expect((await bench.say({ command: "alarms-list", json: false })).text).toContain(
      ", its cause is gone, since",
    );
    bench.sensors.delete("loach/ph");
    await bench.seconds(130);
    expect(stateOf(bench, silent)).toBe("shelved");
    expect(lines()).toContain("shelved until");
    expect(said(bench).filter((what) => what.endsWith("raised"))).toHaveLength(1);
  });

  it("of silent sensors are silent while the broker is lost, and told when it is back and they are not", async () => {
    const bench = await benchWithSilentGuard();
    bench.run.bus.dropConnection("no route");
    await bench.seconds(15);
    expect(bench.alarms()).toEqual(["broker"]);
    expect(stateOf(bench, silent)).toBe("suppressed by design");
    bench.run.bus.restoreConnection();
    await bench.seconds(50);
    expect(stateOf(bench, silent)).toBe("suppressed by design");
    await bench.seconds(15);
    expect(stateOf(bench, silent)).toBe("unacknowledged");
  });

  it("of a trip latch when the cause is gone and wait for re-arming and acknowledgement, in whatever order", async () => {
    const bench = new ControlBench({ startAt: morning });
    await bench.start();
    await bench.seconds(3);
    bench.sensors.set("loach/ph", () => "5.90");
    await bench.seconds(5);
    const trip = "trip/tank/loach/pH below the floor";
    expect(stateOf(bench, trip)).toBe("unacknowledged");
    bench.sensors.set("loach/ph", () => "6.80");
    await bench.seconds(70);
    expect(stateOf(bench, trip)).toBe("latched unacknowledged");
    const reply = await bench.say({ command: "alarms-shelve", alarm: trip, for_min: 10 });
    expect(reply.kind).toBe("refused");
    await bench.say({ command: "rearm", kind: "tank", id: "loach" });
    await bench.second();
    expect(stateOf(bench, trip)).toBe("returned to normal unacknowledged");
    await bench.say({ command: "alarms-acknowledge", alarm: trip });
    await bench.second();
    expect(stateOf(bench, trip)).toBeUndefined();
  });

  it("say in each case what follows, what to do and how long there is", async () => {
    const bench = await benchWithSilentGuard();
    const reply = await bench.say({ command: "alarms-list", json: false });
    expect(reply.text).toMatch(
      /^guard-silent\/loach-ph {2}high, unacknowledged, since 2026-05-04 11:0\d\n {2}cause: .+\n {2}consequence: .+\n {2}what to do: .+\n {2}time to respond: 12 h/,
    );
    const json = await bench.say({ command: "alarms-list", json: true });
    expect(json).toMatchObject({
      value: [
        {
          id: silent,
          state: "unacknowledged",
          subjects: ["sensor/loach-ph", "tank/loach", "valve/outlet", "vessel/cellar"],
          allowableResponse_min: 720,
        },
      ],
    });
  });

  it("are read from a stored state of another form as none, and raised anew", async () => {
    const bench = new ControlBench({ startAt: morning });
    bench.disk.snapshots.set("alarms", { json: '{"state":{"alarms":[{"state":"odd"}, 7]}}', at_epochMs: 0 });
    await bench.start();
    await bench.seconds(2);
    expect(bench.status.alarms).toEqual([]);
  });
});

describe("an acknowledgement by MQTT", () => {
  const topic = "fizzward/mill-pond/alarms/acknowledge";
  const answers = (bench: ControlBench): readonly unknown[] =>
    bench.broker.passed
      .filter((message) => message.topic === `${topic}/answer`)
      .map(({ payload }) => JSON.parse(payload) as unknown);

  it("is taken, answered with the sender's id, and recorded as remote", async () => {
    const bench = await benchWithSilentGuard();
    bench.broker.publish(topic, JSON.stringify({ id: 7, alarm: silent }));
    await bench.second();
    expect(answers(bench)).toEqual([{ id: 7, accepted: true, alarm: silent }]);
    expect(bench.run.events.find(({ what }) => what === "acknowledged")!.reason).toMatch(/^from afar/);
  });

  it.each([
    { because: "no JSON", payload: "ON", reason: "not understood" },
    { because: "another key", payload: `{"alarm":"${silent}","action":"shelve"}`, reason: "not understood" },
    { because: "an unknown alarm", payload: '{"alarm":"x"}', reason: "there is no such alarm" },
    { because: "a list", payload: `["${silent}"]`, reason: "not understood" },
    { because: "too long", payload: `{"alarm":"${"x".repeat(5000)}"}`, reason: "not understood" },
  ])("of $because is refused in words and changes nothing", async ({ payload, reason }) => {
    const bench = await benchWithSilentGuard();
    bench.broker.publish(topic, payload);
    await bench.second();
    expect(answers(bench)).toEqual([
      expect.objectContaining({ accepted: false, reason: expect.stringContaining(reason) as string }),
    ]);
    expect(stateOf(bench, silent)).toBe("unacknowledged");
  });

  it("that the broker held back is ignored", async () => {
    const bench = await benchWithSilentGuard();
    bench.broker.publish(topic, JSON.stringify({ alarm: silent }), { retain: true });
    await bench.second();
    await bench.say({ command: "alarms-list", json: true });
    await bench.kill();
    await bench.start();
    await bench.seconds(3);
    expect(bench.logger.lines.map(({ message }) => message)).toContain(
      "a retained acknowledgement was ignored; clear it at the broker",
    );
  });

  it("by the thousand costs an answer for some and a line in the log", async () => {
    const bench = await benchWithSilentGuard();
    for (let count = 0; count < 1000; count += 1) bench.broker.publish(topic, '{"alarm":"x"}');
    await bench.second();
    expect(answers(bench).length).toBeLessThanOrEqual(40);
  });
});
