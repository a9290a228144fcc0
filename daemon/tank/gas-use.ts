import { OutOfValidRangeError } from "../../lib/errors.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import { normalQuantile80 } from "../../lib/numerics/normal-distribution.js";
import type { LearntTank } from "../../lib/tank/learnt-tank.js";
import { doseEfficiency, type DoseEfficiency } from "../../lib/tank/morning-rise.js";
import { flowOfBubbles, flowOfLoss, suppliedGas, type SuppliedGas } from "../../lib/tank/supplied-gas.js";
import type { SiteModel, TankModel, ValveModel } from "../site-model.js";
import type { VesselSupply } from "../supply/vessel-supply.js";
import { assumedTemperature, type TankEstimate } from "./estimated-tank.js";
import type { GasUse, LearntTankStatus } from "./learnt-tank-status.js";

/** A needle valve is turned, a vessel empties. Judgement. */
const countHolds_ms = 14 * 24 * 3_600_000;
/** Stones, plants and the rim take up a part of a tank's stated volume. Common practice, no source. */
const volumeSigma_ln = 0.1;
/** Hardness test and probe offset together, where the tank's estimate does not tell. */
const usualFactorSigma_ln = 0.2;

interface Site {
  readonly now_epochMs: number;
  readonly model: Pick<SiteModel, "valves" | "tanks">;
  readonly tanks: readonly TankEstimate[];
  readonly supplies: readonly VesselSupply[];
  readonly journal: Pick<JournalView, "entriesOf">;
}

/** What is learnt of every tank, with its use of the gas beside it where that is known. */
export function withGasUse(learnt: readonly LearntTankStatus[], site: Site): readonly LearntTankStatus[] {
  return learnt.map((one) => {
    const tank = site.model.tanks.get(one.tankId);
    const use = tank === undefined ? undefined : whereKnown(() => gasUseOf(tank, one, site));
    return use === undefined ? one : { ...one, gasUse: use };
  });
}

/** Figures that no formula covers say nothing, and no control pass fails by them. */
function whereKnown(work: () => GasUse | undefined): GasUse | undefined {
  try {
    return work();
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return undefined;
    throw error;
  }
}

function gasUseOf(tank: TankModel, learnt: Pick<LearntTank, "dose">, site: Site): GasUse | undefined {
  const valve = [...site.model.valves.values()].find(({ rules }) => rules.tankIds.includes(tank.tankId));
  if (valve === undefined) return undefined;
  const estimate = site.tanks.find(({ tankId }) => tankId === tank.tankId);
  const temperature_degC = estimate?.temperature_degC ?? assumedTemperature.temperature_degC;
  const share = valve.feeds.find((feed) => feed.tank === tank.tankId)?.share ?? 0;
  const gas = suppliedGas(
    { bubbles: bubblesOf(valve, temperature_degC, site), loss: lossOf(valve, site) },
    share,
  );
  if (gas === undefined) return undefined;
  const flow_mgPerMin = (gas.flow_gPerH * 1000) / 60;
  const factor = Math.exp(normalQuantile80 * gas.flowSigma_ln);
  return {
    by: gas.by,
    flow_mgPerMin,
    flowLow80_mgPerMin: flow_mgPerMin / factor,
    flowHigh80_mgPerMin: flow_mgPerMin * factor,
    efficiency: efficiencyOf(learnt, gas, tank, estimate),
  };
}

function bubblesOf({ rules }: ValveModel, temperature_degC: number, { journal, now_epochMs }: Site) {
  const count = journal
    .entriesOf("bubble count", rules.valveId, now_epochMs - countHolds_ms)
    .filter(({ at_epochMs }) => at_epochMs <= now_epochMs)
    .at(-1);
  return count === undefined
    ? undefined
    : flowOfBubbles({ bubbles_perMin: count.fact.bubbles_perMin, temperature_degC });
}

/** A vessel's loss is that of one valve only where it has no other. */
function lossOf({ vesselId }: ValveModel, { model, supplies }: Site) {
  if ([...model.valves.values()].filter((other) => other.vesselId === vesselId).length > 1) return undefined;
  const told = supplies.find((supply) => supply.vesselId === vesselId)?.told;
  return told === undefined ? undefined : flowOfLoss(told.estimate.flow_gPerH);
}

function efficiencyOf(
  { dose }: Pick<LearntTank, "dose">,
  gas: SuppliedGas,
  { volume_L }: TankModel,
  estimate: TankEstimate | undefined,
): DoseEfficiency | undefined {
  if (dose === undefined) return undefined;
  const width_ln = (high: number, low: number): number => Math.log(high / low) / (2 * normalQuantile80);
  const co2 = estimate?.co2;
  return doseEfficiency(
    {
      dose_mgPerLPerH: dose.dose_mgPerLPerH,
      doseSigma_ln: width_ln(dose.doseHigh80_mgPerLPerH, dose.doseLow80_mgPerLPerH),
    },
    gas,
    {
      volume_L,
      volumeSigma_ln,
      factorSigma_ln:
        co2 === undefined ? usualFactorSigma_ln : width_ln(co2.co2High80_mgPerL, co2.co2Low80_mgPerL),
    },
  );
}
