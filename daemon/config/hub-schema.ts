import { z } from "zod";
import { textValue, topicValue } from "./config-values.js";

const segmentAllowed = "1 to 60 lower-case letters, digits and hyphens";

/** One level of a topic, as the Homie convention allows it ("Topic IDs"). */
function segmentValue(about: string) {
  return z
    .string({ error: segmentAllowed })
    .regex(/^[a-z0-9-]{1,60}$/, { error: segmentAllowed })
    .describe(`${about} ${segmentAllowed}.`);
}

const homie = z.strictObject(
  {
    domain: segmentValue("First level of every topic. Default homie.").default("homie"),
    deviceId: segmentValue(
      "The id of the site's own device, with which those of its vessels, valves and tanks begin. Default: the site's id.",
    ).exactOptional(),
  },
  { error: "the keys domain and deviceId; {} takes both defaults" },
);

const online = z.strictObject(
  {
    topic: topicValue("Where the hub says that it has come up."),
    payload: textValue({
      atMost: 200,
      allowed: "a text, in quotes where it looks like a number",
      about: "What it says then.",
    }),
  },
  { error: "the keys topic and payload" },
);

export const hubSchema = z.strictObject(
  {
    homie: homie
      .describe("The site as devices of the Homie 5 convention. {} takes all defaults. Default: none.")
      .exactOptional(),
    online: online
      .describe("When this message comes, everything is told to the hub again. Default: none.")
      .exactOptional(),
  },
  { error: "the keys homie and online" },
);
