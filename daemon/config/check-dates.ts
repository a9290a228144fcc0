import { type ClockChangeTouch, clockChangesTouching } from "../../lib/schedule/clock-change-check.js";
import { type ConfigFault, formatKeyPath, inFileOrder, type KeyPath } from "./config-faults.js";
import { parseConfig, type ParsedConfig, type ValidConfig } from "./load-config.js";

/** A year and a month, so that each yearly change of the clock is seen well before it comes. */
const lookAhead_days = 396;
const day_ms = 86_400_000;

/** `parseConfig`, and what depends on today's date: dosing windows that a clock change touches, a filling from the future. */
export function checkConfig(text: string, fileName: string, now_epochMs: number): ParsedConfig {
  return withDateWarnings(parseConfig(text, fileName), now_epochMs);
}

export function withDateWarnings(parsed: ParsedConfig, now_epochMs: number): ParsedConfig {
  if (parsed.kind === "invalid") return parsed;
  const dated = [...clockChangeWarnings(parsed, now_epochMs), ...futureCharges(parsed, now_epochMs)];
  return { ...parsed, warnings: inFileOrder([...parsed.warnings, ...dated]) };
}

function clockChangeWarnings(parsed: ValidConfig, now_epochMs: number): readonly ConfigFault[] {
  const { config } = parsed;
  return Object.entries(config.tanks).flatMap(([id, tank]) => {
    const touches = clockChangesTouching(
      tank,
      config.site.timeZone,
      now_epochMs,
      now_epochMs + lookAhead_days * day_ms,
    );
    return tank.photoperiods.flatMap((photoperiod, index) => {
      const own = touches.filter(
        ({ lightsOn, lightsOff }) => lightsOn === photoperiod.lightsOn && lightsOff === photoperiod.lightsOff,
      );
      return own.length === 0
        ? []
        : [
            warning(parsed, ["tanks", id, "photoperiods", index], {
              what: `has a dosing window that a change of the clock touches: ${own.map(describeTouch).join("; ")}`,
              allowed: "a window away from the night of the change, which is the same on every day",
              todo: "let it be if that suits the fish, or move the lights",
            }),
          ];
    });
  });
}

function describeTouch(touch: ClockChangeTouch): string {
  const { change, date, effects } = touch;
  const direction = change.shift_min > 0 ? "forward" : "back";
  return `the window of ${date} ${effects.join(", ")} (clock goes ${direction} ${Math.abs(change.shift_min)} min at ${change.wallClockBefore})`;
}

function futureCharges(parsed: ValidConfig, now_epochMs: number): readonly ConfigFault[] {
  return Object.entries(parsed.config.vessels).flatMap(([id, vessel]) => {
    if (vessel.kind !== "generator" || vessel.charge === undefined) return [];
    if (Date.parse(vessel.charge.closedAt) <= now_epochMs) return [];
    return [
      warning(parsed, ["vessels", id, "charge", "closedAt"], {
        what: `is ${vessel.charge.closedAt}, which is still to come`,
        allowed: "a time that has passed",
        todo: "correct it, or check the clock of this machine",
      }),
    ];
  });
}

function warning(
  parsed: ValidConfig,
  path: KeyPath,
  words: { readonly what: string; readonly allowed: string; readonly todo: string },
): ConfigFault {
  return { ...parsed.positionOf(path), keyPath: formatKeyPath(path), ...words };
}
