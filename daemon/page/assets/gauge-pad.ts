import { pressureFromBar, type PressureUnit } from "../../../lib/quantities/units.js";
import type { VesselPicture } from "../page-contract.js";
import { ageOf } from "./card-parts.js";
import { button, el, labelled, put } from "./dom.js";
import { entryOutcome } from "./entry-outcome.js";
import { complain, numberField, typedNumber } from "./fields.js";
import type { PageContext } from "./view.js";

/** Units of gauges' faces, with the places that can be read on them and the steps of the buttons. */
const faces = {
  bar: { places: 1, steps: [0.1, 0.5] },
  "kgf/cm2": { places: 1, steps: [0.1, 0.5] },
  psi: { places: 0, steps: [1, 5] },
  MPa: { places: 2, steps: [0.01, 0.05] },
} as const satisfies Partial<Record<PressureUnit, unknown>>;
type FaceUnit = keyof typeof faces;
const faceUnits = Object.keys(faces) as readonly FaceUnit[];
const unitKey = "fizzward-gauge-unit";

export interface GaugePad {
  readonly element: HTMLElement;
  readonly open: (vessel: VesselPicture, now_epochMs: number) => void;
}

/** A gauge that was read by eye, in two taps where it shows what stands there already: open, enter. */
export function gaugePad(context: PageContext, onKept: (text: string) => void): GaugePad {
  const { texts } = context;
  const words = texts.gauge;
  const heading = el("h2", { id: "gauge-heading" });
  const hint = el("p", { class: "quiet" });
  const input = el("input", {
    class: "pad-value",
    type: "text",
    inputmode: "none",
    autocomplete: "off",
    "aria-label": words.value,
  });
  const unitChoice = el(
    "select",
    { "aria-label": words.unit },
    faceUnits.map((unit) => el("option", { value: unit }, words.units[unit])),
  );
  const enter = el("button", { type: "submit", class: "main" }, words.enter);
  const outcome = entryOutcome(context, (text) => {
    dialog.close();
    outcome.clear();
    onKept(text);
  });
  const steps = el("div", { class: "pad-steps" });
  const keys = el(
    "div",
    { class: "pad-keys" },
    ["7", "8", "9", "4", "5", "6", "1", "2", "3"].map((digit) => key(digit)),
    key(separator()),
    key("0"),
    button("⌫", erase, { "aria-label": words.erase }),
  );
  const warmth = numberField("", () => complain(warmth, ""));
  const warmthPlace = el("div");
  const form = el(
    "form",
    { method: "dialog" },
    heading,
    hint,
    el("div", { class: "pad-line" }, input, unitChoice),
    steps,
    keys,
    el("details", {}, el("summary", {}, words.moreHeading), warmthPlace),
    outcome.element,
    el(
      "div",
      { class: "actions" },
      enter,
      button(words.cancel, () => dialog.close()),
    ),
  );
  const dialog = el("dialog", { class: "pad", "aria-labelledby": "gauge-heading" }, form);
  let vessel: VesselPicture | undefined;
  let opened_epochMs = 0;
  let typed_degC: (typed: number) => number = (typed) => typed;
  /** The first digit takes the place of what was proposed. */
  let isProposed = true;

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (vessel === undefined) return;
    const warmthTyped = typedNumber(warmth.value);
    complain(warmth, Number.isNaN(warmthTyped) ? context.texts.plan.notANumber : "");
    if (Number.isNaN(warmthTyped)) return;
    void outcome.send({
      kind: "gauge reading",
      vessel: vessel.vesselId,
      pressure: numberIn(input.value),
      unit: unitNow(),
      ...(warmthTyped === undefined ? {} : { temperature_degC: typed_degC(warmthTyped) }),
    });
  });
  input.addEventListener("input", () => {
    isProposed = false;
  });
  unitChoice.addEventListener("change", () => {
    try {
      localStorage.setItem(unitKey, unitNow());
    } catch {
      // It then holds for this visit.
    }
    propose();
  });

  return {
    element: dialog,
    open(asked, now_epochMs) {
      vessel = asked;
      opened_epochMs = now_epochMs;
      put(heading, words.heading(asked.vesselId));
      unitChoice.value = unitUsual();
      // The unit belongs to what is typed, however the page is set meanwhile.
      const { temperatureUnit, typedTemperature_degC } = context.formats();
      typed_degC = typedTemperature_degC;
      warmth.value = "";
      put(warmthPlace, labelled(words.temperature(temperatureUnit), warmth, words.temperatureHint));
      complain(warmth, "");
      outcome.clear();
      propose();
      dialog.showModal();
      input.focus();
      input.select();
    },
  };

  /** What was read last, as it was read; else what the gauge should show. */
  function propose(): void {
    const unit = unitNow();
    const { places, steps: sizes } = faces[unit];
    const shown = (gauge_bar: number): string => written(pressureFromBar(gauge_bar, unit), places);
    const { expectedGauge_bar: expected_bar, readByEye: last } = vessel ?? {};
    const lastShown =
      last === undefined
        ? undefined
        : last.asRead.unit === unit
          ? written(last.asRead.value, places)
          : shown(last.pressureGauge_bar);
    const expected = expected_bar === undefined ? undefined : shown(expected_bar);
    input.value = lastShown ?? expected ?? "";
    put(
      hint,
      last !== undefined && lastShown !== undefined
        ? words.lastRead(
            `${lastShown} ${words.units[unit]}`,
            ageOf(last.at_epochMs, opened_epochMs, context),
            expected === undefined ? undefined : `${expected} ${words.units[unit]}`,
          )
        : expected === undefined
          ? words.nothingExpected
          : words.expected,
    );
    isProposed = true;
    put(
      steps,
      [-sizes[1], -sizes[0], sizes[0], sizes[1]].map((step) =>
        button(`${step < 0 ? "−" : "+"}${written(Math.abs(step), places)}`, () => move(step)),
      ),
    );
  }

  function move(step: number): void {
    const before = numberIn(input.value);
    const after = Math.max(0, (Number.isFinite(before) ? before : 0) + step);
    input.value = written(after, faces[unitNow()].places);
    isProposed = false;
    context.announce(input.value);
  }

  function key(character: string): HTMLButtonElement {
    return button(character, () => {
      input.value = isProposed ? character : input.value + character;
      isProposed = false;
    });
  }

  function erase(): void {
    input.value = isProposed ? "" : input.value.slice(0, -1);
    isProposed = false;
  }

  function unitNow(): FaceUnit {
    return faceUnits.find((unit) => unit === unitChoice.value) ?? "bar";
  }

  function unitUsual(): FaceUnit {
    const asRead = faceUnits.find((unit) => unit === vessel?.readByEye?.asRead.unit);
    if (asRead !== undefined) return asRead;
    const usual = context.formats().pressureUnit;
    try {
      return faceUnits.find((unit) => unit === localStorage.getItem(unitKey)) ?? usual;
    } catch {
      return usual;
    }
  }

  function written(value: number, places: number): string {
    return value.toFixed(places).replace(".", separator());
  }

  function separator(): string {
    return context.formats().number(0.5, 1).charAt(1);
  }
}

function numberIn(text: string): number {
  return text.trim() === "" ? Number.NaN : Number(text.replace(",", "."));
}
