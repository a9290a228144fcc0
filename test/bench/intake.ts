/**
 * A process of its own that takes in the site's readings until so many have come: `node intake.js daemon|bare ADDRESS COUNT`.
 * "daemon": the daemon's bus, its sensor inbox and its store. "bare": an MQTT client that parses each message and no more. It
 * tells its parent how much computing of its main thread each message cost.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connectAsync } from "mqtt";
import { parseConfig } from "../../daemon/config/load-config.js";
import { createMqttMessageBus } from "../../daemon/mqtt/mqtt-message-bus.js";
import { createSensorInbox } from "../../daemon/sensor-inbox.js";
import { siteModelFrom } from "../../daemon/site-model.js";
import { SqliteSiteStore } from "../../daemon/store/sqlite-site-store.js";
import { createPinoLogger } from "../../daemon/system/pino-logger.js";
import { systemClock } from "../../daemon/system/system-clock.js";
import { computed_ms } from "./computed.js";
import { loadSensors, loadSiteYaml } from "./load-site.js";

const [, , kind = "", address = "", wanted = ""] = process.argv;
/** Until the compiler has seen enough. */
const warmUp = 20_000;
const count = Number(wanted);
const folder = mkdtempSync(join(tmpdir(), "fizzward-intake-"));
const configFile = join(folder, "site.yaml");
let taken = 0;
let beganComputed_ms = 0;

function take(): void {
  taken += 1;
  if (taken === warmUp) beganComputed_ms = computed_ms();
  if (taken === warmUp + count) end();
}

function end(): void {
  const each_us = ((computed_ms() - beganComputed_ms) * 1000) / count;
  process.send?.({ each_us }, () => {
    rmSync(folder, { recursive: true, force: true });
    process.exit(0);
  });
}

if (kind === "bare") {
  const client = await connectAsync(address, { protocolVersion: 5, clientId: "intake" });
  const last = new Map<string, number>();
  client.on("message", (topic, payload) => {
    const parsed = JSON.parse(payload.toString()) as { readonly value: number };
    last.set(topic, parsed.value);
    take();
  });
  await client.subscribeAsync(
    loadSensors.map(({ topic }) => topic),
    { qos: 0 },
  );
} else {
  const parsed = parseConfig(loadSiteYaml({ address, folder }), configFile);
  if (parsed.kind === "invalid") throw new Error(JSON.stringify(parsed.faults.slice(0, 3)));
  const logger = createPinoLogger({ level: "error", monotonic_ms: () => systemClock.monotonic_ms() });
  const bus = createMqttMessageBus({
    addresses: [address],
    clientId: "intake",
    keepalive_s: 10,
    clock: systemClock,
    logger,
    random: Math.random,
  });
  const store = new SqliteSiteStore(parsed.config.store, { clock: systemClock, logger });
  await store.start();
  createSensorInbox({ bus, store, clock: systemClock }, siteModelFrom(parsed.config).sensors);
  // After the inbox, which has judged and handed on the reading by then.
  for (const { topic } of loadSensors) bus.subscribe(topic, 0, take);
  await bus.start();
  while (bus.state().kind !== "connected") await systemClock.sleep(20);
}
process.send?.("ready");
