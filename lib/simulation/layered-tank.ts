/**
 * The finer water of a simulated tank: a thin layer under the surface that alone touches the air, the body of water below
 * that holds diffuser, animals and plants, and the probe that follows with a lag.
 */

export interface LayeredTankSpec {
  /** Share of the water that lies in the layer under the surface. */
  readonly surface_ratio: number;
  /** How often an hour the water pump lifts the tank's volume into that layer. */
  readonly mixing_perH: number;
  /** Temperature at which the tank's gas exchange and respiration are stated. */
  readonly reference_degC: number;
  /** Power of the Schmidt number: 1/2 where the surface ripples, 2/3 where it lies still. */
  readonly schmidtExponent: number;
  /** Factor of the respiration for 10 K. */
  readonly respirationQ10: number;
  /** Membrane, holder and flow together: time constant with which the probe follows the water. */
  readonly probeLag_h: number;
  /** Time constant with which the plants' uptake follows the lights. */
  readonly lightRamp_h: number;
}

export interface TankLayers {
  readonly surface_mgPerL: number;
  readonly body_mgPerL: number;
  readonly probe_mgPerL: number;
  /** Share of the plants' full uptake that is running, 0 to 1. */
  readonly activity_ratio: number;
  /** All that ever left through the surface, for each litre of the tank; negative where the water took CO2 up. */
  readonly lost_mgPerL: number;
  /** The tank's excess over the air, summed over time: lost over this is the true gas exchange. */
  readonly excess_mgHPerL: number;
}

/** What drives the water during a step. */
export interface LayeredTankDrive {
  readonly gasExchange_perH: number;
  readonly airCo2_mgPerL: number;
  readonly dose_mgPerLPerH: number;
  readonly respiration_mgPerLPerH: number;
  readonly uptake_mgPerLPerH: number;
  readonly halfSaturation_mgPerL: number;
  readonly lightsOn: boolean;
  readonly temperature_degC: number;
}

/** Schmidt number of CO2 in fresh water, 0 to 30 degC: 600 at 20 degC. @see [Wanninkhof1992] table A1 */
export function carbonDioxideSchmidtNumber(temperature_degC: number): number {
  const t = temperature_degC;
  return 1911.1 - 118.11 * t + 3.4527 * t ** 2 - 0.04132 * t ** 3;
}

/** All water alike, the probe settled, the plants' state that of the lights. */
export function settledLayers(co2_mgPerL: number, lightsOn: boolean): TankLayers {
  return {
    surface_mgPerL: co2_mgPerL,
    body_mgPerL: co2_mgPerL,
    probe_mgPerL: co2_mgPerL,
    activity_ratio: lightsOn ? 1 : 0,
    lost_mgPerL: 0,
    excess_mgHPerL: 0,
  };
}

/** Mean of the whole tank. */
export function meanCo2_mgPerL(spec: LayeredTankSpec, layers: TankLayers): number {
  return spec.surface_ratio * layers.surface_mgPerL + (1 - spec.surface_ratio) * layers.body_mgPerL;
}

type Rates = readonly [number, number, number, number, number, number];

function ratesOf(spec: LayeredTankSpec, drive: LayeredTankDrive, at: Rates): Rates {
  const [surface, body, probe, activity] = at;
  const share = spec.surface_ratio;
  const warmth_K = drive.temperature_degC - spec.reference_degC;
  const schmidt_ratio =
    carbonDioxideSchmidtNumber(drive.temperature_degC) / carbonDioxideSchmidtNumber(spec.reference_degC);
  const exchange_perH = drive.gasExchange_perH * schmidt_ratio ** -spec.schmidtExponent;
  const respiration = drive.respiration_mgPerLPerH * spec.respirationQ10 ** (warmth_K / 10);
  const uptake =
    (activity * drive.uptake_mgPerLPerH * Math.max(0, body)) /
    (drive.halfSaturation_mgPerL + Math.max(0, body));
  // All flows for each litre of the whole tank; a layer's change is its flow over its share.
  const lost = exchange_perH * (surface - drive.airCo2_mgPerL);
  const raised = spec.mixing_perH * (body - surface);
  const gained = drive.dose_mgPerLPerH + respiration - uptake;
  return [
    (raised - lost) / share,
    (gained - raised) / (1 - share),
    (body - probe) / spec.probeLag_h,
    ((drive.lightsOn ? 1 : 0) - activity) / spec.lightRamp_h,
    lost,
    share * surface + (1 - share) * body - drive.airCo2_mgPerL,
  ];
}

function moved(from: Rates, rates: Rates, hours: number): Rates {
  return [
    from[0] + rates[0] * hours,
    from[1] + rates[1] * hours,
    from[2] + rates[2] * hours,
    from[3] + rates[3] * hours,
    from[4] + rates[4] * hours,
    from[5] + rates[5] * hours,
  ];
}

/** The longest span of one integration step, a minute; shorter where a layer turns over faster than that. */
const longestPart_h = 1 / 60;

function partsOf(spec: LayeredTankSpec, duration_h: number): number {
  const share = Math.min(spec.surface_ratio, 1 - spec.surface_ratio);
  const quickest_perH = Math.max(1 / longestPart_h, spec.mixing_perH / share, 1 / spec.probeLag_h);
  return Math.max(1, Math.ceil(duration_h * quickest_perH - 1e-9));
}

/**
 * The layers after a step, by the classical Runge-Kutta method of fourth order in parts of a minute or less.
 * @see [DahlquistBjorck2008]
 */
export function advanceLayers(
  spec: LayeredTankSpec,
  layers: TankLayers,
  drive: LayeredTankDrive,
  duration_h: number,
): TankLayers {
  const parts = partsOf(spec, duration_h);
  const h = duration_h / parts;
  let at: Rates = [
    layers.surface_mgPerL,
    layers.body_mgPerL,
    layers.probe_mgPerL,
    layers.activity_ratio,
    layers.lost_mgPerL,
    layers.excess_mgHPerL,
  ];
  for (let part = 0; part < parts; part += 1) {
    const k1 = ratesOf(spec, drive, at);
    const k2 = ratesOf(spec, drive, moved(at, k1, h / 2));
    const k3 = ratesOf(spec, drive, moved(at, k2, h / 2));
    const k4 = ratesOf(spec, drive, moved(at, k3, h));
    at = moved(moved(moved(moved(at, k1, h / 6), k2, h / 3), k3, h / 3), k4, h / 6);
  }
  return {
    surface_mgPerL: Math.max(0, at[0]),
    body_mgPerL: Math.max(0, at[1]),
    probe_mgPerL: Math.max(0, at[2]),
    activity_ratio: at[3],
    lost_mgPerL: at[4],
    excess_mgHPerL: at[5],
  };
}
