import type { OutsideModel } from "../vessel/outside-model.js";
import { planDefaults, type PlanRequest, type PlanSetting } from "./plan-request.js";

/** Something to heed. `kind` is stable, `text` is for the reader. */
export interface Caution {
  readonly kind:
    | "own-rating"
    | "volume"
    | "weigh-dry"
    | "ventilate"
    | "upright"
    | "close-at-once"
    | "never-heat"
    | "ice-neck"
    | "first-reading"
    | "hottest-raised"
    | "acid-short"
    | "use-not-stated"
    | "below-inlet"
    | OutsideModel["kind"];
  readonly text: string;
}

const always: readonly Caution[] = [
  {
    kind: "own-rating",
    text:
      "The vessel's own plate, its test date and the codes where you live stand above this plan. A vessel with dents, rust, " +
      "heat marks or an unknown history is not charged. The relief device stays as its maker set it.",
  },
  {
    kind: "volume",
    text:
      "The pressures are for the volume that was stated. Fill the empty vessel with water and weigh the water once: " +
      "5 % less volume makes about 6 % more pressure.",
  },
  {
    kind: "weigh-dry",
    text: "Weigh dry powders on a dry scale, away from the eyes, and keep acid and bicarbonate apart until they are in the vessel.",
  },
  {
    kind: "ventilate",
    text:
      "Charge in the open air or a well ventilated room, and not over a pit, in a cupboard or in a car: CO2 is heavier than air, " +
      "gives no warning and stops the breath.",
  },
  {
    kind: "close-at-once",
    text:
      "Pour slowly and close the vessel at once: gas that escapes before is lost. Never hold a hand or face over the neck, and " +
      "never loosen a fitting under pressure.",
  },
  {
    kind: "upright",
    text: "Keep the vessel upright and held against falling, so that no liquor reaches the regulator.",
  },
  {
    kind: "never-heat",
    text: "Never heat a closed vessel, and never leave it in the sun, in a car or near a stove. Warm water is only for an open one.",
  },
];

/** The usual cautions and those that this charge calls for, the particular ones first. */
export function cautionsFor(
  request: PlanRequest,
  setting: PlanSetting,
  found: { readonly outsideModel: readonly OutsideModel[]; readonly deliverable_g: number },
): readonly Caution[] {
  const particular: Caution[] = [];
  const stated_degC = request.hottest_degC ?? planDefaults.hottest_degC;
  if (stated_degC < setting.hottest_degC) {
    particular.push({
      kind: "hottest-raised",
      text:
        `The hottest day is taken as ${String(setting.hottest_degC)} degC, not ${String(stated_degC)}: it is never taken ` +
        `below ${String(planDefaults.leastHottest_degC)} degC or below the room.`,
    });
  }
  if (setting.acidExcess_ratio < 0) {
    particular.push({
      kind: "acid-short",
      text: "The acid is short of the bicarbonate: the rest stays behind as a sediment or in the liquor and gives no gas.",
    });
  }
  if (!(found.deliverable_g > 0)) {
    particular.push({
      kind: "below-inlet",
      text: "At room temperature this charge does not reach the regulator's least inlet pressure: it delivers nothing.",
    });
  }
  if (request.use === undefined || request.use.length === 0) {
    particular.push({
      kind: "use-not-stated",
      text: "No daily use was stated, so no days are given. Measure it by weighing the vessel a week apart; bubbles do not tell.",
    });
  }
  if (setting.filling.kind === "ice") {
    particular.push({
      kind: "ice-neck",
      text: "The ice must pass the neck: crush it, never force it, and count what melted as water.",
    });
  }
  particular.push({
    kind: "first-reading",
    text: "The first reading is that of a cold vessel and rises as it warms: never add to a charge because it reads low.",
  });
  const seen = new Set<string>();
  for (const { kind, reason } of found.outsideModel) {
    if (seen.has(kind)) continue;
    seen.add(kind);
    particular.push({ kind, text: `${reason.charAt(0).toUpperCase()}${reason.slice(1)}.` });
  }
  return [...particular, ...always];
}
