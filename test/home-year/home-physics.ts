import { simulatedSiteFor } from "../../daemon/demo/site-physics.js";
import type { SiteConfig } from "../../daemon/config/config-schema.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { airIn_mol, fillingOf } from "../../lib/simulation/drawn-charge.js";
import { needleFlow_molPerH, regulatorOutletGauge_bar } from "../../lib/simulation/gas-path.js";
import { drawNormal } from "../../lib/simulation/random-source.js";
import { availableCo2_mol } from "../../lib/simulation/simulated-contents.js";
import type { SimulatedSiteSpec, SimulatedValveSpec } from "../../lib/simulation/simulated-site.js";
import {
  createSimulatedVessel,
  type SimulatedVessel,
  type SimulatedVesselPace,
} from "../../lib/simulation/simulated-vessel.js";
import type { HomeVessel } from "./home-config.js";

/** Plants want less than the demo's keeper gives: about 22 mg/L in the light. */
const needle_ratio = 0.72;
const regulator = {
  setGauge_bar: 2.5,
  setAtInletGauge_bar: 16,
  supplyPressureEffect_ratio: 0.03,
  wideOpenDrop_bar: 0.2,
} as const;
/** Invented, inside what the drawn nights of the simulation have. */
const layers = {
  surface_ratio: 0.2,
  mixing_perH: 3,
  reference_degC: 25,
  schmidtExponent: 0.6,
  respirationQ10: 2,
  probeLag_h: 0.08,
  lightRamp_h: 0.2,
} as const;

/** A filling as it comes out of a keeper's hands. */
export interface Filled {
  readonly vessel: SimulatedVessel;
  /** What acid and bicarbonate can set free, g. */
  readonly available_g: number;
}

/**
 * Fills a vessel. The errors of nature and of people are drawn as those of drawn charges: pressure of the CO2, retained
 * bicarbonate, what is lost before closing, trapped air.
 * @param weighed_ratio what was put in over what was meant
 */
export function fillVessel(
  recipe: HomeVessel,
  { weighed_ratio, room_degC, settled }: { weighed_ratio: number; room_degC: number; settled: boolean },
  random: () => number,
): Filled {
  const exact = fillingOf({ ...recipe, vesselVolume_L: recipe.volume_L }, weighed_ratio);
  const available_mol = availableCo2_mol(exact);
  const filling = {
    ...exact,
    co2Pressure_ratio: 1 + 0.04 * drawNormal(random),
    retainedBicarbonate_ratio: Math.max(0.2, 1 + 0.25 * drawNormal(random)),
    lostBeforeClosing_mol: 0.08 * random() * available_mol,
  };
  const pace: SimulatedVesselPace = {
    contentsLag_h: 1.5,
    outsideResistance_ratio: 0.5,
    steelHeatCapacity_JPerK: 460 * 1.5 * recipe.volume_L,
    mixing_h: recipe.closedWith === "ice" ? 3 : 0.5,
    airFirst_ratio: 1.3,
  };
  const vessel = createSimulatedVessel({
    filling,
    pace,
    air_mol: airIn_mol(exact, random(), room_degC),
    emptyMass_g: 2600,
    start: settled
      ? { kind: "settled", contents_degC: room_degC }
      : recipe.closedWith === "ice"
        ? { kind: "closed-with-ice", ice_degC: -12, room_degC }
        : { kind: "closed-with-water", water_degC: room_degC - 3, room_degC },
  });
  return { vessel, available_g: available_mol * molarMass_gPerMol.co2 };
}

/** The demo's physics for this home, with its finer vessels and water. */
export function homePhysics(
  config: SiteConfig,
  startAt_epochMs: number,
  vessels: Readonly<Record<string, SimulatedVessel>>,
): SimulatedSiteSpec {
  const plain = simulatedSiteFor(config, startAt_epochMs);
  return {
    ...plain,
    vessels: Object.fromEntries(
      Object.entries(plain.vessels).map(([id, spec]) => [
        id,
        { ...spec, initial: vessels[id] ?? spec.initial },
      ]),
    ),
    valves: Object.fromEntries(
      Object.entries(plain.valves).map(([id, valve]) => [
        id,
        { ...valve, regulator, needle_molPerHBar: needle_ratio * valve.needle_molPerHBar },
      ]),
    ),
    tanks: Object.fromEntries(
      Object.entries(plain.tanks).map(([id, { physics, initial }]) => [
        id,
        { physics: { ...physics, layers }, initial },
      ]),
    ),
  };
}

/** Flow through the open valve at the inlet at which it was set. */
export function setFlow_molPerH(valve: SimulatedValveSpec): number {
  return needleFlow_molPerH({
    conductance_molPerHBar: valve.needle_molPerHBar,
    inletGauge_bar: regulatorOutletGauge_bar(valve.regulator, valve.regulator.setAtInletGauge_bar),
    outletGauge_bar: valve.diffuserGauge_bar,
  });
}
