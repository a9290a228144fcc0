import { z } from "zod";
import { choiceValue, numberValue, textValue, topicValue } from "./config-values.js";
import { selectorValue } from "./sensor-schema.js";

/** To be written word for word by whoever runs a relay that does not drop by itself. */
export const acceptWithoutAutoOffSentence =
  "I accept that gas may flow without end when this machine, the broker and the network fail together";

const payloadAllowed = "a text of at most 1000 characters, in quotes where it looks like a number";

function payloadValue(about: string) {
  return textValue({ atMost: 1000, allowed: payloadAllowed, about });
}

function qosValue(about: string) {
  return z.union([z.literal(0), z.literal(1)], { error: "0 or 1" }).describe(about);
}

export const relaySchema = z.strictObject(
  {
    commandTopic: topicValue("The topic on which the relay takes commands."),
    payloadOn: payloadValue("What is sent to switch it on."),
    payloadOff: payloadValue("What is sent to switch it off."),
    payloadOnFor: payloadValue(
      "For a relay that takes 'on for so many seconds': used in place of payloadOn, with {seconds} replaced by autoOff_s.",
    ).exactOptional(),
    stateTopic: topicValue(
      "The topic on which the relay reports whether it is on. A relay that does not report cannot be used.",
    ),
    stateValue: selectorValue(
      "Where the state stands in a JSON report: a JSONPath or a JSON pointer. Left out: the payload is the state.",
    ).exactOptional(),
    stateOn: payloadValue("What it reports when it is on."),
    stateOff: payloadValue("What it reports when it is off."),
    statusQuery: z
      .strictObject(
        {
          topic: topicValue("The topic on which the relay can be asked."),
          payload: z
            .string({ error: payloadAllowed })
            .max(1000, { error: payloadAllowed })
            .describe("What asks it; may be empty."),
        },
        { error: "the keys topic and payload" },
      )
      .describe("How to ask the relay for its state, where it answers such a question.")
      .exactOptional(),
    qosOn: qosValue(
      "MQTT quality of service of the ON command. Default 0: one that is lost is repeated.",
    ).default(0),
    qosOff: qosValue("MQTT quality of service of the OFF command. Default 1.").default(1),
    confirmWithin_s: numberValue({
      from: 1,
      to: 60,
      unit: "seconds",
      about: "A command that the relay has not reported back within this time is sent again. Default 5.",
    }).default(5),
    autoOff_s: numberValue({
      from: 10,
      to: 300,
      unit: "seconds",
      about: "The relay's own timer, set in the relay: it drops by itself this long after the last ON.",
    }).exactOptional(),
    powerOnState: choiceValue(
      ["off", "on", "last"],
      "What the relay does when its power comes back, as set in the relay. It must be off.",
    ),
    acceptWithoutAutoOff: z
      .literal(acceptWithoutAutoOffSentence, {
        error: `this sentence, word for word: ${acceptWithoutAutoOffSentence}`,
      })
      .describe("Only for a relay without a timer of its own or that does not start off. Shown permanently.")
      .exactOptional(),
  },
  { error: "the keys of a relay: commandTopic, stateTopic and so on" },
);
