import { drawNormal } from "../../lib/simulation/random-source.js";
import { nightRest, restVerdict, type NightRest, type RestVerdict } from "../../lib/tank/night-rest.js";
import { drawNight, nightStart_epochMs, runNight } from "./simulated-nights.js";

const hour_ms = 3_600_000;
/** As lib/tank/running-exchange.ts expects it; food and people move what is breathed out more. */
const scatter = { exchange_ln: 0.08, breathing_ln: 0.2 };

export interface RestRow {
  readonly k_perH: number;
  /** The night, from 1, on which it was told first; undefined: on none. */
  readonly toldAfter: number | undefined;
  readonly last: RestVerdict | undefined;
}

/** The first nights of a tank whose valve passes a share of its flow from the first one on. */
export function restRow(seed: number, leak_ratio: number, nights = 5): RestRow {
  const { night, random } = drawNight(seed);
  const seen: NightRest[] = [];
  let last: RestVerdict | undefined;
  for (let index = 1; index <= nights; index += 1) {
    const tank = {
      ...night.tank,
      gasExchange_perH: night.tank.gasExchange_perH * Math.exp(scatter.exchange_ln * drawNormal(random)),
      respiration_mgPerLPerH:
        night.tank.respiration_mgPerLPerH * Math.exp(scatter.breathing_ln * drawNormal(random)),
    };
    const { readings } = runNight({ ...night, tank }, random, leak_ratio);
    const rest = nightRest({
      from_epochMs: nightStart_epochMs,
      until_epochMs: nightStart_epochMs + night.night_h * hour_ms,
      readings,
      waterChanges_epochMs: [],
    });
    if (rest !== undefined) seen.push(rest);
    last = restVerdict(seen);
    if (last?.isTold === true) return { k_perH: night.tank.gasExchange_perH, toldAfter: index, last };
  }
  return { k_perH: night.tank.gasExchange_perH, toldAfter: undefined, last };
}
