import { z } from "zod";
import { instantValue, numberValue, referenceValue } from "./config-values.js";

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
  pressureSensor: referenceValue("sensor", "The sensor of the pressure in the vessel.").exactOptional(),
  temperatureSensor: referenceValue(
    "sensor",
    "The sensor of the vessel's temperature, or of the room it stands in.",
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
      about: "Anhydrous citric acid, as weighed.",
    }),
    water_kg: numberValue({ from: 0.01, to: 40, unit: "kg", about: "Water, or ice, or both together." }),
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
    }),
    z.strictObject({ kind: z.literal("liquid"), ...vesselKeys }),
  ],
  { error: "one of generator, liquid" },
);
