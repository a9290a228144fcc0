import { systemClock } from "../system/system-clock.js";
import type { BrokerAccess } from "../mqtt/broker-connection-options.js";
import { withDateWarnings } from "./check-dates.js";
import { formatFault } from "./config-faults.js";
import type { SiteConfig } from "./config-schema.js";
import { loadConfig } from "./load-config.js";
import { resolveAlertSecrets, type AlertSecrets } from "./resolve-alert-secrets.js";
import { resolvePageToken } from "./resolve-page-token.js";
import { resolveSecrets } from "./resolve-secrets.js";
import { readSecretFile } from "./secret-file.js";

export type LoadedSite =
  | {
      readonly kind: "ready";
      readonly config: SiteConfig;
      readonly access: BrokerAccess;
      readonly alertSecrets: AlertSecrets;
      readonly pageToken: string | undefined;
      readonly warnings: readonly string[];
    }
  | { readonly kind: "faulty"; readonly faults: readonly string[] };

/** The config and what the files that it names hold: all that a daemon begins with. */
export async function loadSite(path: string): Promise<LoadedSite> {
  const parsed = withDateWarnings(await loadConfig(path), systemClock.now_epochMs());
  if (parsed.kind === "invalid") {
    return { kind: "faulty", faults: parsed.faults.map((fault) => formatFault(path, fault)) };
  }
  const resolved = await resolveSecrets(parsed.config, readSecretFile, parsed.positionOf);
  const alerts = await resolveAlertSecrets(parsed.config, readSecretFile, process.env, parsed.positionOf);
  const page = await resolvePageToken(parsed.config, readSecretFile, parsed.positionOf);
  const warnings = [...parsed.warnings, ...resolved.warnings, ...alerts.warnings, ...page.warnings].map(
    (fault) => formatFault(path, fault),
  );
  const laterFaults = [...alerts.faults, ...page.faults];
  if (resolved.kind === "unreadable" || laterFaults.length > 0) {
    const faults = [...(resolved.kind === "unreadable" ? resolved.faults : []), ...laterFaults];
    return { kind: "faulty", faults: faults.map((fault) => formatFault(path, fault)) };
  }
  const { config } = parsed;
  const { password, ...certificates } = resolved.secrets;
  const { user, addresses, tls } = config.broker;
  return {
    kind: "ready",
    config,
    warnings,
    alertSecrets: alerts,
    pageToken: page.token,
    access: {
      addresses,
      ...(user === undefined ? {} : { user }),
      ...(password === undefined ? {} : { password }),
      ...(tls === undefined ? {} : { tls: { ...certificates, acceptUnverified: tls.acceptUnverified } }),
    },
  };
}
