import type { AlarmCondition } from "../lib/alarm/alarm-condition.js";

/** The config on disk could not be taken: the daemon goes on by the one before, which nobody may expect. */
export function refusedReloadConditions(reason: string | undefined): readonly AlarmCondition[] {
  if (reason === undefined) return [];
  return [
    {
      alarmId: "config",
      priority: "medium",
      subjects: [],
      cause: `the config was read again and cannot be taken: ${reason.slice(0, 500)}`,
      consequence:
        "The config that was in use before stays in use. At the next start the daemon refuses the one on disk, or goes by it.",
      whatToDo: "Run `check` on the config, correct it, and have it read again (SIGHUP).",
      allowableResponse_min: 1440,
      onDelay_s: 0,
      offDelay_s: 0,
      suppressedBy: [],
      latch: "none",
    },
  ];
}
