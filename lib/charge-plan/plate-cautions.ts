import { pressureToBar } from "../quantities/units.js";
import { bothWays } from "../told/plain-text.js";
import { bar, said } from "../told/said.js";
import type { Caution } from "./cautions.js";
import type { PlannedVessel } from "./plan-request.js";

/** A small steel vessel for home-made gas is rated far below this. Our judgement. */
const plausiblePlateGauge_bar = 100;

/** Asks whether a pressure was read off a plate in psi, or undefined for one that a small vessel may have. Gauge, bar. */
export function psiForBarReason(plateGauge_bar: number): string | undefined {
  if (!(plateGauge_bar > plausiblePlateGauge_bar)) return undefined;
  // Downwards: what is taken from here is never above the plate.
  const meant_bar = Math.floor(10 * pressureToBar(plateGauge_bar, "psi") + 1e-9) / 10;
  return `is your plate in psi? ${String(plateGauge_bar)} psi is ${String(meant_bar)} bar`;
}

/** What is doubtful about the two pressures of a vessel, and stands before all that is planned from them. */
export function plateCautions(
  vessel: Pick<PlannedVessel, "ratedPressureGauge_bar" | "reliefOpeningGauge_bar">,
): readonly Caution[] {
  const { ratedPressureGauge_bar: rated_bar, reliefOpeningGauge_bar: relief_bar } = vessel;
  const cautions: Caution[] = [];
  for (const [name, plate_bar] of [
    ["rated pressure", rated_bar],
    ["pressure at which the relief device opens", relief_bar],
  ] as const) {
    const reason = plate_bar === undefined ? undefined : psiForBarReason(plate_bar);
    if (reason === undefined) continue;
    cautions.push({
      kind: "plate-in-psi",
      text:
        `Stop and look: the ${name} is stated as ${String(plate_bar)} bar; ${reason}. A plan for fifteen times the vessel's ` +
        "rating could burst it.",
    });
  }
  if (rated_bar !== undefined && relief_bar !== undefined && relief_bar > rated_bar) {
    cautions.push({
      kind: "relief-above-rating",
      ...bothWays(
        said`The relief device opens at ${bar(relief_bar)}, above the rated pressure of ${bar(rated_bar)}: it does not protect this vessel. Have the vessel looked at by someone licensed for pressure equipment before it is charged. The lower of the two counts here.`,
      ),
    });
  }
  return cautions;
}
