import type { LogFields, Logger } from "./ports/logger.js";
import type { SiteEvent, SiteStore } from "./ports/site-store.js";

/** What happened at the site: in the log, on the disk, and told to whoever listens. */
export interface SiteRecord {
  readonly record: (event: SiteEvent) => void;
  readonly onEvent: (listener: (event: SiteEvent) => void) => void;
}

export function createSiteRecord(ports: {
  readonly logger: Logger;
  readonly store: Pick<SiteStore, "recordEvent">;
}): SiteRecord {
  const listeners: ((event: SiteEvent) => void)[] = [];

  return {
    record(event) {
      const { area, reason, what } = event;
      ports.logger.info({ area, ...subjectOf(event), reason: reason === "" ? undefined : reason }, what);
      void ports.store.recordEvent(event);
      listeners.forEach((listener) => listener(event));
    },
    onEvent(listener) {
      listeners.push(listener);
    },
  };
}

const names = {
  alarm: "alarm",
  alert: "channel",
  charge: "vessel",
  lead: "tank",
  "leak test": "vessel",
  override: "valve",
  valve: "valve",
} as const;

/** What it is about, under the name that other lines have for it. */
function subjectOf({ area, subject, details }: SiteEvent): LogFields {
  if (subject === "") return {};
  const { kind } = details;
  if (kind === "vessel" || kind === "valve" || kind === "tank") return { [kind]: subject };
  return area in names ? { [names[area as keyof typeof names]]: subject } : { subject };
}
