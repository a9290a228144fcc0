import { describe, expect, it } from "vitest";
import { lightsAround } from "../../../../daemon/tank/tank-lights.js";
import { modelOf, benchYaml } from "../../../support/control-bench.js";

const { lights } = modelOf(benchYaml).tanks.get("loach")!;
/** On 1 May 2026 Berlin is two hours ahead of UTC; its lights are on from 10:00 to 19:00. */
const at = (civil: string): number => Date.parse(`${civil}+02:00`);

describe("the lights around an instant", () => {
  it.each<[string, boolean, number | undefined, number | undefined, string]>([
    ["2026-05-01T12:00", true, undefined, undefined, "in the light"],
    ["2026-05-01T20:30", false, 13.5, 1.5, "in the evening"],
    ["2026-05-02T07:00", false, 3, 12, "before dawn"],
  ])("are at %s: on %s, on in %s h, off since %s h: %s", (civil, on, until_h, since_h) => {
    const around = lightsAround(lights, at(civil));
    expect(around).toMatchObject({ lightsAreOn: on, untilLightsOn_h: until_h, sinceLightsOff_h: since_h });
  });

  it("are the same with and without what was found earlier, all through a night and the next", () => {
    let before: ReturnType<typeof lightsAround> | undefined;
    for (let step = 0; step < 48 * 4; step += 1) {
      const instant = at("2026-05-01T00:05") + step * 900_000;
      before = lightsAround(lights, instant, before);
      const { lightsAreOn, untilLightsOn_h, sinceLightsOff_h } = lightsAround(lights, instant);
      expect(before).toMatchObject({ lightsAreOn, untilLightsOn_h, sinceLightsOff_h });
    }
  });
});
