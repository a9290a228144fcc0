import type { LeakTestVerdict, TemperatureEffect } from "./leak-test.js";

const careful =
  "Ventilate the room. Brush soapy water on the fittings with the vessel as it is; loosen and tighten nothing under pressure.";

const whyNot = {
  "too-short": "it has not been closed for long enough",
  "gauge-too-coarse": "the gauge is too coarse for so short a hold",
  "temperature-not-settled": "the temperature of the contents hides it",
  "no-readings": "too few pressures have been read since it began",
} as const;

/** A verdict in plain sentences; the last ones say what no such test can tell. */
export function leakTestSentences(
  verdict: LeakTestVerdict,
  effect: TemperatureEffect | undefined,
): readonly string[] {
  return [
    verdictSentence(verdict),
    ...(verdict.kind === "leaks" ? [careful] : []),
    ...(effect === undefined ? [] : [effectSentence(effect)]),
    ...(verdict.kind === "cannot-be-told" ? [] : limitSentences),
  ];
}

/** What lies outside of what the gauge can see. */
const limitSentences = [
  "The pressure does not say where: a leak at the vessel, in the regulator or through the seat of the closed valve looks the same. Bubbles at the counter while it is closed say the seat.",
  "The line behind the closed valve had no pressure, so it was not tested; nor is a loss that shows only while gas flows.",
] as const;

function verdictSentence(verdict: LeakTestVerdict): string {
  const hours = verdict.closed_h < 10 ? verdict.closed_h.toFixed(1) : verdict.closed_h.toFixed(0);
  switch (verdict.kind) {
    case "tight":
      return `Tight: it loses less than ${grams(verdict.below_gPerDay)} g a day (95 of 100 cases), by ${hours} h closed.`;
    case "leaks":
      return `It leaks: ${grams(verdict.leak_gPerDay)} g a day (95 of 100 cases: ${grams(verdict.low95_gPerDay)} to ${grams(verdict.high95_gPerDay)}), by ${hours} h closed.`;
    case "cannot-be-told": {
      const needed =
        verdict.needed_h === undefined
          ? verdict.why === "no-readings"
            ? ""
            : "; with this gauge no hold of up to ten days would tell it"
          : `; about ${verdict.needed_h} h closed would tell it`;
      return `It cannot be told after ${hours} h closed: ${whyNot[verdict.why]}${needed}.`;
    }
  }
}

function effectSentence({ change_K, onGauge_bar }: TemperatureEffect): string {
  const [way, moved] = change_K < 0 ? ["cooled", "lowers"] : ["warmed", "raises"];
  return `The contents ${way} by ${Math.abs(change_K).toFixed(1)} degrees meanwhile; that alone ${moved} the gauge by ${Math.abs(onGauge_bar).toFixed(2)} bar and is taken out.`;
}

function grams(value: number): string {
  return value < 1 ? value.toFixed(2) : value.toFixed(1);
}
