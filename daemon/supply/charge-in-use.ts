import type { SuppliedCharge } from "../../lib/estimation/supply-trace.js";
import type { JournalView } from "../../lib/journal/journal-entry.js";
import type { VesselConfig } from "../config/config-schema.js";
import { configuredCharge, type ChargeKeys } from "../config/configured-charge.js";
import type { SiteModel } from "../site-model.js";

/** The charge that is in a vessel, by the config or by a newer entry of the journal. */
export interface ChargeInUse {
  /** Another text for another charge; what only says how it is read or used is not part of it. */
  readonly key: string;
  readonly from: "config" | "journal";
  readonly closedAt_epochMs: number;
  readonly supplied: SuppliedCharge;
}

/**
 * How far a small dial gauge may be off where no sensor's accuracy is stated: 1.6 % of a span of 25 bar, the class in which
 * such gauges are commonly sold. From memory.
 */
export const dialGauge_bar = 0.4;
/** How far an electronic one may be off where nobody stated it: 1 % of a span of 25 bar. A judgement. */
export const transducer_bar = 0.25;

/** Undefined for a bought cylinder, and for a vessel of which no charge is known. */
export function chargeInUse(
  model: Pick<SiteModel, "vessels" | "sensors" | "timeZone">,
  vesselId: string,
  journal: Pick<JournalView, "latest">,
): ChargeInUse | undefined {
  const vessel = model.vessels.get(vesselId);
  if (vessel?.kind !== "generator") return undefined;
  const filled = latestFilling(vessel, vesselId, journal);
  if (filled === undefined) return undefined;
  const { keys, closedAt_epochMs, from } = filled;
  const { residualLiquor, acid } = configuredCharge(vessel.volume_L, keys);
  const sensor = vessel.pressureSensor === undefined ? undefined : model.sensors.get(vessel.pressureSensor);
  const set_bar = journal.latest("regulator set", vesselId)?.fact.outletGauge_bar;
  return {
    key: JSON.stringify([closedAt_epochMs, vessel.volume_L, keys]),
    from,
    closedAt_epochMs,
    supplied: {
      acid,
      sodiumBicarbonate_g: keys.sodiumBicarbonate_g,
      water_kg: keys.water_kg,
      ...(residualLiquor === undefined ? {} : { residualLiquor }),
      vesselVolume_L: vessel.volume_L,
      sealedAt_degC: keys.sealedAt_degC,
      closedAt_epochMs,
      closedWith: keys.closedWith,
      settled: false,
      workingPressureGauge_bar: (set_bar ?? vessel.workingPressureGauge_bar) + vessel.endOfCharge.margin_bar,
      gaugeAccuracy_bar: sensor === undefined ? dialGauge_bar : (sensor.rules.accuracy ?? transducer_bar),
      timeZone: model.timeZone,
      windows: [],
    },
  };
}

interface Filling {
  readonly keys: ChargeKeys;
  readonly closedAt_epochMs: number;
  readonly from: ChargeInUse["from"];
}

function latestFilling(
  vessel: Extract<VesselConfig, { readonly kind: "generator" }>,
  vesselId: string,
  journal: Pick<JournalView, "latest">,
): Filling | undefined {
  const entry = journal.latest("charge closed", vesselId);
  const written = vessel.charge;
  const writtenAt_epochMs = written === undefined ? undefined : Date.parse(written.closedAt);
  if (written !== undefined && writtenAt_epochMs !== undefined) {
    if (entry === undefined || entry.at_epochMs < writtenAt_epochMs) {
      return { keys: withoutInstant(written), closedAt_epochMs: writtenAt_epochMs, from: "config" };
    }
  }
  if (entry === undefined) return undefined;
  const { acid, sodiumBicarbonate_g, water_kg, closedWith, residualLiquor_L, sealedAt_degC } = entry.fact;
  return {
    keys: {
      sodiumBicarbonate_g,
      ...(acid.kind === "citric-acid-anhydrous"
        ? { citricAcidAnhydrous_g: acid.mass_g }
        : { citricAcidMonohydrate_g: acid.mass_g }),
      water_kg,
      closedWith,
      ...(residualLiquor_L === undefined ? {} : { residualLiquor_L }),
      sealedAt_degC,
    },
    closedAt_epochMs: entry.at_epochMs,
    from: "journal",
  };
}

function withoutInstant(written: ChargeKeys): ChargeKeys {
  const { sodiumBicarbonate_g, citricAcidAnhydrous_g, citricAcidMonohydrate_g, residualLiquor_L } = written;
  return {
    sodiumBicarbonate_g,
    ...(citricAcidAnhydrous_g === undefined ? {} : { citricAcidAnhydrous_g }),
    ...(citricAcidMonohydrate_g === undefined ? {} : { citricAcidMonohydrate_g }),
    water_kg: written.water_kg,
    closedWith: written.closedWith,
    ...(residualLiquor_L === undefined ? {} : { residualLiquor_L }),
    sealedAt_degC: written.sealedAt_degC,
  };
}
