import { expect, it } from "vitest";
import { siteReport } from "../../../../daemon/charge-log/charge-report-site.js";
import { begunCharge } from "../../../../lib/charge-log/followed-charge.js";
import { modelOf } from "../../../support/control-bench.js";
import { supplyYaml } from "../../../support/supply-bench.js";

it("foresees the ready time for the temperature at which the charge was closed", () => {
  const closed_epochMs = Date.parse("2026-05-01T08:00:00Z");
  const foreseen_h = (sealedAt_degC: number): number => {
    const charge = {
      ...begunCharge({
        vesselId: "cellar",
        acid: { kind: "citric-acid-anhydrous", mass_g: 66 },
        sodiumBicarbonate_g: 80,
        water_kg: 0.5,
        vesselVolume_L: 2,
        closedWith: "ice",
        sealedAt_degC,
        closed_epochMs,
        workingPressureGauge_bar: 2,
      }),
      ready_epochMs: closed_epochMs + 20 * 3_600_000,
    };
    const options = { withReadyForecast: true };
    return siteReport(charge, modelOf(supplyYaml()), closed_epochMs + 40 * 3_600_000, options).ready_h!
      .predicted;
  };
  // Ice melts by the heat of the room: the warmer it is, the sooner.
  expect(foreseen_h(28)).toBeLessThan(foreseen_h(16));
});
