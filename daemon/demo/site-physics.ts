import { absoluteFromGauge_bar } from "../../lib/quantities/units.js";
import { molarMass_gPerMol } from "../../lib/quantities/physical-constants.js";
import { createGeneratorVessel } from "../../lib/simulation/generator-vessel.js";
import type {
  RoomSpec,
  SimulatedSiteSpec,
  SimulatedValveSpec,
  SimulatedVesselSpec,
} from "../../lib/simulation/simulated-site.js";
import { airEquilibriumCo2_mgPerL } from "../../lib/simulation/simulated-tank.js";
import type { SimulatedTankSpec, SimulatedTankState } from "../../lib/simulation/simulated-tank.js";
import type {
  SiteDescription,
  TankDescription,
  ValveDescription,
  VesselDescription,
} from "./site-description.js";

/**
 * What a configuration does not say and a simulation must know. All invented for the demo, inside what is common
 * practice: a quiet room, gentle surface movement, a ceramic diffuser, a moderate regulator.
 */

const room: RoomSpec = { mean_degC: 20.5, swing_K: 1.3, warmestAtUtc_h: 15, wander_K: 0.25, co2_ppm: 650 };

/** Where the tank would come to rest if the gas stayed on. */
const plateau_mgPerL = 31;

export class NotSimulatedError extends Error {
  override readonly name = "NotSimulatedError";

  constructor(readonly what: string) {
    super(`${what} cannot be simulated; only generator vessels can be so far`);
  }
}

function vesselSpec(vesselId: string, vessel: VesselDescription): SimulatedVesselSpec {
  if (vessel.kind !== "generator")
    throw new NotSimulatedError(`the vessel "${vesselId}" (kind ${vessel.kind})`);
  const charge = vessel.charge ?? {
    sodiumBicarbonate_g: 50 * vessel.volume_L,
    citricAcidAnhydrous_g: 40 * vessel.volume_L,
    water_kg: 0.25 * vessel.volume_L,
    sealedAt_degC: room.mean_degC,
  };
  return {
    initial: createGeneratorVessel({
      sodiumBicarbonate_g: charge.sodiumBicarbonate_g,
      citricAcidAnhydrous_g: anhydrousAcid_g(charge),
      water_kg: charge.water_kg,
      sealedAt_degC: charge.sealedAt_degC,
      volume_L: vessel.volume_L,
      contents_degC: room.mean_degC,
      retainedBicarbonate_ratio: 0.06,
      thermalLag_h: 1.5,
      emptyMass_g: 1300 * vessel.volume_L,
    }),
    leak_molPerHBar: 2e-6,
  };
}

function anhydrousAcid_g(charge: NonNullable<VesselDescription["charge"]>): number {
  const { citricAcidAnhydrous_g, citricAcidMonohydrate_g = 0 } = charge;
  return (
    citricAcidAnhydrous_g ??
    (citricAcidMonohydrate_g * molarMass_gPerMol.citricAcidAnhydrous) /
      molarMass_gPerMol.citricAcidMonohydrate
  );
}

/** Every other tank is a cooler one with more movement at its surface and fewer animals. */
function tankPhysics(tank: TankDescription, index: number): SimulatedTankSpec {
  const isCool = index % 2 === 1;
  return {
    volume_L: tank.volume_L,
    kh_dKH: tank.kh_dKH,
    ionicStrength_molPerL: Math.min(0.001 + 0.0006 * tank.kh_dKH, 0.1),
    gasExchange_perH: isCool ? 0.18 : 0.15,
    aerationFactor: 6,
    diffuserEfficiency_ratio: 0.6,
    uptake_mgPerLPerH: isCool ? 0.5 : 0.7,
    halfSaturation_mgPerL: 6,
    respiration_mgPerLPerH: isCool ? 0.2 : 0.35,
    heater: { set_degC: isCool ? 23.5 : 25, hysteresis_K: 0.15, power_W: 25 + tank.volume_L },
    lampHeat_W: 0.2 * tank.volume_L,
    lossToRoom_WPerK: 1.5 + 0.04 * tank.volume_L,
  };
}

function tankStart(physics: SimulatedTankSpec): SimulatedTankState {
  return { co2_mgPerL: 5, temperature_degC: physics.heater.set_degC, heaterOn: false };
}

/** What a tank takes from its diffuser in the light at the plateau. */
function plateauNeed_molPerH(tank: SimulatedTankSpec): number {
  const air_mgPerL = airEquilibriumCo2_mgPerL({
    temperature_degC: tank.heater.set_degC,
    co2_ppm: room.co2_ppm,
  });
  const uptake_mgPerLPerH =
    (tank.uptake_mgPerLPerH * plateau_mgPerL) / (tank.halfSaturation_mgPerL + plateau_mgPerL);
  const dissolved_mgPerLPerH =
    tank.gasExchange_perH * (plateau_mgPerL - air_mgPerL) + uptake_mgPerLPerH - tank.respiration_mgPerLPerH;
  const given_gPerH = (dissolved_mgPerLPerH * tank.volume_L) / tank.diffuserEfficiency_ratio / 1000;
  return given_gPerH / molarMass_gPerMol.co2;
}

/** The needle as a keeper sets it: enough for all tanks behind it, at today's working pressure. */
function valveSpec(
  valve: ValveDescription,
  workingPressureGauge_bar: number,
  inletGauge_bar: number,
  tanks: Readonly<Record<string, SimulatedTankSpec>>,
): SimulatedValveSpec {
  const need_molPerH = valve.feeds.reduce((sum, feed) => {
    const tank = tanks[feed.tank];
    return tank === undefined ? sum : sum + plateauNeed_molPerH(tank);
  }, 0);
  return {
    vessel: valve.vessel,
    regulator: {
      setGauge_bar: workingPressureGauge_bar,
      setAtInletGauge_bar: inletGauge_bar,
      supplyPressureEffect_ratio: 0.03,
      wideOpenDrop_bar: 0.2,
    },
    needle_molPerHBar: need_molPerH / absoluteFromGauge_bar(workingPressureGauge_bar),
    diffuserGauge_bar: 0.35,
    feeds: valve.feeds,
  };
}

/**
 * The simulated site that a configuration describes.
 * @throws NotSimulatedError for a vessel of another kind than a generator.
 */
export function simulatedSiteFor(site: SiteDescription, startAt_epochMs: number): SimulatedSiteSpec {
  const vessels = Object.fromEntries(
    Object.entries(site.vessels).map(([vesselId, vessel]) => [vesselId, vesselSpec(vesselId, vessel)]),
  );
  const physics = Object.fromEntries(
    Object.entries(site.tanks).map(([tankId, tank], index) => [tankId, tankPhysics(tank, index)]),
  );
  const valves = Object.fromEntries(
    Object.entries(site.valves).map(([valveId, valve]) => [
      valveId,
      valveSpec(
        valve,
        site.vessels[valve.vessel]?.workingPressureGauge_bar ?? 2,
        vessels[valve.vessel]?.initial.pressureGauge_bar ?? 0,
        physics,
      ),
    ]),
  );
  const tanks = Object.fromEntries(
    Object.entries(physics).map(([tankId, tank]) => [tankId, { physics: tank, initial: tankStart(tank) }]),
  );
  return { startAt_epochMs, room, vessels, valves, tanks };
}
