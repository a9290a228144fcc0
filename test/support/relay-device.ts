import { performance } from "node:perf_hooks";
import { connectAsync } from "mqtt";

export interface RelayChange {
  readonly state: "on" | "off";
  readonly at_ms: number;
  readonly by: "command" | "auto-off" | "power cut";
}

/** A relay on a real broker: takes ON and OFF, reports its state, drops by itself. */
export interface RelayDevice {
  readonly changes: readonly RelayChange[];
  isOn(): boolean;
  /** While false it obeys but does not report. */
  setReporting(reports: boolean): void;
  /** Its plug is pulled and put back: it comes up off and says so. */
  powerCycle(): void;
  close(): Promise<void>;
}

export async function startRelayDevice(options: {
  readonly address: string;
  readonly commandTopic: string;
  readonly stateTopic: string;
  readonly autoOff_s: number;
}): Promise<RelayDevice> {
  const changes: RelayChange[] = [];
  let isOn = false;
  let reports = true;
  let timer: NodeJS.Timeout | undefined;
  const client = await connectAsync(options.address, {
    protocolVersion: 5,
    clientId: `relay-${Math.random()}`,
    reconnectPeriod: 200,
  });
  client.on("error", () => undefined);
  const become = (state: "on" | "off", by: RelayChange["by"]): void => {
    if (isOn !== (state === "on")) {
      const now_ms = performance.now();
      changes.push({ state, at_ms: now_ms, by });
    }
    isOn = state === "on";
    clearTimeout(timer);
    if (isOn) timer = setTimeout(() => become("off", "auto-off"), options.autoOff_s * 1000);
    if (reports && client.connected) client.publish(options.stateTopic, isOn ? "ON" : "OFF");
  };
  client.on("message", (_topic, payload) => {
    const command = payload.toString();
    if (command === "ON" || command === "OFF") become(command === "ON" ? "on" : "off", "command");
  });
  await client.subscribeAsync(options.commandTopic, { qos: 1 });
  return {
    changes,
    isOn: () => isOn,
    setReporting: (next) => {
      reports = next;
    },
    powerCycle: () => become("off", "power cut"),
    close: async () => {
      clearTimeout(timer);
      await client.endAsync(true);
    },
  };
}
