import { z } from "zod";
import {
  choiceValue,
  dateValue,
  instantValue,
  numberValue,
  referenceValue,
  textValue,
} from "./config-values.js";
import { refillSchema } from "./refill-schema.js";

const regulator = z.strictObject(
  {
    kind: choiceValue(["single-stage", "two-stage"], "How the regulator is built."),
    supplyPressureEffect_ratio: numberValue({
      from: 0,
      to: 0.2,
      unit: "",
      about:
        "Supply-pressure effect of the regulator as a whole: rise of the working pressure for each bar by which the inlet falls.",
    }).exactOptional(),
    setAtInletGauge_bar: numberValue({
      from: 0.2,
      to: 300,
      unit: "bar gauge",
      about: "The pressure at its inlet when the working pressure was set.",
    }).exactOptional(),
  },
  { error: "the keys of a regulator: kind and so on" },
);

const price = (about: string) => numberValue({ from: 0, to: 1e9, unit: "", about });

const prices = z.strictObject(
  {
    currency: textValue({
      atMost: 12,
      allowed: "a short text",
      about: "Currency of the prices, only shown.",
    }),
    sodiumBicarbonate_perKg: price("A kilogram of sodium bicarbonate.").exactOptional(),
    citricAcid_perKg: price("A kilogram of citric acid, in the form that is weighed.").exactOptional(),
    sugar_perKg: price("A kilogram of table sugar.").exactOptional(),
    cylinderFill: z
      .strictObject(
        {
          price: price("What filling a bought cylinder costs."),
          co2_kg: numberValue({ from: 0.01, to: 100, unit: "kg", about: "CO2 that is then in it." }),
        },
        { error: "price and co2_kg" },
      )
      .describe("A bought cylinder, for comparison.")
      .exactOptional(),
  },
  { error: "the keys of prices: currency and so on" },
);

export const endOfChargeDefaults = { margin_bar: 1, valve: "held-closed" } as const;

const endOfCharge = z.strictObject(
  {
    margin_bar: numberValue({
      from: 0.2,
      to: 5,
      unit: "bar",
      about:
        "A charge is at its end when the pressure in the vessel is this much above the working pressure. Default 1.",
    }).default(endOfChargeDefaults.margin_bar),
    valve: choiceValue(
      ["held-closed", "left-alone"],
      "What becomes of the valves on the vessel then. left-alone only warns, and an alarm says so for as long as that is written. Default held-closed.",
    ).default(endOfChargeDefaults.valve),
  },
  { error: "the keys of an end of a charge: margin_bar and valve" },
);

const vesselKeys = {
  volume_L: numberValue({ from: 0.1, to: 50, unit: "litres", about: "Inner volume of the empty vessel." }),
  ratedPressureGauge_bar: numberValue({
    from: 1,
    to: 400,
    unit: "bar gauge",
    about: "The pressure for which the vessel is rated, from its plate. Without it no charge is planned.",
  }).exactOptional(),
  reliefOpeningGauge_bar: numberValue({
    from: 1,
    to: 400,
    unit: "bar gauge",
    about: "The pressure at which its relief device opens. Without it no charge is planned.",
  }).exactOptional(),
  workingPressureGauge_bar: numberValue({
    from: 0.2,
    to: 10,
    unit: "bar gauge",
    about: "The pressure behind the regulator, to which it is set.",
  }),
  regulator: regulator.describe("The regulator behind the vessel.").exactOptional(),
  prices: prices.describe("What gas costs, so that a plan can tell.").exactOptional(),
  neckWidth_mm: numberValue({
    from: 1,
    to: 500,
    unit: "mm",
    about: "Inner width of the vessel's neck, through which ice must pass.",
  }).exactOptional(),
  pressureSensor: referenceValue("sensor", "The sensor of the pressure in the vessel.").exactOptional(),
  temperatureSensor: referenceValue(
    "sensor",
    "The sensor of the vessel's temperature, or of the room it stands in.",
  ).exactOptional(),
  massSensor: referenceValue(
    "sensor",
    "The scale on which the vessel stands: what has left it is weighed.",
  ).exactOptional(),
  outletPressureSensor: referenceValue(
    "sensor",
    "The sensor of the pressure behind the regulator: it sees a surge begin.",
  ).exactOptional(),
  endOfCharge: endOfCharge
    .describe("When a charge counts as used up, and what its valves then do.")
    .prefault({}),
  retestBy: dateValue("The date by which it must be tested again, from its plate.").exactOptional(),
  reliefDeviceBy: dateValue(
    "The date by which its relief device must be replaced or tested, from the device.",
  ).exactOptional(),
  roomCo2Sensor: referenceValue(
    "sensor",
    "The sensor of CO2 in the air of the room it stands in. From 5000 ppm on gas is held off, from 15000 ppm on its valves trip.",
  ).exactOptional(),
};

const charge = z.strictObject(
  {
    sodiumBicarbonate_g: numberValue({
      from: 1,
      to: 5000,
      unit: "g",
      about: "Sodium bicarbonate, as weighed.",
    }),
    citricAcidAnhydrous_g: numberValue({
      from: 1,
      to: 5000,
      unit: "g",
      about: "Anhydrous citric acid, as weighed. This or citricAcidMonohydrate_g.",
    }).exactOptional(),
    citricAcidMonohydrate_g: numberValue({
      from: 1,
      to: 5000,
      unit: "g",
      about: "Citric acid monohydrate, as weighed. This or citricAcidAnhydrous_g.",
    }).exactOptional(),
    water_kg: numberValue({ from: 0.01, to: 40, unit: "kg", about: "Water, or ice, or both together." }),
    closedWith: choiceValue(["water", "ice"], "What the water was put in as. Default water.").default(
      "water",
    ),
    residualLiquor_L: numberValue({
      from: 0,
      to: 20,
      unit: "litres",
      about: "Liquor of the charge before that was left in. Default 0.",
    }).exactOptional(),
    sealedAt_degC: numberValue({
      from: -20,
      to: 50,
      unit: "degC",
      about: "Temperature of the vessel when it was closed.",
    }),
    closedAt: instantValue("When it was closed."),
  },
  { error: "the keys of a charge: sodiumBicarbonate_g and so on" },
);

export const vesselSchema = z.discriminatedUnion(
  "kind",
  [
    z.strictObject({
      kind: z.literal("generator"),
      ...vesselKeys,
      charge: charge.describe("What was put in at the last filling.").exactOptional(),
      refill: refillSchema.describe("When it is refilled, and with what.").prefault({}),
    }),
    z.strictObject({ kind: z.literal("liquid"), ...vesselKeys }),
  ],
  { error: "one of generator, liquid" },
);
