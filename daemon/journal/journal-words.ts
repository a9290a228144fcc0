import { factSaid } from "../../lib/journal/fact-said.js";
import type { JournalEntry, JournalFact } from "../../lib/journal/journal-entry.js";
import { subjectOf } from "../../lib/journal/journal-entry.js";
import type { EntryRefusal, EntryRemark } from "../../lib/journal/judge-entry.js";
import { wallClockAt } from "../../lib/schedule/civil-time.js";
import { plainText } from "../../lib/told/plain-text.js";
import { unknownName } from "../unknown-name.js";

/** What a person calls the quantities; a name that is not here is said as it is. */
const quantityNames: Readonly<Record<string, string>> = {
  kh_dKH: "the KH",
  khUncertainty_dKH: "the uncertainty of the KH",
  pH: "the pH",
  roomCo2_ppm: "the CO2 of the room's air",
  temperature_degC: "the temperature",
  changed_L: "the water changed",
  plannedBicarbonate_g: "the planned bicarbonate",
  plannedAcid_g: "the planned citric acid",
  bubbles_perMin: "the bubble count",
  pressureGauge_bar: "the pressure",
  outletGauge_bar: "the outlet pressure",
  vesselMass_g: "the weight of the vessel",
  sodiumBicarbonate_g: "the sodium bicarbonate",
  citricAcid_g: "the citric acid",
  water_kg: "the water",
  ice_kg: "the ice",
  residualLiquor_L: "the liquor left in",
  sealedAt_degC: "the temperature at closing",
};

/** Date and time on the site's wall clock: "2026-05-01 18:00". */
export function localTime(at_epochMs: number, timeZone: string): string {
  const { date, timeOfDay } = wallClockAt(at_epochMs, timeZone);
  return `${date} ${timeOfDay.slice(0, 5)}`;
}

/** The same with its distance from UTC, which names one of the two instants of a fold: "2026-10-25T02:30+02:00". */
export function localTimeWithOffset(at_epochMs: number, timeZone: string): string {
  const { date, timeOfDay, offset_min } = wallClockAt(at_epochMs, timeZone);
  const distance = Math.abs(offset_min);
  const digits = (value: number): string => String(value).padStart(2, "0");
  const sign = offset_min < 0 ? "-" : "+";
  return `${date}T${timeOfDay.slice(0, 5)}${sign}${digits(Math.floor(distance / 60))}:${digits(distance % 60)}`;
}

/** One line of the journal: number, local time, subject, fact, note. */
export function entryLine(entry: JournalEntry, timeZone: string): string {
  const { entryId, at_epochMs, fact, note, source, withdrawn } = entry;
  return [
    String(entryId).padStart(4),
    localTime(at_epochMs, timeZone),
    subjectOf(fact).id,
    factInWords(fact),
    ...(note === "" ? [] : [`"${note}"`]),
    ...(source === "remote" ? ["from afar"] : []),
    ...(withdrawn ? ["withdrawn"] : []),
  ].join("  ");
}

export function factInWords(fact: JournalFact): string {
  return plainText(factSaid(fact));
}

export function refusalInWords(refusal: EntryRefusal): string {
  switch (refusal.kind) {
    case "out of range": {
      const { quantity, value, unit, minimum, maximum } = refusal;
      const inUnit = unit === "" ? "" : ` ${unit}`;
      return `${quantityNames[quantity] ?? quantity} is ${twoPlaces(value)}${inUnit}; allowed is ${minimum} to ${maximum}${inUnit}`;
    }
    case "unusual": {
      const { quantity, value, unit, minimum, maximum } = refusal;
      const inUnit = unit === "" ? "" : ` ${unit}`;
      const usual = minimum === 0 ? `up to ${maximum}` : `${minimum} to ${maximum}`;
      return (
        `${quantityNames[quantity] ?? quantity} is ${twoPlaces(value)}${inUnit}; usual is ${usual}${inUnit} (common practice, no ` +
        'source). Measure again; where it is right, enter it with --sure (from afar: "sure": true)'
      );
    }
    case "unknown subject":
      return unknownName(refusal.subjectKind, refusal.given, refusal.known);
    case "in the future":
      return `that time lies ${spanInWords(refusal.ahead_min)} ahead; look at the date, and at this machine's clock`;
    case "too old":
      return `that was ${refusal.age_days} days ago; the journal takes what is up to ${refusal.most_days} days old`;
    case "contradictory":
      return refusal.reason;
  }
}

const nearPressure =
  "keep away from the vessel until it has cooled, loosen nothing under pressure, and follow the vessel's own " +
  "instructions or ask someone licensed for it";

export function remarkInWords(remark: EntryRemark, timeZone: string): string {
  switch (remark.kind) {
    case "unlike the last": {
      const { lastAt_epochMs } = remark;
      const before =
        lastAt_epochMs === undefined
          ? `the config's ${remark.last} ${remark.unit}`
          : `the last one, ${remark.last} ${remark.unit} of ${localTime(lastAt_epochMs, timeZone)}`;
      return `${quantityNames[remark.quantity] ?? remark.quantity} looks unlike ${before}; where it is a slip, withdraw it`;
    }
    case "not above the present pH":
      return (
        `a degassed pH lies above the tank's while it has CO2, and the probe shows ${remark.presentPh.toFixed(2)} now: it does ` +
        "not count as long as it does not; where it is a slip, withdraw it"
      );
    case "above the rating":
      return (
        `caution: that is above the ${remark.which} of the vessel, ${remark.limitGauge_bar} bar; ${nearPressure}` +
        // So far above, the figure of a gauge in psi or kPa is likelier; the caution comes first all the same.
        (remark.pressureGauge_bar > 2 * remark.limitGauge_bar
          ? "; look at the gauge's unit from afar: if it is not the one that you entered, withdraw this entry and enter it anew"
          : "")
      );
    case "far from the buffer":
      return (
        `this looks unlike the last calibration: it moves the probe by ${Math.abs(remark.shiftPh).toFixed(2)} pH in buffer ` +
        `${remark.buffer}; the probe stood in another buffer, or is at its end: where it is a slip, withdraw it`
      );
    case "little gas space":
      return (
        `caution: only ${remark.gasSpace_percent} % of the vessel is left to the gas, and a plan leaves at least ` +
        `${remark.least_percent} %; keep it cool, and ${nearPressure}`
      );
    case "strong charge":
      return (
        `caution: at ${remark.hottest_degC} degC this charge may reach ${twoDigits(remark.upperGauge_bar)} bar, and a plan ` +
        `stays below ${twoDigits(remark.allowedGauge_bar)}; keep the vessel cool, and ${nearPressure}`
      );
    case "acid out of proportion":
      return (
        `${twoPlaces(remark.acid_g)} g of acid is far from the ${remark.exact_g.toFixed(0)} g that the bicarbonate takes: what is ` +
        "left and how strong the charge gets is reckoned from it; where it is a slip, withdraw this entry and enter it anew"
      );
    case "pressure not foreseen":
      return `caution: the pressure of this charge cannot be foreseen (${remark.reason}); watch the gauge`;
  }
}

/** In the largest unit of which there are at least two. */
function spanInWords(span_min: number): string {
  if (span_min < 120) return `${span_min} min`;
  return span_min < 2880 ? `${Math.round(span_min / 60)} hours` : `${Math.round(span_min / 1440)} days`;
}

function twoPlaces(value: number): string {
  return String(Number(value.toFixed(2)));
}

function twoDigits(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(3))) : "more than any gas";
}
