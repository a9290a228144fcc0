import type { Override } from "../lib/control/decide.js";
import type { SiteCommands } from "./control-socket/site-commands.js";
import type { SiteStatus } from "./site-status.js";

/** What somebody who is not at this machine wishes of a valve. */
export interface RemoteWish {
  readonly valveId: string;
  readonly tankIds: readonly string[];
  readonly action: Override["action"];
  /** Undefined: the wish of this action ends. */
  readonly until_epochMs: number | undefined;
}

/** Takes a wish from afar. @returns why it was refused, or undefined */
export function takeRemoteWish(
  site: {
    readonly commands: Pick<SiteCommands, "remoteOverride" | "endRemoteOverride">;
    readonly status: () => SiteStatus | undefined;
  },
  { valveId, tankIds, action, until_epochMs }: RemoteWish,
): string | undefined {
  if (until_epochMs === undefined) return site.commands.endRemoteOverride(valveId, action);
  if (action === "open") {
    const cause = tripOf(site.status(), valveId, tankIds);
    if (cause !== undefined) {
      return `it is tripped (${cause}); it is re-armed at the daemon's own machine only`;
    }
  }
  return site.commands.remoteOverride({ valveId, action, until_epochMs, source: "remote" });
}

function tripOf(
  status: SiteStatus | undefined,
  valveId: string,
  tankIds: readonly string[],
): string | undefined {
  if (status === undefined) return "no control pass has run yet";
  return status.trips.find(({ subject }) =>
    subject.kind === "valve" ? subject.id === valveId : tankIds.includes(subject.id),
  )?.cause;
}
