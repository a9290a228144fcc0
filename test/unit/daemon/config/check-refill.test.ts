import { describe, expect, it } from "vitest";
import { parseConfig } from "../../../../daemon/config/load-config.js";

const yaml = (vessel: string): string => `site: { id: mill, timeZone: America/New_York }
broker: { addresses: [mqtt://127.0.0.1] }
vessels:
  steel: ${vessel}
`;
const keys = "volume_L: 2, workingPressureGauge_bar: 3";

describe("when a vessel is refilled", () => {
  it("is not asked of a bought cylinder, which nobody refills at home", () => {
    const parsed = parseConfig(yaml(`{ kind: liquid, ${keys}, refill: { days: [sun] } }`), "f");
    expect(parsed.kind === "invalid" && parsed.faults.map(({ keyPath }) => keyPath)).toEqual([
      "vessels.steel.refill",
    ]);
  });

  it.each([
    { refill: '{ from: "06:00", until: "06:45" }', because: "the usual handling just fits" },
    { refill: '{ until: "08:45" }', because: "from is 08:00 by default" },
    { refill: "{ handling_min: 480 }", because: "the default hours are 14 h" },
  ])("is taken as $refill: $because", ({ refill }) => {
    expect(parseConfig(yaml(`{ kind: generator, ${keys}, refill: ${refill} }`), "f").kind).toBe("valid");
  });
});
