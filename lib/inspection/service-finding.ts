import type { Finding } from "./finding.js";

/** How a service manager watches over the daemon. */
export type ServiceView =
  | { readonly kind: "none" }
  | {
      readonly kind: "told";
      readonly watchdog_s: number | undefined;
      /** Since the watchdog was last fed; undefined before the first time. */
      readonly fedBefore_s: number | undefined;
    };

export function serviceFinding(service: ServiceView | undefined): Finding {
  const subject = "service";
  if (service === undefined)
    return { subject, verdict: "not known", told: "no daemon answers that could say" };
  if (service.kind === "none") {
    return {
      subject,
      verdict: "look at this",
      told: "the daemon runs under no service manager that it can tell, so nothing starts it anew: deploy/docs/install.md",
    };
  }
  const { watchdog_s, fedBefore_s } = service;
  if (watchdog_s === undefined) {
    return {
      subject,
      verdict: "look at this",
      told: "a service manager starts it anew when it ends, but not when it hangs: set WatchdogSec",
    };
  }
  const watched = `a watchdog of ${watchdog_s} s`;
  if (fedBefore_s === undefined || fedBefore_s > watchdog_s) {
    return {
      subject,
      verdict: "mend this first",
      told: `${watched}, which is not fed: look at the daemon's log`,
    };
  }
  return { subject, verdict: "good", told: `${watched}, fed ${Math.round(fedBefore_s)} s ago` };
}
