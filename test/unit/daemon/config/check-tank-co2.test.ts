import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { co2LimitProblems, defaultCo2Limits } from "../../../../lib/tank/co2-bands.js";
import { benchYaml } from "../../../support/control-bench.js";

const limitsLine = "limits: { co2Close_mgPerL: 60, pHFloor: 6.0, temperatureHigh_degC: 30 }";

describe("the limits of a tank's CO2", () => {
  const values = [10, 30, 31, 45, 60] as const;
  const keys = ["co2TargetLow_mgPerL", "co2TargetHigh_mgPerL", "co2Alarm_mgPerL", "co2Close_mgPerL"] as const;
  const rows = keys.flatMap((key) => values.map((value) => [key, value] as const));

  it.each(rows)("are taken where lib has nothing against them: %s %d", (key, value) => {
    const problems = co2LimitProblems({ ...defaultCo2Limits, [key]: value });
    const parsed = parseConfig(benchYaml.replace(limitsLine, `limits: { ${key}: ${value} }`), "f");
    expect(parsed.kind === "valid").toBe(problems.length === 0);
  });
});

describe("a tank without a pH sensor", () => {
  it("is told that its drop checker and degassed pH do nothing", () => {
    const parsed = parseConfig(
      benchYaml
        .replace(
          "    phSensor: loach-ph\n",
          "    dropChecker: {}\n    degassedPh: { pH: 7.9, how: not known }\n",
        )
        .replace("guardSensors: [loach-ph]", "guardSensors: []"),
      "f",
    );
    expect(parsed.warnings.map(({ keyPath }) => keyPath)).toEqual(
      expect.arrayContaining(["tanks.loach.dropChecker", "tanks.loach.degassedPh"]),
    );
  });
});
