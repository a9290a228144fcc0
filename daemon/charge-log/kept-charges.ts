import { z } from "zod";
import type { FollowedCharge } from "../../lib/charge-log/followed-charge.js";

export const chargesSnapshotName = "charges";
/** Of each vessel, the newest: years of them. */
const mostPerVessel = 200;

const number = z.number();
const bounds = z.object({ value: number, low: number, high: number });
const followed = z.object({
  vesselId: z.string(),
  acid: z.object({ kind: z.enum(["citric-acid-anhydrous", "citric-acid-monohydrate"]), mass_g: number }),
  sodiumBicarbonate_g: number,
  water_kg: number,
  vesselVolume_L: number,
  closedWith: z.enum(["water", "ice"]),
  sealedAt_degC: number.exactOptional(),
  closed_epochMs: number,
  workingPressureGauge_bar: number,
  planned: z.object({ sodiumBicarbonate_g: number, citricAcid_g: number }).exactOptional(),
  foreseen_g: bounds.exactOptional(),
  sawSettling: z.boolean(),
  ready_epochMs: number.exactOptional(),
  delivered_g: bounds,
  leak_gPerDay: bounds.exactOptional(),
  left_g: bounds.exactOptional(),
  openByValve_h: z.record(z.string(), number),
  dosing_days: number,
  lastDosingDate: z.string().exactOptional(),
  forecastAtHalf: z
    .object({
      made_epochMs: number,
      median_epochMs: number,
      low80_epochMs: number,
      high80_epochMs: number,
    })
    .exactOptional(),
  spentSince_epochMs: number.exactOptional(),
  replaced_epochMs: number.exactOptional(),
  seen_epochMs: number,
});

/** As plain data: of each vessel its charges, oldest first. */
export function storedCharges(charges: readonly FollowedCharge[]): unknown {
  const byVessel = new Map<string, FollowedCharge[]>();
  for (const charge of charges)
    byVessel.set(charge.vesselId, [...(byVessel.get(charge.vesselId) ?? []), charge]);
  return { version: 1, charges: [...byVessel.values()].flatMap((of) => of.slice(-mostPerVessel)) };
}

/** What was kept, oldest first; one that cannot be read is left out. */
export function chargesFrom(state: unknown): readonly FollowedCharge[] {
  const read = z.object({ version: z.literal(1), charges: z.array(z.unknown()) }).safeParse(state);
  return (read.success ? read.data.charges : [])
    .flatMap((one) => {
      const parsed = followed.safeParse(one);
      return parsed.success ? [parsed.data] : [];
    })
    .sort((a, b) => a.closed_epochMs - b.closed_epochMs);
}
