import { z } from "zod";
import type { PlanOptions } from "../cli/plan-options.js";
import type { PlanWish } from "./page-contract.js";

const number = z.number();

/** What a form asks of a plan; either the days or the bicarbonate. Whether a number can be is judged by the plan itself. */
export const planWish = z
  .strictObject({
    vessel: z.string().min(1).max(60).exactOptional(),
    days: number.exactOptional(),
    sodiumBicarbonate_g: number.exactOptional(),
    acidForm: z.enum(["anhydrous", "monohydrate"]).exactOptional(),
    acidExcess_ratio: number.exactOptional(),
    water_kg: number.exactOptional(),
    ice_kg: number.exactOptional(),
    icePiece_mm: number.exactOptional(),
    residualLiquor_L: number.exactOptional(),
    room_degC: number.exactOptional(),
    hottest_degC: number.exactOptional(),
    use_gPerDay: number.exactOptional(),
    useError_gPerDay: number.exactOptional(),
  })
  .refine((wish) => (wish.days === undefined) !== (wish.sodiumBicarbonate_g === undefined), {
    error: "either days or sodiumBicarbonate_g",
  });

/** As the same would be typed at the command line, so that a page and a terminal are answered alike. */
export function planOptionsOf(wish: PlanWish): Omit<PlanOptions, "config"> {
  const use =
    wish.use_gPerDay === undefined
      ? undefined
      : wish.useError_gPerDay === undefined
        ? String(wish.use_gPerDay)
        : `${wish.use_gPerDay}+-${wish.useError_gPerDay}`;
  const typed = {
    days: wish.days,
    bicarbonate: wish.sodiumBicarbonate_g,
    acidExcess: wish.acidExcess_ratio,
    water: wish.water_kg,
    ice: wish.ice_kg,
    icePiece: wish.icePiece_mm,
    residual: wish.residualLiquor_L,
    room: wish.room_degC,
    hottest: wish.hottest_degC,
    usePerDay: use,
    acid: wish.acidForm,
    vessel: wish.vessel,
  };
  return Object.fromEntries(
    Object.entries(typed).flatMap(([key, value]) => (value === undefined ? [] : [[key, String(value)]])),
  );
}
