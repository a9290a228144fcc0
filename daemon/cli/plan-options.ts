import type { Candidate, ComparisonRequest } from "../../lib/charge-plan/compare-candidates.js";
import type {
  Bounded,
  Filling,
  PlannedVessel,
  PlanRequest,
  Prices,
  TankUse,
} from "../../lib/charge-plan/plan-request.js";
import type { SugarRequest } from "../../lib/charge-plan/plan-sugar.js";
import { quoted } from "../config/config-faults.js";
import type { VesselConfig } from "../config/config-schema.js";
import { configuredCharge } from "../config/configured-charge.js";
import type { PlanningConfig } from "../config/planning-config.js";

/** What was typed, word for word; each is read here, so that every complaint has one form. */
export interface PlanOptions {
  readonly config: string;
  readonly vessel?: string;
  readonly days?: string;
  readonly bicarbonate?: string;
  readonly sugar?: string;
  readonly acid?: string;
  readonly acidExcess?: string;
  readonly water?: string;
  readonly ice?: string;
  readonly icePiece?: string;
  readonly residual?: string;
  readonly workingFrom?: string;
  readonly hottest?: string;
  readonly room?: string;
  readonly usePerDay?: string;
  readonly candidates?: string;
  readonly priceBicarbonate?: string;
  readonly priceAcid?: string;
  readonly priceSugar?: string;
  readonly currency?: string;
  readonly json?: boolean;
}

type TypedOptions = Omit<PlanOptions, "config">;

/** An option that cannot be taken as it was typed. */
export class PlanOptionError extends Error {
  override readonly name = "PlanOptionError";
}

export type PlanQuestion =
  | {
      readonly kind: "one";
      readonly request: PlanRequest;
      /** A daily use stands without its error, which is then taken as a fifth. */
      readonly isUseErrorAssumed: boolean;
    }
  | { readonly kind: "sugar"; readonly request: SugarRequest }
  | {
      readonly kind: "several";
      readonly request: ComparisonRequest;
      readonly candidates: readonly Candidate[];
    };

export type GeneratorConfig = Extract<VesselConfig, { kind: "generator" }>;

export interface NamedVessel {
  readonly id: string;
  readonly vessel: GeneratorConfig;
}

/** A use that was stated without its error. */
const useError_ratio = 0.2;
const mostCandidates = 100;

/** The vessel that is meant: the one named, or the only one that is charged at home. */
export function vesselMeant(config: PlanningConfig, name: string | undefined): NamedVessel {
  const generators = Object.entries(config.vessels).flatMap(([id, vessel]) =>
    vessel.kind === "generator" ? [[id, vessel] as const] : [],
  );
  const names = generators.map(([id]) => id).join(", ");
  if (name === undefined) {
    const [only, second] = generators;
    if (only === undefined) {
      throw new PlanOptionError(
        "the config has no vessel of the kind generator, so there is nothing to charge",
      );
    }
    if (second !== undefined) throw new PlanOptionError(`say --vessel with one of ${names}`);
    return { id: only[0], vessel: only[1] };
  }
  const vessel = Object.hasOwn(config.vessels, name) ? config.vessels[name] : undefined;
  if (vessel === undefined) {
    throw new PlanOptionError(
      `there is no vessel ${quoted(name)}; the config has ${names || "none to charge"}`,
    );
  }
  if (vessel.kind !== "generator") {
    throw new PlanOptionError(
      `${quoted(name)} is a cylinder of liquid CO2: it is filled by those licensed for it, never charged at home`,
    );
  }
  return { id: name, vessel };
}

/** @throws PlanOptionError for what cannot be read or does not go together */
export function planQuestion(
  config: PlanningConfig,
  named: NamedVessel,
  options: TypedOptions,
): PlanQuestion {
  const { id, vessel } = named;
  const sizes = [options.days, options.bicarbonate, options.sugar, options.candidates].filter(
    (size) => size !== undefined,
  );
  if (sizes.length !== 1) {
    throw new PlanOptionError("give one of --days, --bicarbonate, --sugar and --candidates");
  }
  const shared = sharedRequest(vessel, options);
  if (options.sugar !== undefined) {
    refuseBeside("--sugar", options, ["acid", "acidExcess", "ice", "icePiece", "residual", "usePerDay"]);
    const water_kg = maybe(options.water, "--water");
    const sucrose_g = numberOf(options.sugar, "--sugar");
    return {
      kind: "sugar",
      request: { ...shared, sucrose_g, ...(water_kg === undefined ? {} : { water_kg }) },
    };
  }
  if (options.candidates === undefined)
    refuseBeside("an acid charge", options, ["workingFrom", "priceSugar"]);
  const acidExcess_ratio = maybe(options.acidExcess, "--acid-excess");
  const icePiece_mm = maybe(options.icePiece, "--ice-piece");
  const use = options.usePerDay === undefined ? [] : tankUses(config, id, options.usePerDay);
  const filling = fillingOf(options);
  if (icePiece_mm !== undefined && options.ice === undefined && options.candidates === undefined) {
    throw new PlanOptionError("--ice-piece goes with --ice");
  }
  const request: ComparisonRequest = {
    ...shared,
    acidForm: acidForm(options.acid ?? "anhydrous"),
    ...(acidExcess_ratio === undefined ? {} : { acidExcess_ratio }),
    ...(filling === undefined ? {} : { filling }),
    ...(icePiece_mm === undefined ? {} : { icePiece_mm }),
    ...residual(named, options),
    ...(use.length === 0 ? {} : { use }),
  };
  if (options.candidates !== undefined) {
    return { kind: "several", request, candidates: candidatesOf(options.candidates) };
  }
  const isUseErrorAssumed = (options.usePerDay ?? "+-").split(",").some((part) => !part.includes("+-"));
  const days = maybe(options.days, "--days");
  const wanted: PlanRequest["wanted"] =
    days === undefined
      ? { kind: "bicarbonate", sodiumBicarbonate_g: numberOf(options.bicarbonate ?? "", "--bicarbonate") }
      : { kind: "days", days };
  return { kind: "one", request: { ...request, wanted }, isUseErrorAssumed };
}

function sharedRequest(vessel: GeneratorConfig, options: TypedOptions) {
  const room_degC = maybe(options.room, "--room");
  const hottest_degC = maybe(options.hottest, "--hottest");
  const workingFromGauge_bar = maybe(options.workingFrom, "--working-from");
  const { neckWidth_mm } = vessel;
  const planned: PlannedVessel = {
    volume_L: vessel.volume_L,
    ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
    reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
    leastInletGauge_bar: vessel.workingPressureGauge_bar + vessel.endOfCharge.margin_bar,
    ...(neckWidth_mm === undefined ? {} : { neckWidth_mm }),
  };
  return {
    vessel: planned,
    ...(room_degC === undefined ? {} : { room_degC }),
    ...(hottest_degC === undefined ? {} : { hottest_degC }),
    ...(workingFromGauge_bar === undefined ? {} : { workingFromGauge_bar }),
    ...pricesOf(vessel, options),
  };
}

const optionNames = {
  acid: "--acid",
  acidExcess: "--acid-excess",
  ice: "--ice",
  icePiece: "--ice-piece",
  residual: "--residual",
  usePerDay: "--use-per-day",
  workingFrom: "--working-from",
  priceSugar: "--price-sugar",
} as const;

function refuseBeside(
  what: string,
  options: TypedOptions,
  names: readonly (keyof typeof optionNames)[],
): void {
  const beside = names.find((name) => options[name] !== undefined);
  if (beside !== undefined) {
    throw new PlanOptionError(`${optionNames[beside]} says nothing beside ${what}; leave it out`);
  }
}

function fillingOf(options: TypedOptions): Filling | undefined {
  const water_kg = maybe(options.water, "--water");
  const ice_kg = maybe(options.ice, "--ice");
  return filling(water_kg, ice_kg, (text) => text);
}

/** Both together, or the one that is there. A mass out of range is refused where the plan is made. */
function filling(
  water_kg: number | undefined,
  ice_kg: number | undefined,
  complaint: (text: string) => string,
): Filling | undefined {
  if (ice_kg === undefined) return water_kg === undefined ? undefined : { kind: "water", mass_kg: water_kg };
  if (water_kg === undefined) return { kind: "ice", mass_kg: ice_kg };
  if (!(water_kg > 0 && ice_kg > 0)) {
    throw new PlanOptionError(
      complaint("water and ice together are each above 0 kg; leave out the one that there is none of"),
    );
  }
  const mass_kg = water_kg + ice_kg;
  return { kind: "water-and-ice", mass_kg, ice_ratio: ice_kg / mass_kg };
}

function residual({ id, vessel }: NamedVessel, options: TypedOptions): Pick<PlanRequest, "residual"> {
  const volume_L = maybe(options.residual, "--residual");
  if (volume_L === undefined || volume_L === 0) return {};
  if (vessel.charge === undefined) {
    throw new PlanOptionError(
      `--residual needs the last charge, of which the liquor is: write it under vessels.${id}.charge in the config, ` +
        "or pour the liquor out and rinse",
    );
  }
  return { residual: { volume_L, lastCharge: configuredCharge(vessel.volume_L, vessel.charge) } };
}

const decimalNumber = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

function numberOf(text: string, option: string): number {
  const value = decimalNumber.test(text.trim()) ? Number(text) : Number.NaN;
  if (!Number.isFinite(value)) {
    const meant = /^\s*-?\d+,\d{1,2}\s*$/.test(text)
      ? `; did you mean ${text.trim().replace(",", ".")}?`
      : "";
    throw new PlanOptionError(
      `${option} is ${quoted(text)}; a number is needed, with a point for the decimals${meant}`,
    );
  }
  return value;
}

function maybe(text: string | undefined, option: string): number | undefined {
  return text === undefined ? undefined : numberOf(text, option);
}

function acidForm(text: string): PlanRequest["acidForm"] {
  if (text === "anhydrous") return "citric-acid-anhydrous";
  if (text === "monohydrate") return "citric-acid-monohydrate";
  throw new PlanOptionError(
    `--acid is ${quoted(text)}; allowed is anhydrous or monohydrate, as the bag says`,
  );
}

/** What was typed goes before what the config says. */
function pricesOf(vessel: GeneratorConfig, options: TypedOptions): { readonly prices?: Prices } {
  const typed = {
    bicarbonate: maybe(options.priceBicarbonate, "--price-bicarbonate"),
    acid: maybe(options.priceAcid, "--price-acid"),
    sugar: maybe(options.priceSugar, "--price-sugar"),
  };
  const known = vessel.prices;
  const bicarbonate = typed.bicarbonate ?? known?.sodiumBicarbonate_perKg;
  const acid = typed.acid ?? known?.citricAcid_perKg;
  const sugar = typed.sugar ?? known?.sugar_perKg;
  if (
    (bicarbonate === undefined) !== (acid === undefined) &&
    (typed.bicarbonate ?? typed.acid) !== undefined
  ) {
    throw new PlanOptionError(
      `give both --price-bicarbonate and --price-acid, each for a kilogram: that of ${acid === undefined ? "citric acid" : "sodium bicarbonate"} is missing`,
    );
  }
  if ((bicarbonate ?? acid ?? sugar) === undefined) return {};
  return {
    prices: {
      currency: options.currency ?? known?.currency ?? "",
      ...(bicarbonate === undefined ? {} : { sodiumBicarbonatePricePerKg: bicarbonate }),
      ...(acid === undefined ? {} : { citricAcidPricePerKg: acid }),
      ...(sugar === undefined ? {} : { sucrosePricePerKg: sugar }),
      ...(known?.cylinderFill === undefined ? {} : { cylinderFill: known.cylinderFill }),
    },
  };
}

/** `2.5`, `2.5+-0.4` or `loach=1.5+-0.3,shrimp=0.8`; a use without a name is that of the whole vessel. */
function tankUses(config: PlanningConfig, vesselId: string, text: string): readonly TankUse[] {
  const valves = Object.values(config.valves).filter((valve) => valve.vessel === vesselId);
  const feeds = valves.flatMap((valve) => valve.feeds);
  const parts = text.split(",").map((part) => part.trim());
  const [first = ""] = parts;
  if (parts.length === 1 && !first.includes("=")) {
    const whole = boundedUse(first);
    // A share says how one valve's gas is split; it says nothing across several valves.
    if (valves.length !== 1) return [{ tank: "all tanks", co2_gPerDay: whole }];
    return feeds.map(({ tank, share }) => ({
      tank,
      co2_gPerDay: { value: whole.value * share, low: whole.low * share, high: whole.high * share },
    }));
  }
  const known = [...new Set(feeds.map(({ tank }) => tank))];
  const seen = new Set<string>();
  return parts.map((part) => {
    const at = part.indexOf("=");
    const tank = at < 0 ? part : part.slice(0, at).trim();
    if (at < 0 || !known.includes(tank) || seen.has(tank)) {
      throw new PlanOptionError(
        `--use-per-day has ${quoted(part)}; each part is tank=grams with a tank on this vessel, once: ${known.join(", ") || "none"}`,
      );
    }
    seen.add(tank);
    return { tank, co2_gPerDay: boundedUse(part.slice(at + 1)) };
  });
}

function boundedUse(text: string): Bounded {
  const [amount = "", error, ...rest] = text.split("+-");
  if (rest.length > 0) throw new PlanOptionError(`--use-per-day has ${quoted(text)}; write grams+-error`);
  const value = numberOf(amount, "--use-per-day");
  const halfWidth = error === undefined ? useError_ratio * value : numberOf(error, "--use-per-day");
  if (!(value > 0) || !(halfWidth >= 0)) {
    throw new PlanOptionError(
      `--use-per-day has ${quoted(text)}; the use is above 0 g and its error not below`,
    );
  }
  return { value, low: Math.max(0, value - halfWidth), high: value + halfWidth };
}

/**
 * `100,120/90,140/107/0.5,140/107/0.5ice,140/107/0.3+0.2ice`: g of bicarbonate, g of acid, kg of water or ice;
 * `100sugar/0.9`: g of sugar, kg of water.
 */
function candidatesOf(text: string): readonly Candidate[] {
  const labels = text.split(",").map((part) => part.trim());
  refuseDecimalCommas(labels);
  if (labels.length > mostCandidates) {
    throw new PlanOptionError(
      `--candidates has ${labels.length} recipes; at most ${mostCandidates} are compared`,
    );
  }
  return labels.map((label) => candidateOf(label));
}

/** A comma parts recipes; where it looks like that of a decimal, two wrong recipes would come of one. */
function refuseDecimalCommas(labels: readonly string[]): void {
  labels.forEach((label, index) => {
    const before = labels[index - 1];
    if (before === undefined || !/\d$/.test(before)) return;
    const endsWithWater = /^\d+(\.\d+)?(\/\d+(\.\d+)?\/|sugar\/)\d+$/.test(before);
    const isRest = endsWithWater
      ? /^\d{1,2}(ice|\+.*)?$/.test(label)
      : /^[\d/]*\d$/.test(before) && /^(\d|0\d*)(\/.*|ice|\+.*|sugar.*)?$/.test(label);
    if (!isRest) return;
    throw new PlanOptionError(
      `--candidates has ${quoted(`${before},${label}`)}; a comma parts recipes and a point goes before decimals: did you mean ` +
        `${quoted(`${before}.${label}`)}? If they are two recipes, write the second with a point, as ` +
        quoted(label.replace(/^\d+/, (digits) => `${digits}.0`)),
    );
  });
}

function candidateOf(label: string): Candidate {
  const [first = "", ...rest] = label.split("/");
  if (first.endsWith("sugar")) {
    const [water, ...more] = rest;
    if (more.length > 0) {
      throw new PlanOptionError(
        `--candidates has ${quoted(label)}; a recipe of sugar is sugar/water, in g and kg, as 100sugar/0.9`,
      );
    }
    return {
      kind: "sugar-and-yeast",
      label,
      sucrose_g: numberOf(first.slice(0, -"sugar".length), "--candidates"),
      ...(water === undefined ? {} : { water_kg: numberOf(water, "--candidates") }),
    };
  }
  const [acid, water, ...more] = rest;
  if (more.length > 0) {
    throw new PlanOptionError(
      `--candidates has ${quoted(label)}; a recipe is bicarbonate/acid/water, in g, g and kg, as 100/82/0.5`,
    );
  }
  const filled = water === undefined ? undefined : candidateFilling(label, water);
  return {
    kind: "acid-and-bicarbonate",
    label,
    sodiumBicarbonate_g: numberOf(first, "--candidates"),
    ...(acid === undefined ? {} : { citricAcid_g: numberOf(acid, "--candidates") }),
    ...(filled === undefined ? {} : { filling: filled }),
  };
}

/** `0.5`, `0.5ice` or `0.3+0.2ice`. */
function candidateFilling(label: string, text: string): Filling | undefined {
  const parts = text.split("+");
  const isIce = (part: string): boolean => part.endsWith("ice");
  const ice = parts.filter(isIce);
  const water = parts.filter((part) => !isIce(part));
  if (ice.length > 1 || water.length > 1) {
    throw new PlanOptionError(`--candidates has ${quoted(label)}; write water and ice as 0.3+0.2ice`);
  }
  const kg = (part: string | undefined): number | undefined =>
    part === undefined
      ? undefined
      : numberOf(isIce(part) ? part.slice(0, -"ice".length) : part, "--candidates");
  return filling(kg(water[0]), kg(ice[0]), (words) => `--candidates has ${quoted(label)}; ${words}`);
}
