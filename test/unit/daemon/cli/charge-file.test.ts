import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { ChargeFileError, chargeFileFromText } from "../../../../daemon/cli/charge-file.js";

const charge = {
  citricAcidAnhydrous_g: 100,
  sodiumBicarbonate_g: 120,
  water_kg: 0.5,
  vesselVolume_L: 2,
  sealedAt_degC: 20,
  closedAt: "2026-02-01T18:00:00+01:00",
  closedWith: "water",
  settled: true,
  workingPressureGauge_bar: 2.5,
  gaugeAccuracy_bar: 0.1,
  timeZone: "Europe/Berlin",
  windows: [{ opens: "10:00", closes: "18:30" }],
};

const without = (key: keyof typeof charge): object =>
  Object.fromEntries(Object.entries(charge).filter(([name]) => name !== key));

function faultsOf(given: unknown): readonly { readonly key: string; readonly what: string }[] {
  try {
    chargeFileFromText(JSON.stringify(given));
  } catch (error) {
    if (error instanceof ChargeFileError) return error.faults;
    throw error;
  }
  return [];
}

describe("charge file", () => {
  it("reads every key", () => {
    expect(chargeFileFromText(JSON.stringify(charge)).charge).toEqual({
      acid: { kind: "citric-acid-anhydrous", mass_g: 100 },
      sodiumBicarbonate_g: 120,
      water_kg: 0.5,
      vesselVolume_L: 2,
      sealedAt_degC: 20,
      closedAt_epochMs: Date.UTC(2026, 1, 1, 17),
      closedWith: "water",
      settled: true,
      workingPressureGauge_bar: 2.5,
      gaugeAccuracy_bar: 0.1,
      timeZone: "Europe/Berlin",
      windows: [{ opens_min: 600, closes_min: 1110 }],
    });
  });

  it("takes the monohydrate, several windows, and one that closes at midnight", () => {
    const { charge: read } = chargeFileFromText(
      JSON.stringify({
        ...without("citricAcidAnhydrous_g"),
        citricAcidMonohydrate_g: 110,
        windows: [
          { opens: "08:00", closes: "11:00" },
          { opens: "17:00", closes: "24:00" },
        ],
      }),
    );
    expect(read.acid).toEqual({ kind: "citric-acid-monohydrate", mass_g: 110 });
    expect(read.windows[1]).toEqual({ opens_min: 1020, closes_min: 1440 });
  });

  it.each([
    { given: without("timeZone"), key: "timeZone", because: "missing" },
    { given: { ...charge, timeZone: "Berlin time" }, key: "timeZone", because: "no zone" },
    { given: { ...charge, closedAt: "2026-02-01" }, key: "closedAt", because: "no instant" },
    { given: { ...charge, closedWith: "snow" }, key: "closedWith", because: "neither water nor ice" },
    { given: { ...charge, settled: "yes" }, key: "settled", because: "no boolean" },
    {
      given: { ...charge, sodiumBicarbonate_g: -1 },
      key: "sodiumBicarbonate_g",
      because: "less than nothing",
    },
    {
      given: { ...charge, windows: [{ opens: "9", closes: "18:00" }] },
      key: "windows.0.opens",
      because: "no time",
    },
    { given: { ...charge, citricAcidMonohydrate_g: 5 }, key: "citricAcidAnhydrous_g", because: "two acids" },
    { given: without("citricAcidAnhydrous_g"), key: "citricAcidAnhydrous_g", because: "no acid" },
  ])("names $key: $because", ({ given, key }) => {
    expect(faultsOf(given).map((fault) => fault.key)).toContain(key);
  });

  it.each([
    { plates: {}, vessel: {} },
    { plates: { ratedGauge_bar: 20 }, vessel: { rating: { ratedPressureGauge_bar: 20 } } },
    {
      plates: { ratedGauge_bar: 20, reliefOpensGauge_bar: 18 },
      vessel: { rating: { ratedPressureGauge_bar: 18 } },
    },
  ])("takes the lower of the plates that are stated: $plates", ({ plates, vessel }) => {
    expect(chargeFileFromText(JSON.stringify({ ...charge, ...plates })).vessel).toEqual(vessel);
    expect(faultsOf({ ...charge, ratedGauge_bar: "20 bar" })).toHaveLength(1);
  });

  it.each([
    { given: without("closedWith"), fault: { key: "closedWith", what: "is missing" } },
    { given: without("gaugeAccuracy_bar"), fault: { key: "gaugeAccuracy_bar", what: "is missing" } },
    {
      given: { ...charge, closedWith: "snow" },
      fault: { key: "closedWith", what: "must be one of water, ice" },
    },
    {
      given: { ...charge, water_kg: "0.5 kg" },
      fault: { key: "water_kg", what: "must be a number, without quotes and unit" },
    },
    { given: { ...charge, settled: "yes" }, fault: { key: "settled", what: "must be true or false" } },
    {
      given: { ...charge, windows: [{ opens: "09:00", closes: "18:00", lightsOn: "10:00" }] },
      fault: { key: "windows.0.lightsOn", what: "no such key" },
    },
  ])("says of $fault.key in plain words what is wrong", ({ given, fault }) => {
    expect(faultsOf(given)).toEqual([fault]);
  });

  it("is described by an example in the documentation that is taken as it stands", () => {
    const page = readFileSync(new URL("../../../../deploy/docs/for-programs.md", import.meta.url), "utf8");
    const [, example] = /`charge\.json` states.*?```json\n(.*?)```/s.exec(page) ?? [];
    expect(chargeFileFromText(example ?? "").charge).toMatchObject({ vesselVolume_L: 2, settled: false });
  });

  it("refuses a key that it does not know", () => {
    expect(faultsOf({ ...charge, weather: "fine" })).toHaveLength(1);
  });

  it("refuses what is no JSON", () => {
    expect(() => chargeFileFromText("citric acid: 100")).toThrow(ChargeFileError);
  });
});
