import { OutOfValidRangeError } from "../errors.js";
import { molarMass_gPerMol } from "../quantities/physical-constants.js";
import { gaugeFromAbsolute_bar } from "../quantities/units.js";
import {
  co2PerSucrose_ratio,
  fermentationForecast,
  fermentationHeldAt_mol,
  fermentationPressureError_ratio,
  fermentationState,
  mostSucrose_gPerKg,
  sugarWaterVolume_L,
  type FermentationCharge,
  type FermentationForecast,
  type FermentationVerdict,
} from "../vessel/fermentation.js";
import { sugarCautions, type Caution } from "./cautions.js";
import {
  gasSpaceShare_ratio,
  highestAllowedGauge_bar,
  pressureBreach,
  type Breach,
  type PlanLimit,
  type StatedPressures,
} from "./charge-limits.js";
import { costOf, notStated, type PlannedCost } from "./plan-charge.js";
import {
  checked,
  checkedWeighing,
  checkPrices,
  checkVessel,
  hottestDay_degC,
  roomTemperature_degC,
  type PlannedVessel,
  type Prices,
  type Weighing,
} from "./plan-request.js";

/** Table sugar, yeast and water. */
export interface SugarRequest {
  readonly vessel: PlannedVessel;
  readonly sucrose_g: number;
  /** Left out: half a kilogram for a litre of the vessel. */
  readonly water_kg?: number;
  readonly room_degC?: number;
  /** Left out: 40. Never taken below 30 or below the room. */
  readonly hottest_degC?: number;
  /** The lower end of the pressures that the keeper works with. Left out: the least inlet pressure. */
  readonly workingFromGauge_bar?: number;
  readonly prices?: Prices;
  readonly weighing?: Weighing;
}

export interface SugarAmounts {
  readonly sucrose_g: number;
  readonly water_kg: number;
}

/** Where yeast is expected to stop, at room temperature. */
export interface SugarPlateau {
  readonly temperature_degC: number;
  readonly pressureGauge_bar: number;
  /** At the lowest and the highest stop pressure that is published, or at the end of the sugar. */
  readonly lowGauge_bar: number;
  readonly highGauge_bar: number;
  readonly dissolved_gPerL: number;
  readonly endsWith: FermentationForecast["plateauEndsWith"];
}

export interface SugarOutlook {
  readonly plateau: SugarPlateau;
  readonly workingFromGauge_bar: number;
  readonly verdict: FermentationVerdict & { readonly text: string };
}

export interface SugarPlan extends SugarOutlook {
  readonly kind: "sugar-plan";
  readonly amounts: SugarAmounts;
  /** CO2 of all the sugar by stoichiometry, and what usually comes of it. */
  readonly yield: { readonly co2_g: number; readonly usualLow_g: number; readonly usualHigh_g: number };
  /** Every gram fermented out: what the limits are held to. */
  readonly fullConversion: {
    readonly room_degC: number;
    readonly roomGauge_bar: number;
    readonly hottest_degC: number;
    readonly hottestGauge_bar: number;
    /** Upper 95 %. */
    readonly hottestHighGauge_bar: number;
    readonly highestAllowedGauge_bar: number;
  };
  /** All the CO2 less what stays behind at the least inlet pressure; 0 where the plateau does not reach that. */
  readonly deliverableAtMost_g: number;
  /** For a gram delivered at least so much. */
  readonly cost?: PlannedCost;
  readonly cautions: readonly Caution[];
}

export interface RefusedSugarPlan {
  readonly kind: "sugar-refused";
  readonly limit: PlanLimit;
  readonly reason: string;
  readonly requested: SugarAmounts;
  /** The most sugar that fits in so much water, what is then reached, and the limit that a little more would break. */
  readonly largest:
    | (SugarAmounts & {
        readonly limit: PlanLimit;
        readonly hottest_degC: number;
        readonly highGauge_bar: number;
      } & SugarOutlook)
    | undefined;
}

const usualWater_kgPerL = 0.5;
/** Of the sugar's mass: some goes into yeast and glycerol. From memory. */
const usualYield_ratio = { low: 0.45, high: 0.48 } as const;
const leastSucrose_g = 1;
const searchTolerance_ratio = 1e-4;

const verdictWords: Readonly<Record<FermentationVerdict["kind"], string>> = {
  "cannot-reach":
    "cannot reach the working range at room temperature, not even with every gram fermented out (mass balance)",
  "not-expected-to-reach": "not expected to reach the working range at room temperature (weak evidence)",
  "may-reach": "may reach the working range at room temperature (weak evidence)",
};

interface SugarSetting {
  readonly vessel: PlannedVessel;
  readonly water_kg: number;
  readonly room_degC: number;
  readonly hottest_degC: number;
  readonly weighing: Weighing;
}

/**
 * A charge of table sugar and yeast for a vessel, or why there is none: yield by stoichiometry, the pressure at which yeast is
 * expected to stop with its scatter, and whether that is in the working range. Refused as any other charge: with every gram
 * fermented out on the hottest day, its upper 95 % pressure stays at or below 0.9 of the lower of rated and relief-opening
 * pressure, with at least 30 % of the vessel left to the gas. The upper bound counts the weighing and 6 % of the absolute
 * pressure for the model.
 * @throws OutOfValidRangeError for a number that is absurd by itself
 * @throws NoConvergenceError when a balance does not close
 * @see [SpanWagner1996], [PlummerBusenberg1982], [RibereauGayon2006], [Jackson2014], [IUPAC2021]
 */
export function planSugarCharge(request: SugarRequest): SugarPlan | RefusedSugarPlan {
  const setting = sugarSetting(request);
  const { vessel, water_kg } = setting;
  const { sucrose_g } = request;
  const requested = { sucrose_g, water_kg };
  const { ratedPressureGauge_bar, reliefOpeningGauge_bar } = vessel;
  if (ratedPressureGauge_bar === undefined || reliefOpeningGauge_bar === undefined) {
    return { kind: "sugar-refused", ...notStated(vessel), requested, largest: undefined };
  }
  const pressures = { ratedPressureGauge_bar, reliefOpeningGauge_bar };
  const workingFrom_bar = request.workingFromGauge_bar ?? vessel.leastInletGauge_bar;
  const breach = sugarBreach(setting, pressures, sucrose_g);
  if (breach === undefined) return planOf(request, setting, pressures, workingFrom_bar);
  const largest = largestSugar(setting, pressures, { sucrose_g, breach });
  return {
    kind: "sugar-refused",
    ...breach,
    requested,
    largest:
      largest === undefined
        ? undefined
        : {
            sucrose_g: largest.sucrose_g,
            water_kg,
            limit: largest.boundBy.limit,
            hottest_degC: setting.hottest_degC,
            highGauge_bar: upperGauge_bar(setting, largest.sucrose_g),
            ...outlookOf(setting, largest.sucrose_g, workingFrom_bar),
          },
  };
}

function sugarSetting(request: SugarRequest): SugarSetting {
  const { vessel } = request;
  checkVessel(vessel);
  const room_degC = roomTemperature_degC(request.room_degC);
  const { volume_L } = vessel;
  checked("sugar", "g", request.sucrose_g, leastSucrose_g, mostSucrose_gPerKg * volume_L);
  if (request.workingFromGauge_bar !== undefined) {
    checked("lower end of the working range", "bar", request.workingFromGauge_bar, 0, 60);
  }
  if (request.prices !== undefined) checkPrices(request.prices);
  return {
    vessel,
    water_kg: checked("water", "kg", request.water_kg ?? usualWater_kgPerL * volume_L, 0.01, volume_L),
    room_degC,
    hottest_degC: hottestDay_degC(room_degC, request.hottest_degC),
    weighing: checkedWeighing(request.weighing),
  };
}

function fermenterOf(
  setting: SugarSetting,
  sucrose_g: number,
  water_kg = setting.water_kg,
): FermentationCharge {
  return { vesselVolume_L: setting.vessel.volume_L, water_kg, sucrose_g, sealedAt_degC: setting.room_degC };
}

/** Sugar weighed high, and the water off to each side: more of it takes gas space, less of it dissolves less CO2. */
function misweighedOf(setting: SugarSetting, sucrose_g: number): readonly FermentationCharge[] {
  const { powder_g, water_kg } = setting.weighing;
  return [-1, 1].map((error) =>
    fermenterOf(setting, sucrose_g + powder_g, Math.max(0.01, setting.water_kg + error * water_kg)),
  );
}

/** Upper 95 % pressure of full conversion on the hottest day; Infinity where so much CO2 does not stay a gas. */
function upperGauge_bar(setting: SugarSetting, sucrose_g: number): number {
  const { hottest_degC } = setting;
  try {
    const pressures_bar = misweighedOf(setting, sucrose_g).map(
      (charge) =>
        fermentationState(charge, { temperature_degC: hottest_degC, fermented_ratio: 1 })
          .pressureAbsolute_bar,
    );
    return gaugeFromAbsolute_bar((1 + fermentationPressureError_ratio) * Math.max(...pressures_bar));
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return Infinity;
    throw error;
  }
}

function sugarBreach(
  setting: SugarSetting,
  pressures: StatedPressures,
  sucrose_g: number,
): Breach | undefined {
  const { vessel, hottest_degC } = setting;
  const fullest = misweighedOf(setting, sucrose_g).at(-1) ?? fermenterOf(setting, sucrose_g);
  const liquid_L = sugarWaterVolume_L(fullest, hottest_degC);
  const gas_ratio = 1 - liquid_L / vessel.volume_L;
  if (gas_ratio < gasSpaceShare_ratio) {
    return {
      limit: "gas-space",
      reason:
        `sugar and water leave ${(100 * Math.max(0, gas_ratio)).toFixed(0)} % of the vessel to the gas; at least ` +
        `${String(100 * gasSpaceShare_ratio)} % is needed`,
    };
  }
  if (sucrose_g > mostSucrose_gPerKg * setting.water_kg) {
    const most_g = mostSucrose_gPerKg * setting.water_kg;
    return {
      limit: "model-range",
      reason: `so much sugar does not dissolve in this water: at most ${most_g.toFixed(0)} g does`,
    };
  }
  const upper_bar = upperGauge_bar(setting, sucrose_g);
  const overPressure = pressureBreach(upper_bar, pressures, hottest_degC);
  if (overPressure !== undefined) return overPressure;
  const full = fermentationState(fullest, { temperature_degC: hottest_degC, fermented_ratio: 1 });
  if (full.gasVolume_L >= gasSpaceShare_ratio * vessel.volume_L) return undefined;
  return {
    limit: "gas-space",
    reason:
      `with its CO2 dissolved the liquid leaves ${((100 * full.gasVolume_L) / vessel.volume_L).toFixed(1)} % of the vessel ` +
      `to the gas; at least ${String(100 * gasSpaceShare_ratio)} % is needed`,
  };
}

function largestSugar(
  setting: SugarSetting,
  pressures: StatedPressures,
  tooMuch: { readonly sucrose_g: number; readonly breach: Breach },
): { readonly sucrose_g: number; readonly boundBy: Breach } | undefined {
  if (sugarBreach(setting, pressures, leastSucrose_g) !== undefined) return undefined;
  let low_g = leastSucrose_g;
  let { sucrose_g: high_g, breach: boundBy } = tooMuch;
  while (high_g - low_g > searchTolerance_ratio * high_g) {
    const middle_g = (low_g + high_g) / 2;
    const breach = sugarBreach(setting, pressures, middle_g);
    if (breach === undefined) low_g = middle_g;
    else {
      high_g = middle_g;
      boundBy = breach;
    }
  }
  return { sucrose_g: Math.max(leastSucrose_g, Math.floor(low_g * 10) / 10), boundBy };
}

function outlookOf(setting: SugarSetting, sucrose_g: number, workingFromGauge_bar: number): SugarOutlook {
  const temperature_degC = setting.room_degC;
  const found = fermentationForecast(fermenterOf(setting, sucrose_g), {
    temperature_degC,
    leastWorkingGauge_bar: Math.min(60, workingFromGauge_bar),
  });
  return {
    plateau: {
      temperature_degC,
      pressureGauge_bar: found.plateau.pressureGauge_bar,
      lowGauge_bar: Math.min(found.plateauLow.pressureGauge_bar, found.plateau.pressureGauge_bar),
      highGauge_bar: Math.max(found.plateauHigh.pressureGauge_bar, found.plateau.pressureGauge_bar),
      dissolved_gPerL: found.plateau.dissolved_gPerL,
      endsWith: found.plateauEndsWith,
    },
    workingFromGauge_bar,
    verdict: { ...found.verdict, text: verdictWords[found.verdict.kind] },
  };
}

function planOf(
  request: SugarRequest,
  setting: SugarSetting,
  pressures: StatedPressures,
  workingFromGauge_bar: number,
): SugarPlan {
  const { room_degC, hottest_degC, vessel, water_kg } = setting;
  const { sucrose_g, prices } = request;
  const charge = fermenterOf(setting, sucrose_g);
  const fullAt_bar = (temperature_degC: number): number =>
    fermentationState(charge, { temperature_degC, fermented_ratio: 1 }).pressureGauge_bar;
  const outlook = outlookOf(setting, sucrose_g, workingFromGauge_bar);
  const co2_g = co2PerSucrose_ratio * sucrose_g;
  const held_mol = fermentationHeldAt_mol(charge, {
    temperature_degC: room_degC,
    pressureGauge_bar: Math.min(60, vessel.leastInletGauge_bar),
  });
  const reachesInlet = outlook.plateau.pressureGauge_bar > vessel.leastInletGauge_bar;
  const deliverableAtMost_g = reachesInlet ? Math.max(0, co2_g - held_mol * molarMass_gPerMol.co2) : 0;
  return {
    kind: "sugar-plan",
    amounts: { sucrose_g, water_kg },
    yield: {
      co2_g,
      usualLow_g: usualYield_ratio.low * sucrose_g,
      usualHigh_g: usualYield_ratio.high * sucrose_g,
    },
    ...outlook,
    fullConversion: {
      room_degC,
      roomGauge_bar: fullAt_bar(room_degC),
      hottest_degC,
      hottestGauge_bar: fullAt_bar(hottest_degC),
      hottestHighGauge_bar: upperGauge_bar(setting, sucrose_g),
      highestAllowedGauge_bar: highestAllowedGauge_bar(pressures),
    },
    deliverableAtMost_g,
    ...(prices?.sucrosePricePerKg === undefined
      ? {}
      : { cost: costOf(prices, (sucrose_g * prices.sucrosePricePerKg) / 1000, deliverableAtMost_g) }),
    cautions: sugarCautions(
      { stated_degC: request.hottest_degC, taken_degC: hottest_degC },
      vessel.leastInletGauge_bar,
    ),
  };
}
