import { spawn } from "node:child_process";
import type { ServiceView } from "../../lib/inspection/service-finding.js";
import type { Clock } from "../ports/clock.js";
import type { Logger } from "../ports/logger.js";

/** What a service manager that speaks sd_notify(3) is told. */
export interface ServiceManager {
  ready(): void;
  ending(): void;
  /** How it watches over the daemon. */
  view(): ServiceView;
}

/** The environment in which a service manager starts the daemon: sd_notify(3), sd_watchdog_enabled(3). */
export interface ServiceEnvironment {
  readonly NOTIFY_SOCKET?: string | undefined;
  readonly WATCHDOG_USEC?: string | undefined;
}

/** Asked this often within the watchdog's time, so that one late answer does not end the daemon. */
const feedsInWatchdog = 3;
const notifyProgram = "systemd-notify";

/**
 * Tells the service manager that the daemon runs, and feeds its watchdog for as long as control passes complete: a daemon that
 * lives but does not decide is killed, and its dead-man closes the valves. Does nothing where no service manager asked.
 * @param lastPass_monotonicMs  when the last control pass was completed; undefined before the first.
 * @param notify  resolves false where the message could not be handed over. Node opens no datagram sockets of the file
 *   system, so the service manager's own program carries it.
 */
export function createServiceManager(
  ports: { readonly clock: Pick<Clock, "sleep" | "monotonic_ms">; readonly logger: Logger },
  environment: ServiceEnvironment,
  lastPass_monotonicMs: () => number | undefined,
  notify: (assignments: readonly string[]) => Promise<boolean> = notifyByProgram,
): ServiceManager {
  const ended = new AbortController();
  const isAsked = environment.NOTIFY_SOCKET !== undefined && environment.NOTIFY_SOCKET !== "";
  const watchdog_us = Number(environment.WATCHDOG_USEC ?? Number.NaN);
  let toldFailure = false;
  let fed_monotonicMs: number | undefined;

  return {
    view: () =>
      isAsked
        ? {
            kind: "told",
            watchdog_s: watchdog_us > 0 ? watchdog_us / 1e6 : undefined,
            fedBefore_s:
              fed_monotonicMs === undefined
                ? undefined
                : (ports.clock.monotonic_ms() - fed_monotonicMs) / 1000,
          }
        : { kind: "none" },
    ready: () => {
      if (!isAsked) return;
      tell(["READY=1", "STATUS=control passes run"]);
      if (watchdog_us > 0) void feed(watchdog_us / 1000 / feedsInWatchdog);
    },
    ending: () => {
      ended.abort();
      if (isAsked) tell(["STOPPING=1", "STATUS=closing every valve"]);
    },
  };

  async function feed(every_ms: number): Promise<void> {
    let fedFor_monotonicMs: number | undefined;
    while (!ended.signal.aborted) {
      const passed_monotonicMs = lastPass_monotonicMs();
      if (passed_monotonicMs !== undefined && passed_monotonicMs !== fedFor_monotonicMs) {
        fedFor_monotonicMs = passed_monotonicMs;
        tell(["WATCHDOG=1"]);
        fed_monotonicMs = ports.clock.monotonic_ms();
      }
      await ports.clock.sleep(every_ms, ended.signal);
    }
  }

  function tell(assignments: readonly string[]): void {
    void notify(assignments).then((told) => {
      if (told || toldFailure) return;
      toldFailure = true;
      ports.logger.warn(
        { program: notifyProgram },
        "the service manager could not be told; it may start the daemon again",
      );
    });
  }
}

/** The program speaks to NOTIFY_SOCKET, which it has from our environment. */
function notifyByProgram(assignments: readonly string[]): Promise<boolean> {
  return new Promise((resolve) => {
    const child = spawn(notifyProgram, [...assignments], { stdio: "ignore" });
    child.on("error", () => resolve(false));
    child.on("exit", (code) => resolve(code === 0));
  });
}
