import { z } from "zod";
import {
  endReason,
  firstEndOfChargeState,
  isToldOnly,
  patienceWithReadings,
  stepEndOfCharge,
  type EndHold,
  type EndOfChargeState,
} from "../../lib/supply-watch/end-of-charge.js";
import { plainText } from "../../lib/told/plain-text.js";
import type { Said } from "../../lib/told/said.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import type { VesselConfig } from "../config/config-schema.js";
import type { SensorView } from "../sensor-inbox.js";
import type { SiteModel } from "../site-model.js";
import { transducer_bar } from "./charge-in-use.js";
import { endState } from "./supply-memory.js";

/** Where the charge of a vessel stands against its end. */
export interface EndOfVessel {
  readonly vesselId: string;
  /** The pressure at which its end is due, and the last one read against it; undefined: none was read near it. */
  readonly closeBelowGauge_bar: number | undefined;
  readonly hold: EndHold | undefined;
  /** The hold is of the charge before: a fresh one is in, and its gauge has not come up yet. */
  readonly awaitsFreshCharge: boolean;
  /** Why its valves are held closed; undefined: they are not. */
  readonly reason: string | undefined;
  /** The same with its quantities as such. */
  readonly said?: Said | undefined;
  /** Below its end by a reading that is too old to close a valve. */
  readonly isToldOnly: boolean;
  /** The config leaves the valves alone at the end of a charge. */
  readonly isLeftAlone: boolean;
}

export function endOfVessel(
  vesselId: string,
  { valve }: VesselConfig["endOfCharge"],
  end: EndOfChargeState | undefined,
  heldBefore: EndHold | undefined,
): EndOfVessel {
  const hold = end?.held ?? heldBefore;
  const isLeftAlone = valve === "left-alone";
  const said = hold === undefined || isLeftAlone ? undefined : endReason(vesselId, hold);
  return {
    vesselId,
    closeBelowGauge_bar: end?.last?.closeBelowGauge_bar ?? hold?.closeBelowGauge_bar,
    hold,
    awaitsFreshCharge: end?.held === undefined && heldBefore !== undefined,
    reason: said === undefined ? undefined : plainText(said),
    said,
    isToldOnly: end !== undefined && isToldOnly(end),
    isLeftAlone,
  };
}

/**
 * The ends of bought cylinders. While there is liquid the pressure follows the temperature alone and lies far above; once it is
 * gone the gauge falls within days, and then the same limit holds as for any other vessel.
 */
export interface LiquidEnds {
  /** @returns whether a hold has begun or ended, which must not wait for the next saving */
  hear(
    tick: {
      readonly now_epochMs: number;
      readonly model: Pick<SiteModel, "vessels" | "sensors">;
      readonly sensors: readonly SensorView[];
    },
    journal: Pick<JournalView, "latest">,
  ): boolean;
  of(vesselId: string): EndOfChargeState | undefined;
  /** As plain data, by vessel. */
  stored(): Readonly<Record<string, unknown>>;
}

/** @param restored what an earlier run left; of what cannot be read nothing is known */
export function createLiquidEnds(restored?: unknown): LiquidEnds {
  const ends = new Map(liquidEndsFrom(restored));
  return {
    of: (vesselId) => ends.get(vesselId),
    stored: () => Object.fromEntries([...ends].map(([vesselId, end]) => [vesselId, { kind: "liquid", end }])),
    hear({ now_epochMs, model, sensors }, journal) {
      let isChanged = false;
      for (const vesselId of ends.keys()) {
        if (model.vessels.get(vesselId)?.kind !== "liquid") ends.delete(vesselId);
      }
      for (const [vesselId, vessel] of model.vessels) {
        if (vessel.kind !== "liquid" || vessel.pressureSensor === undefined) continue;
        const view = sensors.find(({ sensorId }) => sensorId === vessel.pressureSensor);
        if (view?.freshness.kind !== "fresh" || view.lastAccepted === undefined) continue;
        const set_bar = journal.latest("regulator set", vesselId)?.fact.outletGauge_bar;
        const accuracy_bar = model.sensors.get(vessel.pressureSensor)?.rules.accuracy ?? transducer_bar;
        const closeBelowGauge_bar =
          (set_bar ?? vessel.workingPressureGauge_bar) + vessel.endOfCharge.margin_bar + accuracy_bar;
        const before = notAhead(ends.get(vesselId) ?? firstEndOfChargeState, now_epochMs);
        const after = stepEndOfCharge(
          before,
          {
            at_epochMs: view.lastAccepted.at_epochMs,
            gauge_bar: view.lastAccepted.value,
            closeBelowGauge_bar,
            from: "sensor",
          },
          patienceWithReadings,
        );
        ends.set(vesselId, after);
        if (after.held !== before.held) isChanged = true;
      }
      return isChanged;
    },
  };
}

/** What a clock that was ahead has left must not make the looks of today older than the last one. */
function notAhead(end: EndOfChargeState, now_epochMs: number): EndOfChargeState {
  return end.last === undefined || end.last.at_epochMs <= now_epochMs
    ? end
    : { ...firstEndOfChargeState, held: end.held };
}

const storedLiquid = z.object({ kind: z.literal("liquid"), end: endState });

function liquidEndsFrom(restored: unknown): readonly (readonly [string, EndOfChargeState])[] {
  const read = z.record(z.string(), z.unknown()).safeParse(restored);
  return Object.entries(read.success ? read.data : {}).flatMap(([vesselId, one]) => {
    const parsed = storedLiquid.safeParse(one);
    return parsed.success ? [[vesselId, parsed.data.end] as const] : [];
  });
}
