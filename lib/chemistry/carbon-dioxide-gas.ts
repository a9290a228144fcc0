import { NoConvergenceError } from "../errors.js";
import { kelvinFromCelsius } from "../quantities/units.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";
import {
  criticalTemperature_degC,
  saturatedVapourDensity_molPerL,
  saturationPressure_bar,
} from "./carbon-dioxide-saturation.js";
import {
  spanWagnerCriticalBeta,
  spanWagnerCriticalTerms,
  spanWagnerGaussianTerms,
  spanWagnerPowerTerms,
  spanWagnerReducing,
} from "./span-wagner-coefficients.js";

/** Pressure and escaping tendency of CO2 gas at one density. */
export interface CarbonDioxideState {
  readonly pressureAbsolute_bar: number;
  readonly fugacity_bar: number;
  /** p / (density R T). */
  readonly compressibility: number;
}

/** The equation of state at one temperature: what depends on temperature alone is worked out once. */
export interface CarbonDioxideIsotherm {
  readonly temperature_degC: number;
  /** Densest gas that the isotherm answers for: the saturated vapour, or 10 mol/L above the critical temperature. */
  readonly densityLimit_molPerL: number;
  stateAt(density_molPerL: number): CarbonDioxideState;
}

export const carbonDioxideGasRange: ValidRange = {
  quantity: "temperature",
  unit: "degC",
  minimum: -50,
  maximum: 100,
};

const supercriticalDensityLimit_molPerL = 10;

const highestD = Math.max(...spanWagnerPowerTerms.map((term) => term.d));
const highestC = Math.max(...spanWagnerPowerTerms.map((term) => term.c));
const highestT = Math.max(...spanWagnerPowerTerms.map((term) => term.t));
/** Lowest and highest power of delta beside each exp(-delta^c). */
const spans = Array.from({ length: highestC + 1 }, (_, c) => {
  const powers = spanWagnerPowerTerms.filter((term) => term.c === c).map((term) => term.d);
  return { lowest: Math.min(...powers), highest: Math.max(...powers) };
});

/** tau^t for all t of the power terms, which are multiples of a quarter: at index 4 t. */
function quarterPowers(tau: number): Float64Array {
  const powers = new Float64Array(4 * highestT + 1);
  const root = Math.sqrt(tau);
  const quarter = Math.sqrt(root);
  let whole = 1;
  for (let t = 0; t <= highestT; t += 1) {
    powers[4 * t] = whole;
    if (t < highestT) {
      powers[4 * t + 2] = whole * root;
      powers[4 * t + 3] = whole * root * quarter;
    }
    whole *= tau;
  }
  return powers;
}

/**
 * CO2 gas at one temperature, by the reference equation of state (39 terms and 3 for the critical region).
 * -50 to 100 degC; in the gas up to saturation, or to 10 mol/L above 30.98 degC.
 * @throws OutOfValidRangeError outside -50 to 100 degC
 * @see [SpanWagner1996] equation 6.5, table 31
 */
export function carbonDioxideIsotherm(temperature_degC: number): CarbonDioxideIsotherm {
  assertInRange(temperature_degC, carbonDioxideGasRange);
  const T = kelvinFromCelsius(temperature_degC);
  const tau = spanWagnerReducing.temperature_K / T;
  const RT_LBarPerMol = (spanWagnerReducing.gasConstant_JPerMolK * T) / 100;
  const tauPowers = quarterPowers(tau);
  const stride = highestD + 1;
  const coefficients = new Float64Array((highestC + 1) * stride);
  for (const { n, d, t, c } of spanWagnerPowerTerms) {
    const at = c * stride + d;
    coefficients[at] = (coefficients[at] ?? 0) + n * (tauPowers[4 * t] ?? 0);
  }
  const gaussianFactors = spanWagnerGaussianTerms.map(
    ({ n, t, beta, gamma }) => n * tau ** t * Math.exp(-beta * (tau - gamma) ** 2),
  );
  const criticalFactors = spanWagnerCriticalTerms.map(({ n, D }) => n * Math.exp(-D * (tau - 1) ** 2));

  const stateAt = (density_molPerL: number): CarbonDioxideState => {
    const delta = density_molPerL / spanWagnerReducing.density_molPerL;
    let energy = 0; // alpha residual
    let slope = 0; // delta times its derivative by delta
    let power = 1; // delta^c
    for (let c = 0; c <= highestC; c += 1) {
      const span = spans[c];
      if (span === undefined) continue;
      let value = 0;
      let derivative = 0;
      for (let d = span.highest; d >= span.lowest; d -= 1) {
        const coefficient = coefficients[c * stride + d] ?? 0;
        value = value * delta + coefficient;
        derivative = derivative * delta + d * coefficient;
      }
      const lowest = integerPower(delta, span.lowest);
      value *= lowest;
      derivative *= lowest;
      const damping = c === 0 ? 1 : Math.exp(-power);
      energy += damping * value;
      slope += damping * (c === 0 ? derivative : derivative - c * power * value);
      power *= delta;
    }
    const distance = delta - 1;
    const square = distance * distance;
    // Every eta and C is a multiple of 2.5.
    const damping = Math.exp(-2.5 * square);
    for (let k = 0; k < gaussianFactors.length; k += 1) {
      const term = spanWagnerGaussianTerms[k];
      if (term === undefined) continue;
      const { d, eta } = term;
      const value = (gaussianFactors[k] ?? 0) * integerPower(delta, d) * integerPower(damping, eta / 2.5);
      energy += value;
      slope += value * (d - 2 * eta * delta * distance);
    }
    if (square > 0) {
      const thetaPower = square * Math.cbrt(square) ** 2; // exponent 1 / (2 beta) = 5/3
      for (let k = 0; k < criticalFactors.length; k += 1) {
        const term = spanWagnerCriticalTerms[k];
        if (term === undefined) continue;
        const { a, b, A, B, C } = term;
        const theta = 1 - tau + A * thetaPower;
        const wide = B * square ** a;
        const big = theta * theta + wide;
        const bigSlope = ((2 * A * theta * thetaPower) / spanWagnerCriticalBeta + 2 * a * wide) / distance;
        const value = (criticalFactors[k] ?? 0) * delta * big ** b * integerPower(damping, C / 2.5);
        energy += value;
        slope += value * (1 - 2 * C * delta * distance + (delta * b * bigSlope) / big);
      }
    }
    const compressibility = 1 + slope;
    const ideal_bar = density_molPerL * RT_LBarPerMol;
    return {
      pressureAbsolute_bar: ideal_bar * compressibility,
      fugacity_bar: ideal_bar * Math.exp(energy + slope),
      compressibility,
    };
  };

  return {
    temperature_degC,
    densityLimit_molPerL:
      temperature_degC < criticalTemperature_degC - 0.0005
        ? saturatedVapourDensity_molPerL(temperature_degC)
        : supercriticalDensityLimit_molPerL,
    stateAt,
  };
}

function integerPower(base: number, exponent: number): number {
  let product = 1;
  for (let k = 0; k < exponent; k += 1) product *= base;
  return product;
}

/**
 * Density of CO2 gas, mol/L, from its own pressure and temperature. -50 to 100 degC; pressure up to saturation,
 * or up to 90 bar above 30.98 degC.
 * @throws OutOfValidRangeError outside these ranges
 * @throws NoConvergenceError when the root is not closed in 100 steps
 * @see [SpanWagner1996]
 */
export function carbonDioxideDensity_molPerL(gas: {
  readonly pressureAbsolute_bar: number;
  readonly temperature_degC: number;
}): number {
  const isotherm = carbonDioxideIsotherm(gas.temperature_degC);
  const belowCritical = gas.temperature_degC < criticalTemperature_degC - 0.0005;
  assertInRange(gas.pressureAbsolute_bar, {
    quantity: "CO2 pressure",
    unit: "bar",
    minimum: 0,
    maximum: belowCritical ? saturationPressure_bar(gas.temperature_degC) : 90,
  });
  let low = 0;
  // The fitted saturated density may stop a little short of the fitted saturated pressure.
  let high = isotherm.densityLimit_molPerL * 1.01;
  for (let iteration = 0; iteration < 100; iteration += 1) {
    const middle = (low + high) / 2;
    if (isotherm.stateAt(middle).pressureAbsolute_bar < gas.pressureAbsolute_bar) low = middle;
    else high = middle;
    if (high - low <= 1e-12 * high || high < 1e-12) return (low + high) / 2;
  }
  throw new NoConvergenceError("CO2 density", low, high, 100);
}
