import { el, labelled, put } from "./dom.js";
import { complain, listField, numberField, typedNumber } from "./fields.js";
import type { PageContext } from "./view.js";

type GaugeUnit = "bar" | "kgf/cm2" | "psi";
const units: readonly (readonly [GaugeUnit, string])[] = [
  ["bar", "bar"],
  ["kgf/cm2", "kgf/cm²"],
  ["psi", "psi"],
];

/** A gauge that was read by eye, told to the journal. */
export function gaugeForm({ texts, formats, send }: PageContext, vesselId: string): HTMLElement {
  const words = texts.charge.gauge;
  let unit: GaugeUnit = formats().pressureUnit;
  const shown = numberField("", () => complain(shown, ""));
  const warmth = numberField("", () => complain(warmth, ""));
  const answer = el("p", { role: "status" });
  const submit = el("button", { type: "submit" }, words.submit);
  const form = el(
    "form",
    { class: "gauge-form", novalidate: true, "aria-label": words.heading },
    el(
      "div",
      { class: "plan-fields" },
      labelled(words.pressure, shown),
      listField(words.unit, units, unit, (chosen) => (unit = chosen)),
      labelled(words.temperature(formats().temperatureUnit), warmth, words.temperatureHint),
    ),
    submit,
    answer,
  );
  const toldUnit = formats();
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void tell();
  });
  return el("details", { class: "card" }, el("summary", {}, words.heading), form);

  async function tell(): Promise<void> {
    const pressure = typedNumber(shown.value);
    const temperature = typedNumber(warmth.value);
    const isWrong = pressure === undefined || Number.isNaN(pressure);
    complain(shown, isWrong ? texts.plan.notANumber : "");
    complain(warmth, Number.isNaN(temperature) ? texts.plan.notANumber : "");
    if (isWrong || Number.isNaN(temperature)) return;
    submit.disabled = true;
    try {
      const told = await send("/api/journal", {
        kind: "gauge reading",
        vessel: vesselId,
        pressure,
        unit,
        ...(temperature === undefined
          ? {}
          : { temperature_degC: toldUnit.typedTemperature_degC(temperature) }),
      });
      put(answer, told.accepted ? words.kept(told.text) : words.notKept(told.reason));
      if (told.accepted) shown.value = "";
    } catch (error) {
      put(answer, words.notKept(error instanceof Error ? error.message : String(error)));
    } finally {
      submit.disabled = false;
    }
  }
}
