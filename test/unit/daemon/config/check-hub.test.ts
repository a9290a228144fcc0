import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { benchYaml } from "../../../support/control-bench.js";

function faultsOf(keys: string, from = benchYaml): readonly string[] {
  const parsed = parseConfig(`${from}${keys}\n`, "f");
  return parsed.kind === "invalid" ? parsed.faults.map(({ keyPath }) => keyPath) : [];
}

describe("the keys of a hub", () => {
  const rows: readonly (readonly [keys: string, fault: string | undefined, because: string])[] = [
    ["hub: {}", undefined, "nothing is told"],
    ["hub: { homie: {} }", undefined, "both keys have a default"],
    ["hub: { homie: { domain: house, deviceId: pond-2 } }", undefined, "one level each"],
    ["hub: { homie: { domain: a/b } }", "hub.homie.domain", "Domain and Root Topic: a single segment"],
    ["hub: { homie: { deviceId: Pond } }", "hub.homie.deviceId", "Topic IDs: lower case only"],
    ["hub: { homie: { deviceId: pond_2 } }", "hub.homie.deviceId", "Topic IDs: no underscore"],
    ["hub: { homie: {}, online: { topic: hub/state, payload: up } }", undefined, "another's topic"],
    ["hub: { online: { topic: hub/state, payload: up } }", "hub.online", "nothing could be told again"],
    ["hub: { homie: {}, online: { topic: hub/+, payload: up } }", "hub.online.topic", "one topic, no filter"],
    [
      "hub: { homie: {}, online: { topic: fizzward/mill-pond/daemon, payload: up } }",
      "hub.online.topic",
      "the daemon would hear itself",
    ],
    [
      "hub: { homie: {}, online: { topic: relay/1/command, payload: up } }",
      "hub.online.topic",
      "a command is no sign of life",
    ],
  ];
  for (const [keys, fault, because] of rows) {
    it(`${keys}: ${because}`, () => expect(faultsOf(keys)).toEqual(fault === undefined ? [] : [fault]));
  }

  it("let a sensor be another device of the same convention, but none of our own", () => {
    const at = (topic: string): string => benchYaml.replace("topic: loach/ph,", `topic: ${topic},`);
    expect(faultsOf("hub: { homie: {} }", at("homie/5/probe/water/ph"))).toEqual([]);
    for (const own of ["mill-pond", "mill-pond-tank-loach"]) {
      expect(faultsOf("hub: { homie: {} }", at(`homie/5/${own}/water/ph`))).toEqual([
        "sensors.loach-ph.topic",
      ]);
    }
  });

  it("do not let the daemon's own topics stand among the devices", () => {
    const inside = benchYaml.replace('1883"] }', '1883"], baseTopic: homie/5/mill-pond }');
    expect(faultsOf("hub: { homie: {} }", inside)).toContain("broker.baseTopic");
  });
});
