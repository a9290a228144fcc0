import type { Candidate } from "../../lib/charge-plan/compare-candidates.js";
import type { Bounded, PlanRequest, TankUse } from "../../lib/charge-plan/plan-request.js";
import type { SiteConfig, VesselConfig } from "../config/config-schema.js";
import { quoted } from "../config/config-faults.js";

/** What was typed, word for word; each is read here, so that every complaint has one form. */
export interface PlanOptions {
  readonly config: string;
  readonly vessel?: string;
  readonly days?: string;
  readonly bicarbonate?: string;
  readonly acid?: string;
  readonly water?: string;
  readonly ice?: string;
  readonly hottest?: string;
  readonly room?: string;
  readonly usePerDay?: string;
  readonly candidates?: string;
  readonly priceBicarbonate?: string;
  readonly priceAcid?: string;
  readonly currency?: string;
  readonly json?: boolean;
}

/** An option that cannot be taken as it was typed. */
export class PlanOptionError extends Error {
  override readonly name = "PlanOptionError";
}

export type PlanQuestion =
  | { readonly kind: "one"; readonly request: PlanRequest }
  | {
      readonly kind: "several";
      readonly request: Omit<PlanRequest, "wanted">;
      readonly candidates: readonly Candidate[];
    };

export interface NamedVessel {
  readonly id: string;
  readonly vessel: VesselConfig;
}

/** A regulator needs this much above its working pressure to hold it: common practice, no source. */
const inletMargin_bar = 1;
/** A use that was stated without its error. */
const useError_ratio = 0.2;
const mostCandidates = 100;

/** The vessel that is meant: the one named, or the only one that is charged at home. */
export function vesselMeant(config: SiteConfig, name: string | undefined): NamedVessel {
  const generators = Object.entries(config.vessels).filter(([, vessel]) => vessel.kind === "generator");
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
  config: SiteConfig,
  { id, vessel }: NamedVessel,
  options: PlanOptions,
): PlanQuestion {
  const sizes = [options.days, options.bicarbonate, options.candidates].filter((size) => size !== undefined);
  if (sizes.length !== 1) throw new PlanOptionError("give one of --days, --bicarbonate and --candidates");
  if (options.water !== undefined && options.ice !== undefined) {
    throw new PlanOptionError("give --water or --ice, not both");
  }
  const mass_kg = maybe(options.water ?? options.ice, options.ice === undefined ? "--water" : "--ice");
  const room_degC = maybe(options.room, "--room");
  const hottest_degC = maybe(options.hottest, "--hottest");
  const use = options.usePerDay === undefined ? [] : tankUses(config, id, options.usePerDay);
  const request: Omit<PlanRequest, "wanted"> = {
    vessel: {
      volume_L: vessel.volume_L,
      ratedPressureGauge_bar: vessel.ratedPressureGauge_bar,
      reliefOpeningGauge_bar: vessel.reliefOpeningGauge_bar,
      leastInletGauge_bar: vessel.workingPressureGauge_bar + inletMargin_bar,
    },
    acidForm: acidForm(options.acid ?? "anhydrous"),
    ...(mass_kg === undefined
      ? {}
      : { filling: { kind: options.ice === undefined ? ("water" as const) : ("ice" as const), mass_kg } }),
    ...(room_degC === undefined ? {} : { room_degC }),
    ...(hottest_degC === undefined ? {} : { hottest_degC }),
    ...(use.length === 0 ? {} : { use }),
    ...prices(options),
  };
  if (options.candidates !== undefined) {
    return { kind: "several", request, candidates: candidatesOf(options.candidates) };
  }
  const days = maybe(options.days, "--days");
  if (days !== undefined) return { kind: "one", request: { ...request, wanted: { kind: "days", days } } };
  const sodiumBicarbonate_g = numberOf(options.bicarbonate ?? "", "--bicarbonate");
  return { kind: "one", request: { ...request, wanted: { kind: "bicarbonate", sodiumBicarbonate_g } } };
}

function numberOf(text: string, option: string): number {
  const value = Number(text);
  if (text.trim() === "" || !Number.isFinite(value)) {
    throw new PlanOptionError(
      `${option} is ${quoted(text)}; a number is needed, with a point for the decimals`,
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

function prices(options: PlanOptions): Pick<PlanRequest, "prices"> {
  const bicarbonate = maybe(options.priceBicarbonate, "--price-bicarbonate");
  const acid = maybe(options.priceAcid, "--price-acid");
  if (bicarbonate === undefined && acid === undefined) return {};
  if (bicarbonate === undefined || acid === undefined) {
    throw new PlanOptionError("give both --price-bicarbonate and --price-acid, each for a kilogram");
  }
  return {
    prices: {
      currency: options.currency ?? "",
      sodiumBicarbonatePricePerKg: bicarbonate,
      citricAcidPricePerKg: acid,
    },
  };
}

/** `2.5`, `2.5+-0.4` or `loach=1.5+-0.3,shrimp=0.8`; a use without a name is that of the whole vessel. */
function tankUses(config: SiteConfig, vesselId: string, text: string): readonly TankUse[] {
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

/** `100,120/90,140/107/0.5,140/107/0.5ice`: g of bicarbonate, g of acid, kg of water or ice. */
function candidatesOf(text: string): readonly Candidate[] {
  const labels = text.split(",").map((part) => part.trim());
  if (labels.length > mostCandidates) {
    throw new PlanOptionError(
      `--candidates has ${labels.length} recipes; at most ${mostCandidates} are compared`,
    );
  }
  return labels.map((label) => {
    const [bicarbonate = "", acid, water, ...rest] = label.split("/");
    if (rest.length > 0) {
      throw new PlanOptionError(
        `--candidates has ${quoted(label)}; a recipe is bicarbonate/acid/water, in g, g and kg, as 100/82/0.5`,
      );
    }
    const isIce = water?.endsWith("ice") ?? false;
    return {
      label,
      sodiumBicarbonate_g: numberOf(bicarbonate, "--candidates"),
      ...(acid === undefined ? {} : { citricAcid_g: numberOf(acid, "--candidates") }),
      ...(water === undefined
        ? {}
        : {
            filling: {
              kind: isIce ? ("ice" as const) : ("water" as const),
              mass_kg: numberOf(isIce ? water.slice(0, -"ice".length) : water, "--candidates"),
            },
          }),
    };
  });
}
