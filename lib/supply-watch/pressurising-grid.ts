import { OutOfValidRangeError } from "../errors.js";
import type { SuppliedCharge } from "../estimation/supply-trace.js";
import { chargeEquilibrium, equilibriumTemperatureRange } from "../vessel/charge-equilibrium.js";
import type { Charge } from "../vessel/charge.js";
import type { HeatModel } from "../vessel/heat-balance.js";
import { heatModelIn, pressurise, usualSurroundings, type Surroundings } from "../vessel/pressurising.js";

/** How fast heat and liquor move: one of the paces that a fresh charge may have. */
export interface VesselPace {
  /** Time constant of the settled contents behind the temperature that is read. */
  readonly lag_h: number;
  readonly mixing_h: number;
  /** Natural logarithm of its odds before anything is read, up to a constant. */
  readonly odds_ln: number;
}

/** A fresh charge with more or less in it than was told, and its heat. */
export interface ChargeVariant {
  /** Reactants over those told. */
  readonly amount_ratio: number;
  readonly heat: HeatModel;
  /** Heat capacity of the contents with all ice melted, over the change of the heat; J/K. */
  readonly capacity_JPerK: number;
  /** Gauge pressure when all has reacted. */
  settledGauge_bar(temperature_degC: number): number;
}

export interface PressurisingGrid {
  readonly variants: readonly ChargeVariant[];
  readonly paces: readonly VesselPace[];
  /** Settled gauge pressure of the charge as told, no more and no less, at a temperature. */
  plannedGauge_bar(temperature_degC: number): number;
  /** Hours from closing to ready at the usual pace; undefined: not within four days. */
  readonly plannedReady_h: number | undefined;
}

/**
 * Time constants and mixing times that are tried; the usual ones lie in their middle, and the ends are a factor of six off.
 * Judgement, as usualPace.
 */
const lags_h = [0.15, 0.27, 0.45, 0.75, 1.2, 1.9, 3, 4.8, 7.5] as const;
const mixing = {
  water: [
    { mixing_h: 0.1, odds_ln: 0 },
    { mixing_h: 0.2, odds_ln: 0 },
    { mixing_h: 0.35, odds_ln: 0 },
    { mixing_h: 0.6, odds_ln: 0 },
    { mixing_h: 1, odds_ln: 0 },
    { mixing_h: 2.5, odds_ln: -1 },
    { mixing_h: 6, odds_ln: -2 },
  ],
  ice: [
    { mixing_h: 0.6, odds_ln: 0 },
    { mixing_h: 1.3, odds_ln: 0 },
    { mixing_h: 2.2, odds_ln: 0 },
    { mixing_h: 3.5, odds_ln: 0 },
    { mixing_h: 5.5, odds_ln: 0 },
    { mixing_h: 9, odds_ln: 0 },
    { mixing_h: 18, odds_ln: -2 },
  ],
} as const;

const amounts_ratio = [0.55, 0.8, 1.05, 1.3, 1.55] as const;

/** The body warms with the contents in part: it stands between them and the room. Judgement. */
const bodyShare = 0.5;
/** Water from a tap that stood for a while, against the room. Common practice, no source. */
const startWaterBelowRoom_degC = 2;
const planHorizon_h = 96;

const roomRange = { least_degC: 5, most_degC: 44 } as const;

function chargeWith(told: SuppliedCharge, amount_ratio: number): Charge {
  const ice = told.closedWith === "ice";
  return {
    vesselVolume_L: told.vesselVolume_L,
    water_kg: ice ? 0 : told.water_kg,
    ...(ice ? { ice_kg: told.water_kg } : {}),
    acid: { kind: told.acid.kind, mass_g: amount_ratio * told.acid.mass_g },
    sodiumBicarbonate_g: amount_ratio * told.sodiumBicarbonate_g,
    sealedAt_degC: told.sealedAt_degC,
  };
}

function surroundingsOf(charge: Charge, room_degC: number): Surroundings {
  const usual = usualSurroundings(charge, {
    room_degC,
    startWater_degC: Math.max(0, room_degC - startWaterBelowRoom_degC),
  });
  return { ...usual, bodyHeatCapacity_JPerK: bodyShare * usual.bodyHeatCapacity_JPerK };
}

function variantOf(told: SuppliedCharge, amount_ratio: number, room_degC: number): ChargeVariant | undefined {
  try {
    const charge = chargeWith(told, amount_ratio);
    const heat = heatModelIn(charge, surroundingsOf(charge, room_degC));
    const warm = { temperature_degC: 20, melted_ratio: 1, reacted_ratio: 1 };
    const capacity_JPerK =
      (heat.heatOf({ ...warm, temperature_degC: 23 }).sensible_J - heat.heatOf(warm).sensible_J) / 3;
    const nodes = settledNodes(charge, room_degC);
    return {
      amount_ratio,
      heat,
      capacity_JPerK,
      settledGauge_bar: (temperature_degC) =>
        nodes.low_bar +
        ((nodes.high_bar - nodes.low_bar) * (temperature_degC - nodes.low_degC)) /
          (nodes.high_degC - nodes.low_degC),
    };
  } catch (error) {
    // More than what was told may not fit the vessel: then it is not in it.
    if (error instanceof OutOfValidRangeError && amount_ratio > 1.06) return undefined;
    throw error;
  }
}

/** Straight between two temperatures around the room's: within 0.3 %. */
function settledNodes(charge: Charge, room_degC: number) {
  const low_degC = Math.max(equilibriumTemperatureRange.minimum, room_degC - 3);
  const high_degC = Math.min(equilibriumTemperatureRange.maximum, room_degC + 6);
  return {
    low_degC,
    high_degC,
    low_bar: chargeEquilibrium(charge, low_degC).pressureGauge_bar,
    high_bar: chargeEquilibrium(charge, high_degC).pressureGauge_bar,
  };
}

/**
 * The courses that a fresh charge may take: for several amounts and paces, by the heat balance of lib/vessel.
 * @throws OutOfValidRangeError for a charge, as told or short of that, that the vessel model refuses
 * @throws NoConvergenceError when a balance does not close
 * @see [Wagman1982], [Grenthe1997]
 */
export function createPressurisingGrid(told: SuppliedCharge): PressurisingGrid {
  const room_degC = Math.min(roomRange.most_degC, Math.max(roomRange.least_degC, told.sealedAt_degC));
  const planned = chargeWith(told, 1);
  const nodes = settledNodes(planned, room_degC);
  const variants = amounts_ratio.flatMap((amount_ratio) => variantOf(told, amount_ratio, room_degC) ?? []);
  return {
    variants,
    paces: lags_h.flatMap((lag_h) => mixing[told.closedWith].map((pace) => ({ lag_h, ...pace }))),
    plannedGauge_bar: (temperature_degC) =>
      nodes.low_bar +
      ((nodes.high_bar - nodes.low_bar) * (temperature_degC - nodes.low_degC)) /
        (nodes.high_degC - nodes.low_degC),
    plannedReady_h: pressurise(planned, surroundingsOf(planned, room_degC), {
      until_h: planHorizon_h,
      pointCount: 2,
    }).ready_h,
  };
}
