import {
  pressureFromBar,
  temperatureFromCelsius,
  temperatureToCelsius,
} from "../../../lib/quantities/units.js";

export type UnitSystem = "metric" | "imperial";
export type ClockForm = "auto" | "h12" | "h23";

export interface FormatChoice {
  readonly locale: string | undefined;
  readonly timeZone: string;
  readonly units: UnitSystem;
  readonly clock: ClockForm;
}

/** How values are written: by the reader's locale, in the site's time. Nothing is worked out here but units. */
export interface Formats {
  readonly pressure: (gauge_bar: number, places?: number) => string;
  readonly temperature: (temperature_degC: number, places?: number) => string;
  readonly mass: (mass_g: number, places?: number) => string;
  readonly volume: (volume_L: number, places?: number) => string;
  /** To be put on a scale: grams to a tenth, which every kitchen scale shows. */
  readonly weighed: (mass_g: number) => string;
  /** Tank CO2, two significant digits. */
  readonly co2: (co2_mgPerL: number) => string;
  /** The same without its unit. */
  readonly co2Figure: (co2_mgPerL: number) => string;
  readonly pH: (pH: number) => string;
  readonly number: (value: number, digits?: number) => string;
  /** With the digits that it was entered with, three at most. */
  readonly figure: (value: number) => string;
  readonly percent: (ratio: number) => string;
  /** Time of day; with the date where that is not today's. */
  readonly time: (at_epochMs: number, now_epochMs: number) => string;
  readonly timeOfDay: (at_epochMs: number) => string;
  readonly date: (at_epochMs: number) => string;
  /** With the year, where the past goes back further than one. */
  readonly fullDate: (at_epochMs: number) => string;
  readonly dateAndTime: (at_epochMs: number) => string;
  /** Of a date on a plate or in a calendar, as 2031-06-30. */
  readonly civilDate: (date: string) => string;
  /** A duration in its two largest units, rounded. */
  readonly span: (span_ms: number) => string;
  readonly pressureUnit: "bar" | "psi";
  readonly pressureIn: (gauge_bar: number) => number;
  readonly temperatureIn: (temperature_degC: number) => number;
  readonly temperatureUnit: "°C" | "°F";
  /** Of what was typed in the unit that is shown. */
  readonly typedTemperature_degC: (typed: number) => number;
  readonly volumeUnit: "L" | "gal";
  readonly typedVolume_L: (typed: number) => number;
}

const minute_ms = 60_000;
const gramsPerOunce = 28.349523125;
/** The US gallon of 231 cubic inches, exact. */
const litresPerGallon = 3.785411784;

export function createFormats({ locale, timeZone, units, clock }: FormatChoice): Formats {
  const hourCycle: Intl.DateTimeFormatOptions = clock === "auto" ? {} : { hourCycle: clock };
  const day: Intl.DateTimeFormatOptions = { weekday: "short", day: "numeric", month: "short" };
  const timeOfDay: Intl.DateTimeFormatOptions = { hour: "numeric", minute: "2-digit", ...hourCycle };
  const timeForm = new Intl.DateTimeFormat(locale, { timeZone, ...timeOfDay });
  const dayForm = new Intl.DateTimeFormat(locale, { timeZone, ...day });
  const bothForm = new Intl.DateTimeFormat(locale, { timeZone, ...day, ...timeOfDay });
  const fullForm = new Intl.DateTimeFormat(locale, { timeZone, dateStyle: "medium" });
  const civilForm = new Intl.DateTimeFormat(locale, { timeZone: "UTC", dateStyle: "medium" });
  const isMetric = units === "metric";
  const fixed = (value: number, digits: number): string =>
    new Intl.NumberFormat(locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(
      value,
    );
  const unitForm = (unit: "day" | "hour" | "minute"): Intl.NumberFormat =>
    new Intl.NumberFormat(locale, { style: "unit", unit, unitDisplay: "short", maximumFractionDigits: 0 });
  const forms = { day: unitForm("day"), hour: unitForm("hour"), minute: unitForm("minute") };
  const two = new Intl.NumberFormat(locale, { maximumSignificantDigits: 2 });
  const pressureIn = (gauge_bar: number): number =>
    isMetric ? gauge_bar : pressureFromBar(gauge_bar, "psi");
  const temperatureIn = (temperature_degC: number): number =>
    isMetric ? temperature_degC : temperatureFromCelsius(temperature_degC, "degF");

  return {
    pressureUnit: isMetric ? "bar" : "psi",
    temperatureUnit: isMetric ? "°C" : "°F",
    pressureIn,
    temperatureIn,
    typedTemperature_degC: (typed) => temperatureToCelsius(typed, isMetric ? "degC" : "degF"),
    volumeUnit: isMetric ? "L" : "gal",
    typedVolume_L: (typed) => (isMetric ? typed : Number((typed * litresPerGallon).toFixed(2))),
    // A psi is a fifteenth of a bar, an ounce some thirty grams: a digit less, a digit more.
    pressure: (gauge_bar, places = 1) =>
      isMetric
        ? `${fixed(gauge_bar, places)} bar`
        : `${fixed(pressureIn(gauge_bar), Math.max(0, places - 1))} psi`,
    temperature: (temperature_degC, places = 1) =>
      `${fixed(temperatureIn(temperature_degC), places)} ${isMetric ? "°C" : "°F"}`,
    mass: (mass_g, places = 0) =>
      isMetric ? `${fixed(mass_g, places)} g` : `${fixed(mass_g / gramsPerOunce, places + 1)} oz`,
    volume: (volume_L, places = 1) =>
      isMetric ? `${fixed(volume_L, places)} L` : `${fixed(volume_L / litresPerGallon, places)} gal`,
    figure: (value) => new Intl.NumberFormat(locale, { maximumFractionDigits: 3 }).format(value),
    weighed: (mass_g) =>
      isMetric ? `${fixed(mass_g, 1)} g` : `${fixed(mass_g, 1)} g (${fixed(mass_g / gramsPerOunce, 2)} oz)`,
    co2: (co2_mgPerL) => `${two.format(co2_mgPerL)} mg/L`,
    co2Figure: (co2_mgPerL) => two.format(co2_mgPerL),
    pH: (pH) => fixed(pH, 2),
    number: (value, digits = 0) => fixed(value, digits),
    percent: (ratio) =>
      new Intl.NumberFormat(locale, { style: "percent", maximumFractionDigits: 0 }).format(ratio),
    time: (at_epochMs, now_epochMs) =>
      dayForm.format(at_epochMs) === dayForm.format(now_epochMs)
        ? timeForm.format(at_epochMs)
        : bothForm.format(at_epochMs),
    timeOfDay: (at_epochMs) => timeForm.format(at_epochMs),
    date: (at_epochMs) => dayForm.format(at_epochMs),
    fullDate: (at_epochMs) => fullForm.format(at_epochMs),
    dateAndTime: (at_epochMs) => bothForm.format(at_epochMs),
    civilDate: (date) => civilForm.format(Date.parse(`${date}T00:00:00Z`)),
    span: (span_ms) => spanInWords(span_ms, forms),
  };
}

function spanInWords(
  span_ms: number,
  forms: Readonly<Record<"day" | "hour" | "minute", Intl.NumberFormat>>,
): string {
  const minutes = Math.max(0, Math.round(span_ms / minute_ms));
  if (minutes < 60) return forms.minute.format(minutes);
  if (minutes < 1440) {
    const rest = minutes % 60;
    const hours = forms.hour.format(Math.floor(minutes / 60));
    return rest === 0 ? hours : `${hours} ${forms.minute.format(rest)}`;
  }
  const hours = Math.round(minutes / 60);
  const days = forms.day.format(Math.floor(hours / 24));
  // Beyond three days nobody asks for the hour.
  return hours % 24 === 0 || hours >= 72 ? days : `${days} ${forms.hour.format(hours % 24)}`;
}
