import type { Bounded } from "../../lib/charge-plan/plan-request.js";
import { pressureFromBar, type PressureUnit } from "../../lib/quantities/units.js";

/** How the lines of a plan are set: labels in one column, text broken at its width. */
const width = 100;
const labelWidth = 24;

const shownUnits: readonly PressureUnit[] = ["bar", "kgf/cm2", "psi"];

/** A gauge pressure with its bounds at a temperature, in the units that gauges have. */
export function pressureInUnits(
  temperature_degC: number,
  pressureGauge_bar: number,
  bounds: { readonly lowGauge_bar: number; readonly highGauge_bar: number },
): string {
  const columns = shownUnits.map((unit) => {
    const digits = unit === "psi" ? 0 : 1;
    const [value = "", low = "", high = ""] = [
      pressureGauge_bar,
      bounds.lowGauge_bar,
      bounds.highGauge_bar,
    ].map((pressure_bar) => pressureFromBar(pressure_bar, unit).toFixed(digits));
    return `${value} (${low} to ${high}) ${unit}`;
  });
  return `${temperature_degC.toFixed(0).padStart(2)} degC  ${columns.join("   ")}`;
}

/** A gauge pressure without bounds, in the same units. Never rounded up: it may be a plate's. */
export function onePressureInUnits(pressureGauge_bar: number): string {
  return shownUnits
    .map((unit) => {
      const scale = unit === "psi" ? 1 : 10;
      const shown = Math.floor(pressureFromBar(pressureGauge_bar, unit) * scale + 1e-9) / scale;
      return `${shown.toFixed(unit === "psi" ? 0 : 1)} ${unit}`;
    })
    .join("   ");
}

export function row(label: string, text: string): string {
  return `  ${label.padEnd(labelWidth)}${text}`;
}

export function bounded(amount: Bounded, unit: string, digits: number): string {
  const high = Number.isFinite(amount.high) ? amount.high.toFixed(digits) : "no end";
  return `${amount.value.toFixed(digits)} ${unit} (${amount.low.toFixed(digits)} to ${high})`;
}

export function money(amount: number, currency: string): string {
  return `${amount.toFixed(2)} ${currency}`.trimEnd();
}

export function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}

export function wrapped(text: string, lead: string): readonly string[] {
  const lines: string[] = [];
  let line = lead;
  for (const word of text.split(" ")) {
    if (line.length + word.length > width && line.trim() !== "") {
      lines.push(line.trimEnd());
      line = " ".repeat(lead.length);
    }
    line += `${word} `;
  }
  return [...lines, line.trimEnd()];
}
