import type { DosingRule, Photoperiod } from "../schedule/dosing-windows.js";
import { pausesBefore } from "../schedule/pause-before.js";
import type { UsedLead } from "./tank-learning-state.js";

/** The different pauses of an ordinary week after which a tank is not as empty as after a night, the shortest first. */
export function shortPauses_min(
  rule: Pick<DosingRule, "photoperiods" | "earlyClose_min">,
): readonly number[] {
  const short = pausesBefore(rule).filter(({ isAfterTheNight }) => !isAfterTheNight);
  return [...new Set(short.map(({ pause_min }) => pause_min))].sort((a, b) => a - b);
}

/**
 * A tank's windows by the leads in use: the learnt one where a window begins after a night, its own after a shorter pause, and
 * the config's where none is learnt for such a pause. The very same rule where no lead is in use but the config's.
 */
export function ruleWithLead<Rule extends DosingRule>(rule: Rule, used: UsedLead | undefined): Rule {
  if (used === undefined) return rule;
  const leadOf = (pause_min: number): number =>
    used.afterPauses?.find((known) => known.pause_min === pause_min)?.lead_min ?? rule.lead_min;
  const photoperiods = pausesBefore(rule).map(
    ({ photoperiod, day, pause_min, isAfterTheNight }): Photoperiod => ({
      ...photoperiod,
      days: [day],
      lead_min: isAfterTheNight ? used.lead_min : leadOf(pause_min),
    }),
  );
  if (photoperiods.every(({ lead_min }) => lead_min === rule.lead_min)) return rule;
  return { ...rule, photoperiods };
}
