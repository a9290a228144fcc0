import { describe, expect, it } from "vitest";
import { replayCommand } from "../../../../daemon/cli/replay.js";
import { instantInZone } from "../../../../daemon/cli/instant-text.js";
import { pressurise, usualSurroundings } from "../../../../lib/vessel/pressurising.js";
import { traceRows } from "../../../support/supply-trace-rows.js";

const charge = {
  citricAcidAnhydrous_g: 100,
  sodiumBicarbonate_g: 120,
  water_kg: 0.5,
  vesselVolume_L: 2,
  sealedAt_degC: 20,
  closedAt: "2026-02-01T18:00:00Z",
  closedWith: "water",
  settled: true,
  workingPressureGauge_bar: 2.5,
  gaugeAccuracy_bar: 0.1,
  timeZone: "Europe/Berlin",
  windows: [{ opens: "11:00", closes: "19:00" }],
};
const from_epochMs = Date.UTC(2026, 1, 3);
const trace = [
  "at,pressureGauge_bar,temperature_degC,valveOpen",
  ...traceRows({
    from_epochMs,
    days: 2.5,
    flow_gPerH: 0.3,
    gauge_bar: (removed_g) => 14.5 - 0.27 * removed_g,
  }).map(({ reading }) =>
    [
      instantInZone(reading.at_epochMs, "UTC"),
      reading.pressureGauge_bar!.toFixed(2),
      "20.0",
      reading.valveOpen ? "1" : "0",
    ].join(","),
  ),
];

async function replayed(
  lines: readonly string[],
  options: { readonly ndjson?: boolean; readonly charge?: object } = {},
): Promise<{ readonly code: number; readonly written: readonly string[] }> {
  const written: string[] = [];
  const code = await replayCommand(
    "trace.csv",
    { charge: "charge.json", ndjson: options.ndjson ?? true },
    {
      readText: () => Promise.resolve(JSON.stringify(options.charge ?? charge)),
      readLines: async function* () {
        await Promise.resolve();
        yield* lines;
      },
      write: (line) => written.push(line),
    },
  );
  return { code, written };
}

type Line = Record<string, unknown>;
const parsed = (line: string | undefined): Line => JSON.parse(line ?? "{}") as Line;

describe("replay command", () => {
  it("prints a line for each hour of the trace, with every field of the interface and no other", async () => {
    const { code, written } = await replayed(trace);
    expect(code).toBe(0);
    expect(written).toHaveLength(61);
    const first = parsed(written[0]);
    expect(Object.keys(first)).toEqual([
      "at",
      "co2Remaining_g",
      "co2Remaining80_g",
      "co2Deliverable_g",
      "leak_gPerDay",
      "runOut",
      "phase",
      "warnings",
    ]);
    expect(first["at"]).toBe("2026-02-03T01:00:00+01:00");
    expect(parsed(written[60])["at"]).toBe("2026-02-05T13:00:00+01:00");
    expect(Object.keys(first["runOut"] as object)).toEqual(["median", "low80", "high80"]);
    // However little is known of it: the interval says so.
    for (const instant of Object.values(first["runOut"] as object))
      expect(Date.parse(instant as string)).toBeGreaterThan(0);
    const [low, high] = first["co2Remaining80_g"] as [number, number];
    expect(low).toBeLessThan(Number(first["co2Remaining_g"]));
    expect(high).toBeGreaterThan(Number(first["co2Remaining_g"]));
  });

  it("says of an hour only what the rows up to it tell", async () => {
    const whole = await replayed(trace);
    const cut = await replayed(trace.slice(0, 1 + 6 * 30));
    expect(cut.written.slice(0, 29)).toEqual(whole.written.slice(0, 29));
  });

  it("goes on through a gap", async () => {
    const gap = trace.filter((_, k) => k < 60 || k > 250);
    const { code, written } = await replayed(gap);
    expect(code).toBe(0);
    expect(written).toHaveLength(61);
  });

  it("prints a table with a row a day for people", async () => {
    const { code, written } = await replayed(trace, { ndjson: false });
    expect(code).toBe(0);
    expect(written.filter((line) => /^2026-02-0[345]/.test(line))).toHaveLength(3);
    expect(written[0]).toContain("Europe/Berlin");
  });

  it("stops at a bad row, names it, and keeps what was said before", async () => {
    const spoilt = [...trace.slice(0, 100), "2026-02-03T23:00:00Z,14,20,maybe", ...trace.slice(100)];
    const { code, written } = await replayed(spoilt);
    expect(code).toBe(1);
    expect(written.length).toBeGreaterThan(10);
    expect(parsed(written.at(-1))["error"]).toMatchObject({ line: 101, column: "valveOpen", value: "maybe" });
  });

  it("warns of a fresh charge whose warm pressure nears the plates, where they are stated", async () => {
    const fresh = { ...charge, settled: false, closedAt: "2026-02-03T00:00:00Z", windows: [] };
    const weighed = {
      vesselVolume_L: 2,
      water_kg: 0.5,
      acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
      sodiumBicarbonate_g: 120,
      sealedAt_degC: 20,
    } as const;
    const { points } = pressurise(
      weighed,
      usualSurroundings(weighed, { room_degC: 20, startWater_degC: 17 }),
      { until_h: 10, pointCount: 400 },
    );
    const rows = Array.from({ length: 61 }, (_, k) => {
      const point = points.find(({ at_h }) => at_h >= k / 6) ?? points.at(-1)!;
      const at = instantInZone(from_epochMs + k * 600_000, "UTC");
      return `${at},${point.pressureGauge_bar.toFixed(2)},20.0,0`;
    });
    const warm_bar = points.at(-1)!.pressureGauge_bar;
    const warned = async (plates: object): Promise<boolean> => {
      const { code, written } = await replayed([trace[0]!, ...rows], { charge: { ...fresh, ...plates } });
      expect(code).toBe(0);
      return written.some((line) =>
        (parsed(line)["warnings"] as readonly string[]).includes("pressurising-too-strong"),
      );
    };
    expect(await warned({})).toBe(false);
    expect(await warned({ ratedGauge_bar: Math.ceil(warm_bar / 0.8) })).toBe(false);
    expect(await warned({ ratedGauge_bar: warm_bar / 0.97 })).toBe(true);
    expect(await warned({ ratedGauge_bar: 2 * warm_bar, reliefOpensGauge_bar: warm_bar / 0.97 })).toBe(true);
  });

  it("names what is wrong with the charge", async () => {
    const { code, written } = await replayed(trace, { charge: { ...charge, water_kg: "half" } });
    expect(code).toBe(1);
    expect(written).toHaveLength(1);
    expect(written[0]).toContain("water_kg");
  });

  it("refuses a charge that does not fit its vessel, with the limit", async () => {
    const { code, written } = await replayed(trace, { charge: { ...charge, vesselVolume_L: 0.5 } });
    expect(code).toBe(1);
    expect(parsed(written[0])["error"]).toMatchObject({ quantity: "water", unit: "kg" });
  });
});
