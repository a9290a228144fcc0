import { z } from "zod";
import type { SuppliedCharge } from "../../lib/estimation/supply-trace.js";
import type { WatchedVessel } from "../../lib/supply-watch/supply-watch.js";
import { isTimeZone } from "../../lib/schedule/civil-time.js";
import { instantFromText } from "./instant-text.js";

/** A charge file that cannot be used: each fault with the key that it belongs to. */
export class ChargeFileError extends Error {
  override readonly name = "ChargeFileError";

  constructor(readonly faults: readonly { readonly key: string; readonly what: string }[]) {
    super(faults.map(({ key, what }) => (key === "" ? what : `${key}: ${what}`)).join("\n"));
  }
}

const clock = /^([01]\d|2[0-3]):[0-5]\d$/;
const windowSchema = z.strictObject({
  opens: z.string().regex(clock, { error: "no time of day from 00:00 to 23:59" }),
  closes: z
    .string()
    .refine((text) => clock.test(text) || text === "24:00", { error: "no time of day from 00:00 to 24:00" }),
});

const chargeSchema = z
  .strictObject({
    citricAcidAnhydrous_g: z.number().positive().max(110_000).optional(),
    citricAcidMonohydrate_g: z.number().positive().max(110_000).optional(),
    sodiumBicarbonate_g: z.number().positive().max(110_000),
    water_kg: z.number().positive().max(50),
    vesselVolume_L: z.number().min(0.05).max(50),
    sealedAt_degC: z.number().min(-20).max(50),
    closedAt: z.string().refine((text) => instantFromText(text) !== undefined, {
      error: "no instant as ISO 8601 with an offset, such as 2026-03-29T14:00:00+02:00",
    }),
    closedWith: z.enum(["water", "ice"]),
    settled: z.boolean(),
    workingPressureGauge_bar: z.number().min(0).max(100),
    gaugeAccuracy_bar: z.number().min(0).max(5),
    timeZone: z.string().refine(isTimeZone, { error: "no IANA time zone, such as Europe/Berlin" }),
    windows: z.array(windowSchema).max(48),
    ratedGauge_bar: z.number().min(1).max(400).optional(),
    reliefOpensGauge_bar: z.number().min(1).max(400).optional(),
  })
  .refine(
    (charge) =>
      (charge.citricAcidAnhydrous_g === undefined) !== (charge.citricAcidMonohydrate_g === undefined),
    {
      path: ["citricAcidAnhydrous_g"],
      error: "give either citricAcidAnhydrous_g or citricAcidMonohydrate_g",
    },
  );

/** A charge from the text of its JSON file, with the plates of its vessel where they are stated. @throws ChargeFileError */
export function chargeFileFromText(text: string): {
  readonly charge: SuppliedCharge;
  readonly vessel: WatchedVessel;
} {
  let given: unknown;
  try {
    given = JSON.parse(text);
  } catch {
    throw new ChargeFileError([{ key: "", what: "the charge is not a JSON object" }]);
  }
  const parsed = chargeSchema.safeParse(given);
  if (!parsed.success) {
    throw new ChargeFileError(
      parsed.error.issues.flatMap((issue) =>
        issue.code === "unrecognized_keys"
          ? issue.keys.map((key) => ({ key: [...issue.path, key].join("."), what: "no such key" }))
          : [{ key: issue.path.join("."), what: inWords(issue, given) }],
      ),
    );
  }
  const { data } = parsed;
  const plates_bar = [data.ratedGauge_bar, data.reliefOpensGauge_bar].filter((bar) => bar !== undefined);
  const vessel =
    plates_bar.length === 0 ? {} : { rating: { ratedPressureGauge_bar: Math.min(...plates_bar) } };
  return { charge: suppliedFrom(data), vessel };
}

/** What a keeper can mend: the parser's own words for what is missing or of the wrong sort are a programmer's. */
function inWords(issue: z.core.$ZodIssue, given: unknown): string {
  if (issue.code !== "invalid_type" && issue.code !== "invalid_value") return issue.message;
  if (isMissing(given, issue.path)) return "is missing";
  if (issue.code === "invalid_value") return `must be one of ${issue.values.map(String).join(", ")}`;
  return `must be ${sorts[issue.expected] ?? issue.expected}`;
}

const sorts: Readonly<Record<string, string>> = {
  number: "a number, without quotes and unit",
  string: "a text in quotes",
  boolean: "true or false",
  array: "a list in [ ]",
  object: "an object in { }",
};

function isMissing(given: unknown, path: readonly PropertyKey[]): boolean {
  let part = given;
  for (const key of path) {
    if (typeof part !== "object" || part === null) return false;
    part = new Map<string, unknown>(Object.entries(part)).get(String(key));
  }
  return part === undefined;
}

function suppliedFrom(data: z.output<typeof chargeSchema>): SuppliedCharge {
  return {
    acid:
      data.citricAcidMonohydrate_g === undefined
        ? { kind: "citric-acid-anhydrous", mass_g: data.citricAcidAnhydrous_g ?? 0 }
        : { kind: "citric-acid-monohydrate", mass_g: data.citricAcidMonohydrate_g },
    sodiumBicarbonate_g: data.sodiumBicarbonate_g,
    water_kg: data.water_kg,
    vesselVolume_L: data.vesselVolume_L,
    sealedAt_degC: data.sealedAt_degC,
    closedAt_epochMs: instantFromText(data.closedAt) ?? 0,
    closedWith: data.closedWith,
    settled: data.settled,
    workingPressureGauge_bar: data.workingPressureGauge_bar,
    gaugeAccuracy_bar: data.gaugeAccuracy_bar,
    timeZone: data.timeZone,
    windows: data.windows.map(({ opens, closes }) => ({
      opens_min: minutes(opens),
      closes_min: minutes(closes),
    })),
  };
}

function minutes(timeOfDay: string): number {
  return Number(timeOfDay.slice(0, 2)) * 60 + Number(timeOfDay.slice(3));
}
