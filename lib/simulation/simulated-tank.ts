import { molarMass_gPerMol, standardAtmosphere_bar } from "../quantities/physical-constants.js";
import { carbonDioxideSolubility_molPerKgBar } from "./carbon-dioxide-phases.js";
import { advanceLayers, meanCo2_mgPerL, settledLayers } from "./layered-tank.js";
import type { LayeredTankSpec, TankLayers } from "./layered-tank.js";
import { waterPh } from "./water-ph.js";

export interface SimulatedTankSpec {
  readonly volume_L: number;
  readonly kh_dKH: number;
  readonly ionicStrength_molPerL: number;
  /** Gas exchange with the room; the air pump multiplies it. */
  readonly gasExchange_perH: number;
  readonly aerationFactor: number;
  /** Share of the gas that the diffuser brings into solution. */
  readonly diffuserEfficiency_ratio: number;
  /** Uptake of the plants in light at plenty of CO2, and the CO2 at which it is half of that. */
  readonly uptake_mgPerLPerH: number;
  readonly halfSaturation_mgPerL: number;
  /** Of animals, plants and bacteria, day and night. */
  readonly respiration_mgPerLPerH: number;
  readonly heater: { readonly set_degC: number; readonly hysteresis_K: number; readonly power_W: number };
  readonly lampHeat_W: number;
  readonly lossToRoom_WPerK: number;
  /** Finer water: layers, a probe that lags, rates that follow the temperature. Without it the tank is one stirred body. */
  readonly layers?: LayeredTankSpec;
}

export interface SimulatedTankState {
  readonly co2_mgPerL: number;
  readonly temperature_degC: number;
  readonly heaterOn: boolean;
  /** Of a tank with layers, from its first step on; co2_mgPerL is then their mean. */
  readonly layers?: TankLayers;
}

export interface SimulatedTankStep {
  /** Short against the tank's own times: a minute or less. */
  readonly duration_s: number;
  readonly injectedCo2_mol: number;
  readonly lightsOn: boolean;
  readonly aerating: boolean;
  readonly room_degC: number;
  readonly roomCo2_ppm: number;
  /** What a film or a lid leaves of the gas exchange; 1 where it is not stated. */
  readonly surfaceFilm_ratio?: number;
  /** On top of the tank's own, as after a feeding. */
  readonly extraRespiration_mgPerLPerH?: number;
}

/** Heat capacity of water at tank temperatures, from memory; a litre weighs a kilogram. */
const water_kJPerKgK = 4.18;

/** Vapour pressure of water by the Magnus formula of meteorology. From memory; 1 % is 0.03 % of the result below. */
function waterVapour_bar(temperature_degC: number): number {
  return 0.006112 * Math.exp((17.62 * temperature_degC) / (243.12 + temperature_degC));
}

/**
 * CO2 in water that has come to rest with the air of the room, mg/L, at one atmosphere and moist air.
 * @param air.temperature_degC 0 to 40
 * @see [PlummerBusenberg1982] for the solubility
 */
export function airEquilibriumCo2_mgPerL(air: {
  readonly temperature_degC: number;
  readonly co2_ppm: number;
}): number {
  const dryAir_bar = standardAtmosphere_bar - waterVapour_bar(air.temperature_degC);
  const co2_bar = air.co2_ppm * 1e-6 * dryAir_bar;
  return carbonDioxideSolubility_molPerKgBar(air.temperature_degC) * co2_bar * molarMass_gPerMol.co2 * 1000;
}

/**
 * Balance of free CO2 in the tank: what the diffuser dissolves and life breathes out, less what leaves through the
 * surface and what plants take up. First-order gas exchange: common practice, no source. Exact over the step for
 * a constant uptake; the uptake saturates after Michaelis and Menten.
 */
function nextCo2(
  spec: SimulatedTankSpec,
  state: SimulatedTankState,
  step: SimulatedTankStep,
): { readonly co2_mgPerL: number; readonly layers?: TankLayers } {
  const { co2_mgPerL } = state;
  const duration_h = step.duration_s / 3600;
  const dissolved_mgPerL =
    (step.injectedCo2_mol * molarMass_gPerMol.co2 * 1000 * spec.diffuserEfficiency_ratio) / spec.volume_L;
  const respiration_mgPerLPerH = spec.respiration_mgPerLPerH + (step.extraRespiration_mgPerLPerH ?? 0);
  const exchange_perH =
    spec.gasExchange_perH * (step.aerating ? spec.aerationFactor : 1) * (step.surfaceFilm_ratio ?? 1);
  const equilibrium_mgPerL = airEquilibriumCo2_mgPerL({
    temperature_degC: state.temperature_degC,
    co2_ppm: step.roomCo2_ppm,
  });
  if (spec.layers !== undefined) {
    const layers = advanceLayers(
      spec.layers,
      state.layers ?? settledLayers(co2_mgPerL, step.lightsOn),
      {
        gasExchange_perH: exchange_perH,
        airCo2_mgPerL: equilibrium_mgPerL,
        dose_mgPerLPerH: dissolved_mgPerL / duration_h,
        respiration_mgPerLPerH,
        uptake_mgPerLPerH: spec.uptake_mgPerLPerH,
        halfSaturation_mgPerL: spec.halfSaturation_mgPerL,
        lightsOn: step.lightsOn,
        temperature_degC: state.temperature_degC,
      },
      duration_h,
    );
    return { co2_mgPerL: meanCo2_mgPerL(spec.layers, layers), layers };
  }
  const uptake_mgPerLPerH = step.lightsOn
    ? (spec.uptake_mgPerLPerH * co2_mgPerL) / (spec.halfSaturation_mgPerL + co2_mgPerL)
    : 0;
  const gain_mgPerLPerH = dissolved_mgPerL / duration_h + respiration_mgPerLPerH - uptake_mgPerLPerH;
  const settled_mgPerL = equilibrium_mgPerL + gain_mgPerLPerH / exchange_perH;
  const decay = Math.exp(-exchange_perH * duration_h);
  return { co2_mgPerL: Math.max(0, settled_mgPerL + (co2_mgPerL - settled_mgPerL) * decay) };
}

/** Heat of heater and lamp against the loss to the room, with a thermostat that ripples. */
function nextTemperature(
  spec: SimulatedTankSpec,
  state: SimulatedTankState,
  step: SimulatedTankStep,
): { readonly temperature_degC: number; readonly heaterOn: boolean } {
  const { set_degC, hysteresis_K, power_W } = spec.heater;
  const below_K = set_degC - state.temperature_degC;
  const heaterOn = below_K > hysteresis_K || (state.heaterOn && below_K > -hysteresis_K);
  const heat_W = (heaterOn ? power_W : 0) + (step.lightsOn ? spec.lampHeat_W : 0);
  const settled_degC = step.room_degC + heat_W / spec.lossToRoom_WPerK;
  const capacity_JPerK = water_kJPerKgK * 1000 * spec.volume_L;
  const decay = Math.exp((-spec.lossToRoom_WPerK * step.duration_s) / capacity_JPerK);
  return { temperature_degC: settled_degC + (state.temperature_degC - settled_degC) * decay, heaterOn };
}

/** The tank after one step of at most a minute or so. Concentration never below zero. */
export function advanceTank(
  spec: SimulatedTankSpec,
  state: SimulatedTankState,
  step: SimulatedTankStep,
): SimulatedTankState {
  return { ...nextCo2(spec, state, step), ...nextTemperature(spec, state, step) };
}

/** The tank after part of its water was changed at once for fresh water, layers alike mixed. */
export function changeWater(
  state: SimulatedTankState,
  fresh: { readonly share_ratio: number; readonly co2_mgPerL: number; readonly temperature_degC: number },
): SimulatedTankState {
  const mixed = (old: number, added: number): number => old + (added - old) * fresh.share_ratio;
  const layers =
    state.layers === undefined
      ? {}
      : {
          layers: {
            ...state.layers,
            surface_mgPerL: mixed(state.layers.surface_mgPerL, fresh.co2_mgPerL),
            body_mgPerL: mixed(state.layers.body_mgPerL, fresh.co2_mgPerL),
          },
        };
  return {
    ...state,
    co2_mgPerL: mixed(state.co2_mgPerL, fresh.co2_mgPerL),
    temperature_degC: mixed(state.temperature_degC, fresh.temperature_degC),
    ...layers,
  };
}

/** True pH of the tank's water at the probe, from its CO2 and its carbonate hardness. */
export function tankPh(spec: SimulatedTankSpec, state: SimulatedTankState): number {
  return waterPh({
    co2_mgPerL: Math.max(state.layers?.probe_mgPerL ?? state.co2_mgPerL, 0.05),
    kh_dKH: spec.kh_dKH,
    temperature_degC: state.temperature_degC,
    ionicStrength_molPerL: spec.ionicStrength_molPerL,
  });
}
