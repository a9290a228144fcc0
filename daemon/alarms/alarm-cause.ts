import type { AlarmCondition } from "../../lib/alarm/alarm-condition.js";
import { plainText } from "../../lib/told/plain-text.js";
import type { Said } from "../../lib/told/said.js";

/** The cause of an alarm, plain and with its quantities and dates as such. */
export function causeOf(
  sentence: Said,
  timeZone?: string,
): Required<Pick<AlarmCondition, "cause" | "causeSaid">> {
  return { cause: plainText(sentence, timeZone), causeSaid: sentence };
}
