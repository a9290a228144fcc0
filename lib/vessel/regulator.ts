import { OutOfValidRangeError } from "../errors.js";
import { assertInRange, type ValidRange } from "../quantities/valid-range.js";

/**
 * Regulators that hold a working pressure over a needle valve. Droop, the fall of the outlet with the flow, is left out:
 * the flow here is millilitres a minute against litres a minute for which such a regulator is built, it hardly changes, and
 * what droop there is was inside the reading when the working pressure was set. Lock-up, the rise while the solenoid is
 * shut, and a leaking seat are left out too.
 */
export interface RegulatorStage {
  readonly setGauge_bar: number;
  /** Rise of this stage's outlet for each bar by which its own inlet falls. */
  readonly supplyPressureEffect_ratio: number;
}

export type RegulatorDesign =
  | { readonly kind: "single-stage"; readonly stage: RegulatorStage }
  | {
      readonly kind: "two-stage";
      /** Its setting is the pressure between the stages, fixed by the maker. */
      readonly first: RegulatorStage;
      readonly second: RegulatorStage;
    };

/** A regulator that was set, with the inlet pressure that stood before it then. */
export type Regulator = RegulatorDesign & { readonly setAtInletGauge_bar: number };

export interface RegulatorOutlet {
  /** `wide-open`: the inlet no longer carries the set pressure, and what comes in goes out. */
  readonly kind: "regulating" | "wide-open";
  readonly outletGauge_bar: number;
}

/**
 * Supply-pressure effect of regulators whose maker does not state it, from memory: good single stages, small low-cost
 * single stages, and two stages taken together.
 */
export const usualSupplyPressureEffect_ratio = {
  goodSingleStage: { low: 0.005, high: 0.02 },
  smallSingleStage: { low: 0.02, high: 0.07 },
  twoStage: { low: 0.0001, high: 0.001 },
} as const;

const ranges = {
  set: { quantity: "working pressure", unit: "bar", minimum: 0.05, maximum: 20 },
  between: { quantity: "pressure between the stages", unit: "bar", minimum: 0.05, maximum: 50 },
  effect: { quantity: "supply-pressure effect", unit: "", minimum: 0, maximum: 0.2 },
  inlet: { quantity: "inlet pressure", unit: "bar", minimum: 0, maximum: 300 },
} as const satisfies Record<string, ValidRange>;

/** A stage with the inlet at which it gives its set pressure. */
interface SetStage extends RegulatorStage {
  readonly setAtInletGauge_bar: number;
}

function setStages(regulator: Regulator): readonly [SetStage, ...(readonly SetStage[])] {
  const { setAtInletGauge_bar } = regulator;
  assertInRange(setAtInletGauge_bar, {
    quantity: "inlet pressure at which the working pressure was set",
    unit: "bar",
    minimum: regulator.kind === "single-stage" ? regulator.stage.setGauge_bar : regulator.second.setGauge_bar,
    maximum: ranges.inlet.maximum,
  });
  if (regulator.kind === "single-stage") {
    return [checked({ ...regulator.stage, setAtInletGauge_bar }, ranges.set)];
  }
  const { first, second } = regulator;
  const between_bar = first.setGauge_bar;
  assertInRange(between_bar, { ...ranges.between, minimum: second.setGauge_bar });
  return [
    // Set at an inlet below the pressure between the stages, the first stood wide open.
    checked({ ...first, setAtInletGauge_bar: Math.max(setAtInletGauge_bar, between_bar) }, ranges.between),
    checked({ ...second, setAtInletGauge_bar: Math.min(setAtInletGauge_bar, between_bar) }, ranges.set),
  ];
}

function checked(stage: SetStage, setRange: ValidRange): SetStage {
  assertInRange(stage.setGauge_bar, setRange);
  assertInRange(stage.supplyPressureEffect_ratio, ranges.effect);
  return stage;
}

/** Inlet at which the rising outlet meets the falling inlet: below it the seat stands wide open. */
function wideOpenInlet_bar(stage: SetStage): number {
  const effect = stage.supplyPressureEffect_ratio;
  return (stage.setGauge_bar + effect * stage.setAtInletGauge_bar) / (1 + effect);
}

function stageOutlet_bar(stage: SetStage, inlet_bar: number): number {
  const fall_bar = stage.setAtInletGauge_bar - inlet_bar;
  const regulated_bar = stage.setGauge_bar + stage.supplyPressureEffect_ratio * fall_bar;
  return Math.max(0, Math.min(regulated_bar, inlet_bar));
}

/**
 * Outlet pressure of a regulator, bar gauge, at an inlet pressure of 0 to 300 bar gauge. A single stage rises by its
 * supply-pressure effect times the fall of the inlet, until inlet and outlet meet; from there it stands wide open and the
 * outlet falls with the inlet. In two stages the second works on what the first lets through, so that their effects
 * multiply and the outlet falls by that little, until the first stands wide open.
 * @throws OutOfValidRangeError for an inlet outside 0 to 300 bar, a supply-pressure effect outside 0 to 0.2, a setting
 *   outside 0.05 to 20 bar (50 bar between the stages) or above the inlet at which it was set
 * @see [Iso2503] for the terms; the definition of the supply-pressure effect is common practice
 */
export function regulatorOutlet(regulator: Regulator, inletGauge_bar: number): RegulatorOutlet {
  assertInRange(inletGauge_bar, ranges.inlet);
  let isWideOpen = false;
  let pressure_bar = inletGauge_bar;
  for (const stage of setStages(regulator)) {
    isWideOpen = pressure_bar <= wideOpenInlet_bar(stage);
    pressure_bar = stageOutlet_bar(stage, pressure_bar);
  }
  return { kind: isWideOpen ? "wide-open" : "regulating", outletGauge_bar: pressure_bar };
}

/**
 * Inlet pressures at which a stage comes to stand wide open, bar gauge, falling. Between them the outlet is a straight
 * line against the inlet, so that its extremes lie at these and at the ends.
 * @throws OutOfValidRangeError as regulatorOutlet
 */
export function regulatorBreaksGauge_bar(regulator: Regulator): readonly number[] {
  return setStages(regulator)
    .map((stage) => wideOpenInlet_bar(stage))
    .sort((one, other) => other - one);
}

/** What the gauges showed at one time, gas flowing and the screw untouched since. */
export interface RegulatorReading {
  readonly inletGauge_bar: number;
  readonly outletGauge_bar: number;
}

export interface LearntSupplyPressureEffect {
  readonly value_ratio: number;
  readonly low_ratio: number;
  readonly high_ratio: number;
}

/**
 * Supply-pressure effect of the regulator as a whole, from two readings of both gauges. The interval takes the outlet
 * gauge's whole error at each reading, against one another; it is wide unless the readings lie far apart.
 * @param gaugeAccuracy_bar half-width of the outlet gauge's reading error, 0 to 5 bar
 * @throws OutOfValidRangeError when the inlets are less than 1 bar apart, or an inlet is outside 0 to 300 bar
 */
export function supplyPressureEffectFrom(
  earlier: RegulatorReading,
  later: RegulatorReading,
  gaugeAccuracy_bar: number,
): LearntSupplyPressureEffect {
  assertInRange(earlier.inletGauge_bar, ranges.inlet);
  assertInRange(later.inletGauge_bar, ranges.inlet);
  assertInRange(gaugeAccuracy_bar, { quantity: "gauge accuracy", unit: "bar", minimum: 0, maximum: 5 });
  const fall_bar = earlier.inletGauge_bar - later.inletGauge_bar;
  if (!(Math.abs(fall_bar) >= 1)) {
    throw new OutOfValidRangeError("distance of the inlet readings", Math.abs(fall_bar), "bar", 1, 300);
  }
  const value_ratio = (later.outletGauge_bar - earlier.outletGauge_bar) / fall_bar;
  const halfWidth_ratio = (2 * gaugeAccuracy_bar) / Math.abs(fall_bar);
  return {
    value_ratio,
    low_ratio: value_ratio - halfWidth_ratio,
    high_ratio: value_ratio + halfWidth_ratio,
  };
}
