import { describe, expect, it, vi } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { kill, runCommand } from "../support/daemon-process.js";

const bench = useDaemonBench();
const base = "fizzward/mill-house";

type Document = Readonly<Record<string, unknown>>;

const tankKeys = `    dropChecker: { fillDepth_mm: 4 }
    limits: { co2Alarm_mgPerL: 40, co2Close_mgPerL: 60 }
`;
const begin = (config: Readonly<Record<string, string>> = {}, folder?: string) =>
  bench().run({ config: { tankKeys, ...config }, ...(folder === undefined ? {} : { folder }) });

const latestOn = (topic: string, from = 0): Document | undefined => {
  const last = bench()
    .observer.messages.slice(from)
    .filter((message) => message.topic === `${base}/${topic}`)
    .at(-1);
  return last === undefined ? undefined : (JSON.parse(last.payload) as Document);
};

const tankWhere = async (
  check: (tank: Document) => void,
  { timeout_ms = 15_000, from = 0 } = {},
): Promise<Document> =>
  vi.waitFor(
    () => {
      const tank = latestOn("tank/loach", from);
      if (tank === undefined) throw new Error("no document yet");
      check(tank);
      return tank;
    },
    { timeout: timeout_ms, interval: 20 },
  );

let sent = 0;
/** One entry by MQTT, with its answer. */
async function enter(entry: Document): Promise<Document> {
  const id = (sent += 1);
  await bench().observer.publish(`${base}/journal/enter`, JSON.stringify({ id, ...entry }));
  return vi.waitFor(
    () => {
      const answer = bench()
        .observer.messages.filter(({ topic }) => topic === `${base}/journal/enter/answer`)
        .map(({ payload }) => JSON.parse(payload) as Document)
        .find((told) => told["id"] === id);
      if (answer === undefined) throw new Error("no answer yet");
      return answer;
    },
    { timeout: 10_000, interval: 10 },
  );
}

const probeSays = (pH: number) => bench().observer.publish("tank/ph", String(pH));
const buffers = [
  { buffer: "7.00", shown: 7.0, temperature_degC: 25 },
  { buffer: "4.01", shown: 4.01, temperature_degC: 25 },
];
const co2Of = (tank: Document): number => tank["co2_mgPerL"] as number;

describe("a tank's CO2 on a real broker", () => {
  it("moves with a KH test and a calibration by MQTT, and explains a colour that disagrees", async () => {
    await begin();
    await probeSays(6.7);
    const first = await tankWhere((tank) => expect(tank["co2_mgPerL"]).not.toBeNull());
    expect(first).toMatchObject({
      khFrom: "config",
      band: "in target",
      temperatureAssumed: true,
      methods: [{ method: "carbonate hardness", weight: 1 }],
      agreement: { kind: "one method" },
      probe: { correctedBy: "never calibrated", calibrationIsDue: true },
      dropChecker: { expectedColour: "green", settled: false, seenColour: null },
    });

    expect(await enter({ kind: "kh test", tank: "loach", kh_dKH: 1.5 })).toMatchObject({ accepted: true });
    const tested = await tankWhere((tank) => expect(tank["khFrom"]).toBe("KH test"));
    // At one pH free CO2 goes with the alkalinity; two digits are told.
    expect(co2Of(tested) / co2Of(first)).toBeGreaterThan(0.33);
    expect(co2Of(tested) / co2Of(first)).toBeLessThan(0.42);

    expect(await enter({ kind: "calibration", sensor: "tank-ph", buffers })).toMatchObject({
      accepted: true,
    });
    await probeSays(6.7);
    const calibrated = await tankWhere((tank) =>
      expect(tank).toMatchObject({
        probe: { correctedBy: "calibration in the journal", calibrationIsDue: false },
      }),
    );
    expect(calibrated["co2High80_mgPerL"] as number).toBeLessThan(tested["co2High80_mgPerL"] as number);

    expect(await enter({ kind: "drop checker", tank: "loach", colour: "yellow" })).toMatchObject({
      accepted: true,
    });
    const disputed = await tankWhere((tank) =>
      expect(tank).toMatchObject({ agreement: { kind: "methods disagree" } }),
    );
    const { explanations } = disputed["agreement"] as { readonly explanations: readonly string[] };
    expect(explanations.join(" ")).toMatch(/Drop checker and KH reading disagree by a factor \d/);
    expect(disputed).toMatchObject({ dropChecker: { seenColour: "yellow", expectedColour: "blue-green" } });
    expect((disputed["methods"] as readonly Document[]).map(({ method }) => method)).toEqual([
      "carbonate hardness",
      "drop checker",
    ]);
  });

  it("does not move for an entry in another unit or word, and says what is allowed", async () => {
    await begin();
    await probeSays(6.7);
    const before = await tankWhere((tank) => expect(tank["co2_mgPerL"]).not.toBeNull());
    const wrong: readonly (readonly [entry: Document, says: string, because: string])[] = [
      [{ kind: "kh test", tank: "loach", kh_ppm: 71.6 }, "not understood", "parts per million have no key"],
      [{ kind: "kh test", tank: "loach", kh_dKH: 71.6 }, "0.1 to 40", "ppm written as dKH"],
      [{ kind: "drop checker", tank: "loach", colour: "teal" }, "not understood", "no colour of the trade"],
      [{ kind: "degassed pH", tank: "loach", pH: 78, how: "aerated a day" }, "4 to 10", "a point forgotten"],
    ];
    for (const [entry, says, because] of wrong) {
      const answer = await enter(entry);
      expect(answer["accepted"], because).toBe(false);
      expect(answer["reason"], because).toContain(says);
    }
    const from = bench().observer.messages.length;
    await probeSays(6.71);
    const after = await tankWhere((tank) => expect(tank["pH"]).toMatchObject({ value: 6.71 }), { from });
    expect(after).toMatchObject({ khFrom: "config", degassedPh: null, dropChecker: { seenColour: null } });
    expect(Math.abs(co2Of(after) - co2Of(before))).toBeLessThanOrEqual(2);
  });

  it("is none once the pH is stale, and closes the valve that it guards", async () => {
    await begin({ maximumAge_s: "5" });
    await probeSays(6.7);
    await tankWhere((tank) => expect(tank["co2_mgPerL"]).not.toBeNull());
    const from = bench().observer.messages.length;
    await tankWhere(
      (tank) => expect(tank).toMatchObject({ co2_mgPerL: null, band: "not known", methods: [] }),
      { from },
    );
    await vi.waitFor(() => expect(latestOn("valve/outlet")).toMatchObject({ wanted: "closed" }), {
      timeout: 10_000,
    });
  });

  it("above the close limit trips, alarms, and is not re-armed while it stands", async () => {
    const running = await begin();
    await probeSays(6.7);
    await bench().observer.next("relay/state", { timeout_ms: 15_000 });
    await enter({ kind: "calibration", sensor: "tank-ph", buffers });
    await probeSays(6.3);
    await vi.waitFor(
      () =>
        expect(latestOn("valve/outlet")).toMatchObject({
          wanted: "closed",
          trips: [{ cause: "CO2 above the close limit", subject: "loach" }],
        }),
      { timeout: 15_000 },
    );
    const alarms = latestOn("alarms")!["alarms"] as readonly Document[];
    expect(alarms).toContainEqual(
      expect.objectContaining({ id: "trip/tank/loach/CO2 above the close limit", priority: "critical" }),
    );
    const refused = await runCommand(["rearm", "tank", "loach", "--config", running.configFile]);
    expect(refused.exitCode).not.toBe(0);
    expect(refused.output).toContain("not known to be gone");
  });

  it("goes on after a restart with what was entered and followed", async () => {
    const first = await begin();
    await probeSays(6.7);
    await enter({ kind: "kh test", tank: "loach", kh_dKH: 3 });
    await enter({ kind: "calibration", sensor: "tank-ph", buffers });
    await enter({ kind: "degassed pH", tank: "loach", pH: 8, how: "aerated a day", roomCo2_ppm: 600 });
    await probeSays(6.7);
    const before = await tankWhere((tank) => {
      expect(tank["methods"]).toHaveLength(2);
      expect(tank).toMatchObject({ probe: { correctedBy: "calibration in the journal" } });
    });
    kill(first.processIds().daemon, "SIGTERM");
    await first.exitCode();
    const from = bench().observer.messages.length;
    await begin({}, first.folder);
    await probeSays(6.7);
    const after = await tankWhere((tank) => expect(tank["co2_mgPerL"]).not.toBeNull(), { from });
    expect(after).toMatchObject({
      khFrom: "KH test",
      kh_dKH: 3,
      degassedPh: { pH: 8, from: "journal" },
      probe: { correctedBy: "calibration in the journal" },
      co2_mgPerL: before["co2_mgPerL"],
    });
  });
});
