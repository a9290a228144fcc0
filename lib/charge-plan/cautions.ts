import { bothWays, type ToldBothWays } from "../told/plain-text.js";
import { bar, celsius, said } from "../told/said.js";
import type { OutsideModel } from "../vessel/outside-model.js";
import { icePassesNeck_ratio, planDefaults, type PlanRequest, type PlanSetting } from "./plan-request.js";

/** Something to heed. `kind` is stable, `text` is for the reader. */
export interface Caution extends ToldBothWays {
  readonly kind:
    | "plate-in-psi"
    | "relief-above-rating"
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
    | "acid-form"
    | "acid-short"
    | "use-not-stated"
    | "below-inlet"
    | "above-the-bound"
    | "let-off-at-the-end"
    | "acid-in-excess"
    | "residual-liquor"
    | "yeast-goes-on"
    | "yeast-foams"
    | OutsideModel["kind"];
}

/** Common practice, no source: 5 to 10 % more acid frees most of what is held back. */
const usefulExcess_ratio = 0.25;

function iceCaution({ vessel, icePiece_mm }: PlanRequest): string {
  const { neckWidth_mm } = vessel;
  const rest = "crush it, never force it, and count what melted as water.";
  if (neckWidth_mm === undefined) {
    const unknown =
      icePiece_mm === undefined ? "" : " Its width is not in the config, so nothing says that it does.";
    return `The ice must pass the neck: ${rest}${unknown}`;
  }
  const most_mm = Math.floor(icePassesNeck_ratio * neckWidth_mm);
  return `The ice must pass the neck of ${String(neckWidth_mm)} mm, in pieces of ${String(most_mm)} mm or less: ${rest}`;
}

/** What stands above every plan, and under every refusal. */
export const ownRatingCaution: Caution = {
  kind: "own-rating",
  text:
    "The vessel's own plate, its test date, the codes where you live and people licensed for pressure equipment stand above " +
    "this plan. A vessel with dents, rust, heat marks or an unknown history is not charged, but shown to them. The relief " +
    "device stays as its maker set it.",
};

const always: readonly Caution[] = [
  ownRatingCaution,
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
  {
    kind: "above-the-bound",
    text:
      "If the gauge ever reads more than the upper bound for its temperature, something is not as it was planned: keep people " +
      "and animals away, let it cool, ventilate, loosen nothing, and ask someone licensed for pressure equipment. Do not make " +
      "that charge again.",
  },
];

/** A gauge shows what it can move against, and a blocked one shows nothing. */
function letOffCaution(leastInletGauge_bar: number): Caution {
  return {
    kind: "let-off-at-the-end",
    ...bothWays(
      said`When it has run out the vessel still holds about ${bar(leastInletGauge_bar, 1)}. Let it off slowly through the regulator or the valve, as its maker says, outdoors or with the windows open, with the line out of the tank, before any fitting is touched; a gauge at 0 is no proof that the vessel is empty.`,
    ),
  };
}

/** Of the usual cautions those that a charge of sugar and yeast needs too. */
const alsoForSugar: readonly Caution["kind"][] = [
  "own-rating",
  "volume",
  "ventilate",
  "upright",
  "never-heat",
  "above-the-bound",
];

/** What to heed with sugar and yeast. */
export function sugarCautions(
  hottest: { readonly stated_degC: number | undefined; readonly taken_degC: number },
  leastInletGauge_bar: number,
): readonly Caution[] {
  return [
    ...raisedHottest(hottest.stated_degC, hottest.taken_degC),
    {
      kind: "yeast-goes-on",
      text:
        "That yeast stops is weak evidence and no safety device: some strains go on under pressure, and the pressure can rise " +
        "for weeks. The plan is held to every gram fermenting out. Look at the gauge daily. That it reads low is not a fault: " +
        "do not add sugar.",
    },
    {
      kind: "yeast-foams",
      text:
        "Yeast foams: foam in the outlet blocks the relief device and the regulator. Keep to the gas space, and never loosen a " +
        "fitting under pressure.",
    },
    ...always.filter(({ kind }) => alsoForSugar.includes(kind)),
    letOffCaution(leastInletGauge_bar),
  ];
}

function raisedHottest(asked_degC: number | undefined, taken_degC: number): readonly Caution[] {
  const stated_degC = asked_degC ?? planDefaults.hottest_degC;
  if (stated_degC >= taken_degC) return [];
  return [
    {
      kind: "hottest-raised",
      ...bothWays(
        said`The hottest day is taken as ${celsius(taken_degC)}, not ${celsius(stated_degC)}: it is never taken below ${celsius(planDefaults.leastHottest_degC)} or below the room.`,
      ),
    },
  ];
}

/** The usual cautions and those that this charge calls for, the particular ones first. */
export function cautionsFor(
  request: PlanRequest,
  setting: PlanSetting,
  found: { readonly outsideModel: readonly OutsideModel[]; readonly deliverable_g: number },
): readonly Caution[] {
  const particular: Caution[] = [...raisedHottest(request.hottest_degC, setting.hottest_degC)];
  if (setting.acidForm === "citric-acid-monohydrate") {
    particular.push({
      kind: "acid-form",
      text:
        "This is for the monohydrate. The anhydrous acid holds 9 % more acid by mass: where the bag does not say which it is, " +
        "plan it as anhydrous.",
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
  if (setting.acidExcess_ratio > usefulExcess_ratio) {
    particular.push({
      kind: "acid-in-excess",
      text:
        `The acid is ${(100 * setting.acidExcess_ratio).toFixed(0)} % more than the exact proportion: beyond about ` +
        `${String(100 * usefulExcess_ratio)} % it frees hardly any more gas and leaves a sourer liquor on the steel.`,
    });
  }
  if (setting.residualLiquor !== undefined) {
    particular.push({
      kind: "residual-liquor",
      text:
        "The liquor of the last charge stays in: it takes gas space and holds bicarbonate and salt that nobody weighed. " +
        `Its amount is taken to ${String(100 * planDefaults.residualError_ratio)} %. Pouring it out and rinsing, with the vessel ` +
        "open and without pressure, is the surer way.",
    });
  }
  if (setting.filling.ice_ratio > 0) {
    particular.push({ kind: "ice-neck", text: iceCaution(request) });
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
  return [...particular, ...always, letOffCaution(setting.vessel.leastInletGauge_bar)];
}
