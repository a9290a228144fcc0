import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { parsePlanningConfig, type ParsedPlanning } from "../../../../daemon/config/planning-config.js";
import { edited, exampleText } from "../../../support/marked-config.js";

const vesselsOnly = `
vessels:
  cellar:
    kind: generator
    volume_L: 2
    ratedPressureGauge_bar: 20
    reliefOpeningGauge_bar: 18
    workingPressureGauge_bar: 2
`;

function valid(text: string): Extract<ParsedPlanning, { kind: "valid" }> {
  const parsed = parsePlanningConfig(text, "f");
  if (parsed.kind === "invalid") throw new Error(parsed.faults.map(({ keyPath }) => keyPath).join());
  return parsed;
}

describe("a configuration for planning", () => {
  it("may hold nothing but vessels", () => {
    const { config, elsewhere } = valid(vesselsOnly);
    expect(config.vessels.cellar).toMatchObject({ kind: "generator", volume_L: 2 });
    expect(config.tanks).toEqual({});
    expect(elsewhere).toEqual([]);
  });

  it("is the whole of a file without fault", () => {
    const parsed = parseConfig(exampleText, "f");
    expect(parsed.kind).toBe("valid");
    const { config, elsewhere } = valid(exampleText);
    expect(config).toEqual(parsed.kind === "valid" ? parsed.config : undefined);
    expect(elsewhere).toEqual([]);
  });

  it("notes the faults of the rest, and plans without the section that has them", () => {
    const { config, elsewhere } = valid(edited(exampleText, [["kh_dKH: 6", "kh_dKH: 600"]]));
    expect(elsewhere.map(({ keyPath }) => keyPath)).toEqual(["tanks.shrimp.kh_dKH"]);
    expect(config.tanks).toEqual({});
    expect(Object.keys(config.valves)).toEqual(["cellar-outlet"]);
  });

  it("notes a sensor of the vessel that is not there", () => {
    const { elsewhere } = valid(`${vesselsOnly}    pressureSensor: gone\n`);
    expect(elsewhere.map(({ keyPath }) => keyPath)).toEqual(["vessels.cellar.pressureSensor"]);
  });

  it.each([
    ["a vessel with a fault", vesselsOnly.replace("20", "300 psi"), "vessels.cellar.ratedPressureGauge_bar"],
    [
      "a working pressure above the plate",
      vesselsOnly.replace("reliefOpeningGauge_bar: 18", "reliefOpeningGauge_bar: 1.5"),
      "vessels.cellar.workingPressureGauge_bar",
    ],
    ["a key of the vessel twice", `${vesselsOnly}    volume_L: 3\n`, "vessels.cellar.volume_L"],
    ["no vessels but a text", "vessels: cellar\n", "vessels"],
    ["no YAML", "vessels: [\n", ""],
  ])("is refused for %s", (_name, text, keyPath) => {
    const parsed = parsePlanningConfig(text, "f");
    expect(parsed.kind === "invalid" ? parsed.faults.map((fault) => fault.keyPath) : []).toContain(keyPath);
  });
});
