import { instantFromText } from "../../lib/journal/entry-instant.js";
import { isCivilDate } from "../../lib/schedule/civil-time.js";
import { localTimeWithOffset } from "./journal-words.js";

export type TimeRead =
  | { readonly kind: "read"; readonly at_epochMs: number }
  | { readonly kind: "refused"; readonly reason: string };

/** The instant that a person wrote, in the site's local time where nothing else is said; or why there is none. */
export function readWrittenTime(text: string, timeZone: string): TimeRead {
  const written = instantFromText(text, timeZone);
  const say = (at_epochMs: number): string => localTimeWithOffset(at_epochMs, timeZone);
  const refused = (reason: string): TimeRead => ({ kind: "refused", reason });
  switch (written.kind) {
    case "instant":
      return { kind: "read", at_epochMs: written.at_epochMs };
    case "twice":
      return refused(
        `${text} comes twice, as the clocks go back; write ${say(written.earlier_epochMs)} or ${say(written.later_epochMs)}`,
      );
    case "never":
      return refused(
        `${text} does not exist, as the clocks go forward to ${say(written.change_epochMs)} over it`,
      );
    case "not understood":
      return refused(
        `the time "${text}" is not understood; write 2026-05-01T18:00, which is local, or 2026-05-01T18:00+02:00`,
      );
  }
}

/** The same for the beginning of a list, which may be a day: its first instant. */
export function readBeginning(text: string, timeZone: string): TimeRead {
  if (!isCivilDate(text)) return readWrittenTime(text, timeZone);
  const midnight = instantFromText(`${text}T00:00`, timeZone);
  switch (midnight.kind) {
    case "instant":
      return { kind: "read", at_epochMs: midnight.at_epochMs };
    case "twice":
      return { kind: "read", at_epochMs: midnight.earlier_epochMs };
    case "never":
      return { kind: "read", at_epochMs: midnight.change_epochMs };
    case "not understood":
      return { kind: "refused", reason: `the day "${text}" is not understood` };
  }
}
