import { OutOfValidRangeError } from "../errors.js";
import type { Charge } from "../vessel/charge.js";
import { pressurise, surroundingsRanges, usualSurroundings } from "../vessel/pressurising.js";
import type { ReadyAfter } from "./outlook-draws.js";

/** Heat loss and mixing of a vessel that nobody has recorded yet: a factor of two either way is ordinary. No source. */
const paceError_ratio = 2;
const longestWatch_h = 300;
/** At the very end of its range the heat balance has no room to look for its root. */
const belowHottest_K = 0.1;
const leastReady_h = 0.05;

/** The same weights with all the water put in as ice, or all of it as water. */
export function closedWith(charge: Charge, kind: "water" | "ice"): Charge {
  const { ice_kg = 0, water_kg, ...rest } = charge;
  return kind === "ice"
    ? { ...rest, water_kg: 0, ice_kg: water_kg + ice_kg }
    : { ...rest, water_kg: water_kg + ice_kg };
}

/**
 * Hours until a charge closed with water or with ice has settled, at a room temperature of 5 to 45 degC. The interval is that of
 * heat loss and mixing, a factor of two either way.
 * @returns undefined where it does not fit the vessel so, or does not settle within 300 h
 * @throws NoConvergenceError as pressurise
 * @see pressurise for method and sources
 */
export function freshReadyAfter(
  charge: Charge,
  kind: "water" | "ice",
  room_degC: number,
): ReadyAfter | undefined {
  const { minimum, maximum } = surroundingsRanges.room;
  const warmest_degC = Math.min(maximum - belowHottest_K, room_degC);
  if (!(room_degC >= minimum)) return undefined;
  const filled = closedWith(charge, kind);
  try {
    const surroundings = usualSurroundings(filled, {
      room_degC: warmest_degC,
      startWater_degC: Math.min(warmest_degC, Math.max(0, filled.sealedAt_degC)),
    });
    const { ready_h } = pressurise(filled, surroundings, { until_h: longestWatch_h, pointCount: 2 });
    if (ready_h === undefined) return undefined;
    const value_h = Math.max(leastReady_h, ready_h);
    return { value_h, low_h: value_h / paceError_ratio, high_h: value_h * paceError_ratio };
  } catch (error) {
    if (error instanceof OutOfValidRangeError) return undefined;
    throw error;
  }
}
