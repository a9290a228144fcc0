import type { Logger } from "./ports/logger.js";
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
      const { area, subject, reason, what } = event;
      ports.logger.info({ area, subject, reason }, what);
      void ports.store.recordEvent(event);
      listeners.forEach((listener) => listener(event));
    },
    onEvent(listener) {
      listeners.push(listener);
    },
  };
}
