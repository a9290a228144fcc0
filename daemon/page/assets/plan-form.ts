import { temperatureFromCelsius, temperatureToCelsius } from "../../../lib/quantities/units.js";
import type { PlanWish } from "../page-contract.js";
import { el, labelled } from "./dom.js";
import { choiceField, complain, numberField, typedNumber } from "./fields.js";
import type { Formats } from "./formats.js";
import type { PlanDraft } from "./plan-draft.js";
import type { Texts } from "./texts.en.js";

export interface PlanForm {
  readonly element: HTMLElement;
  /** What is asked for; undefined while a number is missing or none. */
  readonly read: () => PlanWish | undefined;
  /** The unit was chosen anew, or what is measured has changed. Nothing that is typed is touched but its unit. */
  readonly update: (formats: Formats, measuredUse_gPerDay: number | undefined, hasNeck: boolean) => void;
  /** Asks for this much, as if it had been typed. */
  readonly take: (sodiumBicarbonate_g: number) => void;
}

type NumberKey =
  "days" | "grams" | "use" | "water" | "ice" | "icePiece" | "hottest" | "room" | "residual" | "excess";

/** What the plan takes where nothing is typed. */
const usual = { hottest_degC: 40, room_degC: 20 } as const;

/** The form of a plan. Its inputs stay while the site changes. */
export function planForm(
  words: Texts["plan"],
  draft: () => PlanDraft,
  change: (changed: Partial<PlanDraft>) => void,
  vesselId: string,
  formats: Formats,
): PlanForm {
  const start = draft();
  let shownFormats = formats;
  /** To two digits: it wavers with every reading, and a plan need not. */
  let measured_gPerDay: number | undefined;
  const fields = new Map<NumberKey, HTMLInputElement>();
  const field = (key: NumberKey): HTMLInputElement => {
    const made = numberField(start[key], (typed) => change({ [key]: typed }));
    fields.set(key, made);
    return made;
  };
  const days = labelled(words.days, field("days"));
  const grams = labelled(words.grams, field("grams"));
  const useHint = el("small");
  const use = labelled(words.use, field("use"));
  use.append(useHint);
  const hottest = labelled(" ", field("hottest"), " ");
  const room = labelled(" ", field("room"), " ");
  const water = labelled(words.waterMass, field("water"), " ");
  const ice = labelled(words.iceMass, field("ice"));
  const icePiece = labelled(words.icePiece, field("icePiece"));
  const by = (value: PlanDraft["by"]): void => {
    days.hidden = value !== "days";
    grams.hidden = value !== "grams";
  };
  let hasNeck = false;
  const filled = (value: PlanDraft["filling"]): void => {
    water.hidden = value === "ice";
    ice.hidden = value === "water";
    icePiece.hidden = value === "water" || !hasNeck;
  };
  by(start.by);
  filled(start.filling);
  const byChoice = choiceField(
    words.by,
    [
      ["days", words.byDays],
      ["grams", words.byGrams],
    ],
    start.by,
    (chosen) => {
      by(chosen);
      change({ by: chosen });
    },
  );
  const element = el(
    "form",
    { class: "plan-form", novalidate: true, "aria-label": words.form },
    el(
      "div",
      { class: "plan-fields" },
      byChoice,
      days,
      grams,
      use,
      choiceField(words.acid, entriesOf(words.acids), start.acid, (acid) => change({ acid })),
      choiceField(words.filling, entriesOf(words.fillings), start.filling, (filling) => {
        filled(filling);
        change({ filling });
      }),
      water,
      ice,
      icePiece,
      hottest,
    ),
    el(
      "details",
      {},
      el("summary", {}, words.more),
      el(
        "div",
        { class: "plan-fields" },
        room,
        labelled(words.residual, field("residual"), words.residualHint),
        labelled(words.excess, field("excess"), words.excessHint),
      ),
    ),
  );
  element.addEventListener("submit", (event) => event.preventDefault());

  return { element, read, update, take };

  function read(): PlanWish | undefined {
    const now = draft();
    const wrong: NumberKey[] = [];
    const number = (key: NumberKey, isNeeded = false): number | undefined => {
      const value = typedNumber(now[key]);
      const isWrong = value === undefined ? isNeeded : Number.isNaN(value);
      const shown = fields.get(key);
      if (shown !== undefined)
        complain(shown, value !== undefined && Number.isNaN(value) ? words.notANumber : "");
      if (isWrong) wrong.push(key);
      return value;
    };
    const temperature = (key: "hottest" | "room"): number | undefined => {
      const typed = number(key);
      return typed === undefined ? undefined : shownFormats.typedTemperature_degC(typed);
    };
    const days = now.by === "days" ? number("days", true) : undefined;
    const grams = now.by === "grams" ? number("grams", true) : undefined;
    const water_g = now.filling === "ice" ? undefined : number("water", now.filling === "water-and-ice");
    const ice_g = now.filling === "water" ? undefined : number("ice", true);
    const excess = number("excess");
    const asked: PlanWish = {
      vessel: vesselId,
      acidForm: now.acid,
      ...defined("days", days),
      ...defined("sodiumBicarbonate_g", grams),
      ...defined("acidExcess_ratio", excess === undefined ? undefined : excess / 100),
      ...defined("water_kg", water_g === undefined ? undefined : water_g / 1000),
      ...defined("ice_kg", ice_g === undefined ? undefined : ice_g / 1000),
      ...defined("icePiece_mm", icePiece.hidden ? undefined : number("icePiece")),
      ...defined("residualLiquor_L", number("residual")),
      ...defined("room_degC", temperature("room")),
      ...defined("hottest_degC", temperature("hottest")),
      ...defined("use_gPerDay", number("use") ?? measured_gPerDay),
    };
    return wrong.length === 0 ? asked : undefined;
  }

  function update(chosen: Formats, measuredUse_gPerDay: number | undefined, neck: boolean): void {
    shownFormats = chosen;
    measured_gPerDay =
      measuredUse_gPerDay === undefined ? undefined : Math.round(100 * measuredUse_gPerDay) / 100;
    hasNeck = neck;
    filled(draft().filling);
    const units = chosen.temperatureUnit === "°C" ? "metric" : "imperial";
    if (units !== draft().units) {
      change({ units, hottest: rewritten("hottest", chosen), room: rewritten("room", chosen) });
    }
    const unit = chosen.temperatureUnit;
    say(water, words.waterMass, draft().filling === "water" ? words.waterHint : "");
    say(hottest, words.hottest(unit), words.hottestHint(chosen.temperature(usual.hottest_degC)));
    say(room, words.room(unit), words.roomHint(chosen.temperature(usual.room_degC)));
    const hint =
      measuredUse_gPerDay === undefined
        ? words.useHint.unknown
        : words.useHint.measured(`${chosen.number(measuredUse_gPerDay, 1)} g`);
    if (useHint.textContent !== hint) useHint.textContent = hint;
  }

  /** A temperature that was typed, in the other unit. */
  function rewritten(key: "hottest" | "room", chosen: Formats): string {
    const typed = typedNumber(draft()[key]);
    const shown = fields.get(key);
    if (typed === undefined || Number.isNaN(typed) || shown === undefined) return draft()[key];
    const there = otherUnit(typed, chosen.temperatureUnit);
    shown.value = String(Math.round(10 * there) / 10);
    return shown.value;
  }

  function take(sodiumBicarbonate_g: number): void {
    const typed = String(sodiumBicarbonate_g);
    const shown = fields.get("grams");
    if (shown !== undefined) shown.value = typed;
    const radio = byChoice.querySelector<HTMLInputElement>('input[value="grams"]');
    if (radio !== null) radio.checked = true;
    by("grams");
    change({ by: "grams", grams: typed });
  }
}

function otherUnit(typed: number, to: Formats["temperatureUnit"]): number {
  return to === "°C" ? temperatureToCelsius(typed, "degF") : temperatureFromCelsius(typed, "degF");
}

function say(labelledField: HTMLElement, label: string, hint: string): void {
  const [name, note] = [labelledField.querySelector("label"), labelledField.querySelector("small")];
  if (name !== null && name.textContent !== label) name.textContent = label;
  if (note !== null && note.textContent !== hint) note.textContent = hint;
}

function entriesOf<Key extends string>(
  texts: Readonly<Record<Key, string>>,
): readonly (readonly [Key, string])[] {
  return Object.entries(texts) as [Key, string][];
}

function defined<Key extends string>(key: Key, value: number | undefined): { readonly [K in Key]?: number } {
  return value === undefined ? {} : ({ [key]: value } as { readonly [K in Key]: number });
}
