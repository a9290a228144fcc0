import { describe, expect, it } from "vitest";
import {
  faultsAt,
  isGasFault,
  isRelayFault,
  isSensorFault,
} from "../../../../lib/simulation/simulated-fault.js";
import type { SimulatedFault } from "../../../../lib/simulation/simulated-fault.js";

const silent: SimulatedFault = {
  kind: "sensor-silent",
  sensorId: "loach-ph",
  onset_epochMs: 100,
  until_epochMs: 200,
};
const mute: SimulatedFault = { kind: "relay-mute", relayId: "cellar", onset_epochMs: 150 };
const leak: SimulatedFault = {
  kind: "vessel-leaks",
  vesselId: "cellar",
  leak_molPerHBar: 0.01,
  onset_epochMs: 0,
};

describe("simulated faults", () => {
  it.each([
    { at_epochMs: 99, holding: [leak], because: "the onset is still to come" },
    { at_epochMs: 100, holding: [silent, leak], because: "the onset belongs to the span" },
    { at_epochMs: 199, holding: [silent, mute, leak], because: "one has begun, none has ended" },
    { at_epochMs: 200, holding: [mute, leak], because: "the end does not belong to the span" },
    { at_epochMs: 1e15, holding: [mute, leak], because: "without an end it lasts" },
  ])("hold at $at_epochMs: $because", ({ at_epochMs, holding }) => {
    expect(faultsAt([silent, mute, leak], at_epochMs)).toEqual(holding);
  });

  it("belong to one kind of thing each", () => {
    const kinds = [silent, mute, leak].map((fault) => [
      isSensorFault(fault),
      isRelayFault(fault),
      isGasFault(fault),
    ]);
    expect(kinds).toEqual([
      [true, false, false],
      [false, true, false],
      [false, false, true],
    ]);
  });
});
