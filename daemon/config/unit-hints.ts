import { pressureToBar, pressureUnits, temperatureToCelsius } from "../../lib/quantities/units.js";
import type { KeyPath } from "./config-faults.js";

/** A unit in which a key is written, and how others are brought to it. */
interface KeyUnit {
  readonly words: string;
  /** Each spelling of a unit, and the value in the key's unit that one so written has. */
  readonly from: ReadonlyMap<string, (value: number) => number>;
}

type Factors = Readonly<Record<string, number>>;

const scaled = (factors: Factors, divisor = 1): KeyUnit["from"] =>
  new Map(Object.entries(factors).map(([name, factor]) => [name, (value) => (value * factor) / divisor]));

const pressures_bar: KeyUnit["from"] = new Map(
  (
    [
      ...pressureUnits.map((unit) => [unit, unit] as const),
      ["barg", "bar"],
      ["bar(g)", "bar"],
      ["bar gauge", "bar"],
      ["psig", "psi"],
      ["psi(g)", "psi"],
      ["lbf/in2", "psi"],
      ["kgf/cm\u00b2", "kgf/cm2"],
      ["kg/cm2", "kgf/cm2"],
      ["kg/cm\u00b2", "kgf/cm2"],
      ["kp/cm2", "kgf/cm2"],
    ] as const
  ).map(([name, unit]) => [name, (value) => pressureToBar(value, unit)]),
);

/** Pound and ounce avoirdupois, exact by definition. */
const masses_g = {
  g: 1,
  gr: 1,
  gram: 1,
  grams: 1,
  mg: 1e-3,
  kg: 1e3,
  kilogram: 1e3,
  kilograms: 1e3,
  lb: 453.59237,
  lbs: 453.59237,
  pound: 453.59237,
  pounds: 453.59237,
  oz: 28.349523125,
  ounce: 28.349523125,
  ounces: 28.349523125,
};

/** A gallon or a pint is not the same everywhere, so neither is here. */
const volumes_L = {
  L: 1,
  l: 1,
  litre: 1,
  litres: 1,
  liter: 1,
  liters: 1,
  dm3: 1,
  ml: 1e-3,
  mL: 1e-3,
  cl: 1e-2,
  cL: 1e-2,
  dl: 0.1,
  dL: 0.1,
  cm3: 1e-3,
  "cm\u00b3": 1e-3,
  ccm: 1e-3,
  cc: 1e-3,
  m3: 1e3,
  "m\u00b3": 1e3,
};

const lengths_mm = { mm: 1, cm: 10, m: 1e3, in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4 };

const times_s = {
  s: 1,
  sec: 1,
  second: 1,
  seconds: 1,
  ms: 1e-3,
  min: 60,
  mins: 60,
  minute: 60,
  minutes: 60,
  h: 3600,
  hr: 3600,
  hour: 3600,
  hours: 3600,
  d: 86400,
  day: 86400,
  days: 86400,
  week: 604800,
  weeks: 604800,
};

const temperatures_degC: KeyUnit["from"] = new Map(
  (
    [
      ["degC", "degC"],
      ["\u00b0C", "degC"],
      ["C", "degC"],
      ["celsius", "degC"],
      ["degF", "degF"],
      ["\u00b0F", "degF"],
      ["F", "degF"],
      ["fahrenheit", "degF"],
      ["K", "K"],
      ["kelvin", "K"],
    ] as const
  ).map(([name, unit]) => [name, (value) => temperatureToCelsius(value, unit)]),
);

const parts: KeyUnit = { words: "as a share of 1", from: scaled({ "%": 0.01, percent: 0.01 }) };

/** By the last part of a key's name. */
const unitsOfKeys: Readonly<Record<string, KeyUnit>> = {
  bar: { words: "in bar", from: pressures_bar },
  L: { words: "in litres", from: scaled(volumes_L) },
  g: { words: "in g", from: scaled(masses_g) },
  kg: { words: "in kg", from: scaled(masses_g, 1000) },
  mm: { words: "in mm", from: scaled(lengths_mm) },
  degC: { words: "in degrees Celsius", from: temperatures_degC },
  s: { words: "in seconds", from: scaled(times_s) },
  min: { words: "in minutes", from: scaled(times_s, 60) },
  h: { words: "in hours", from: scaled(times_s, 3600) },
  days: { words: "in days", from: scaled(times_s, 86400) },
  mgPerL: { words: "in mg/L", from: scaled({ "mg/L": 1, "mg/l": 1, ppm: 1, "g/L": 1e3, "g/l": 1e3 }) },
  dKH: { words: "in German degrees (dKH)", from: scaled({ dKH: 1, "\u00b0dKH": 1, dH: 1, "\u00b0dH": 1 }) },
  uSPerCm: {
    words: "in uS/cm",
    from: scaled({ "uS/cm": 1, "\u00b5S/cm": 1, "\u03bcS/cm": 1, "mS/cm": 1e3 }),
  },
  gPerKg: { words: "in g/kg", from: scaled({ "g/kg": 1, "\u2030": 1, ppt: 1, psu: 1 }) },
  ppm: { words: "in ppm", from: scaled({ ppm: 1 }) },
  ratio: parts,
};

/** Plates and relief devices: what is written is never above what they say. */
const roundedDown = ["ratedPressureGauge_bar", "reliefOpeningGauge_bar"];

/**
 * What to do about a number that stands with a unit: its value in the unit of the key, or, where that is not certain, the
 * key's unit and no number. Undefined for what is no number with something behind it.
 */
export function remedyForUnit(
  text: string,
  path: KeyPath,
  sensorUnit: string | undefined,
): string | undefined {
  const given = /^([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s.,].*)$/u.exec(text.trim());
  if (given === null) return undefined;
  const [, digits = "", unit = ""] = given;
  const name = [...path].reverse().find((step) => typeof step === "string") ?? "";
  const known = unitOfKey(name, sensorUnit);
  if (known === undefined) return "write a number without a unit";
  const alone = `write the number ${known.words}, without its unit`;
  // 1,500 is one and a half in one country and one and a half thousand in the next.
  if (/,\d{3}$/.test(digits)) return alone;
  const value = Number(digits.replace(",", "."));
  const spelled = spelling(known.from, unit);
  const convert = spelled === undefined ? undefined : known.from.get(spelled);
  if (convert === undefined) return alone;
  const converted = convert(value);
  if (Math.abs(converted - value) <= 1e-12 * Math.abs(value)) {
    return `write the number alone: ${digits.replace(",", ".")}`;
  }
  const written = fourDigits(converted, roundedDown.includes(name));
  return `${digits.replace(",", ".")} ${unit} is ${written} ${known.words.replace(/^(in|as) /, "")}: write ${written}`;
}

function unitOfKey(name: string, sensorUnit: string | undefined): KeyUnit | undefined {
  if (name === "share") return parts;
  if (/^pH/.test(name)) return { words: "on the pH scale", from: scaled({ pH: 1, ph: 1 }) };
  const suffix = name.slice(name.lastIndexOf("_") + 1);
  if (suffix !== name && Object.hasOwn(unitsOfKeys, suffix)) return unitsOfKeys[suffix];
  // A span or a shift of a temperature does not turn as the temperature itself does, so a sensor's own is only named.
  return sensorUnit === undefined
    ? undefined
    : { words: `in ${sensorUnit}`, from: scaled({ [sensorUnit]: 1 }) };
}

/** As it stands, or in another case; "m" and "M" are a factor of 10^9 apart and stay as they are. */
function spelling(from: KeyUnit["from"], unit: string): string | undefined {
  if (from.has(unit)) return unit;
  if (/^m/i.test(unit) && !/^min/i.test(unit)) return undefined;
  return [...from.keys()].find((name) => name.toLowerCase() === unit.toLowerCase());
}

function fourDigits(value: number, isRoundedDown: boolean): string {
  if (!isRoundedDown || value === 0) return String(Number(value.toPrecision(4)));
  const scale = 10 ** (3 - Math.floor(Math.log10(Math.abs(value))));
  // What is a round number but for the last bit stays one.
  const whole = Math.floor(value * scale * (1 + 1e-12));
  return String(Number((whole / scale).toPrecision(4)));
}
