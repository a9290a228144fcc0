import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { benchYaml } from "../../../support/control-bench.js";

const lights = '    photoperiods: [{ lightsOn: "10:00", lightsOff: "19:00" }]\n';
const parsedWith = (keys: string, from = benchYaml) =>
  parseConfig(from.replace(lights, `${lights}${keys}`), "f");

describe("the limits of a learnt lead", () => {
  it.each([
    ["    useLearntLead: { atLeast_min: 30, atMost_min: 150 }\n", undefined, "the default lead lies between"],
    ["    useLearntLead: { atLeast_min: 60, atMost_min: 60 }\n", undefined, "a span of nothing is one lead"],
    [
      "    useLearntLead: { atLeast_min: 150, atMost_min: 30 }\n",
      "tanks.loach.useLearntLead.atLeast_min",
      "exchanged",
    ],
    [
      "    lead_min: 20\n    useLearntLead: { atLeast_min: 30, atMost_min: 150 }\n",
      "tanks.loach.lead_min",
      "the lead begins outside of them",
    ],
    [
      "    useLearntLead: { atLeast_min: 90, atMost_min: 150 }\n",
      "tanks.loach.useLearntLead",
      "the default lead, from which it begins, is left out",
    ],
    ["    useLearntLead: { atLeast_min: 30 }\n", "tanks.loach.useLearntLead.atMost_min", "half a span"],
    [
      "    useLearntLead: { atLeast_min: 30, atMost_min: 250 }\n",
      "tanks.loach.useLearntLead.atMost_min",
      "longer than any lead",
    ],
  ])("%s: %s (%s)", (...[keys, fault]) => {
    const parsed = parsedWith(keys);
    expect(parsed.kind === "invalid" ? parsed.faults.map(({ keyPath }) => keyPath) : []).toEqual(
      fault === undefined ? [] : [fault],
    );
  });

  it("must leave time for gas at the shortest lead", () => {
    const short = benchYaml.replace('lightsOff: "19:00"', 'lightsOff: "11:00"');
    const lightsOfShort = lights.replace("19:00", "11:00");
    const keys = "    earlyClose_min: 110\n    useLearntLead: { atLeast_min: 30, atMost_min: 150 }\n";
    const parsed = parseConfig(short.replace(lightsOfShort, `${lightsOfShort}${keys}`), "f");
    expect(parsed.kind === "invalid" ? parsed.faults.map(({ what }) => what) : []).toEqual([
      expect.stringContaining("leaves no time for gas: 60 min of light and the shortest lead of 30"),
    ]);
  });

  it("warns where the longest lead opens the valve for longer than longestOpen_min", () => {
    const limited = benchYaml.replace(
      "    guardSensors: [loach-ph]\n",
      "    guardSensors: [loach-ph]\n    longestOpen_min: 600\n",
    );
    const warned = (keys: string) => parsedWith(keys, limited).warnings.map(({ keyPath }) => keyPath);
    expect(warned("")).not.toContain("valves.outlet.longestOpen_min");
    expect(warned("    useLearntLead: { atLeast_min: 30, atMost_min: 150 }\n")).toContain(
      "valves.outlet.longestOpen_min",
    );
  });
});
