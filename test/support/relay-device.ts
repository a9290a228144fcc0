import { performance } from "node:perf_hooks";
import { connectAsync, type IClientOptions } from "mqtt";
import type { RelayMisbehaviour } from "./simple-relay.js";

export interface RelayChange {
  readonly state: "on" | "off";
  readonly at_ms: number;
  readonly by: "command" | "auto-off" | "power cut" | "button";
}

/** A relay on a real broker: takes ON and OFF, reports its state, drops by itself. */
export interface RelayDevice {
  /** Of the contact: the truth, whatever the relay says. */
  readonly changes: readonly RelayChange[];
  isOn(): boolean;
  /** While false it obeys but does not report. */
  setReporting(reports: boolean): void;
  misbehave(as: RelayMisbehaviour): void;
  /** Its plug is pulled and put back: it comes up in its power-on state and says so. */
  powerCycle(): void;
  /** Somebody presses its button. */
  press(to: "on" | "off"): void;
  /** Cuts it off from the network; its own timer goes on. */
  unplugNetwork(): Promise<void>;
  close(): Promise<void>;
}

const flapAfter_ms = 1500;

export async function startRelayDevice(options: {
  readonly address: string;
  readonly commandTopic: string;
  readonly stateTopic: string;
  readonly autoOff_s: number;
  readonly powerOnState?: "off" | "on";
  readonly connection?: IClientOptions;
}): Promise<RelayDevice> {
  const changes: RelayChange[] = [];
  let isOn = false;
  let reports = true;
  let misbehaviour: RelayMisbehaviour = "none";
  let timer: NodeJS.Timeout | undefined;
  const client = await connectAsync(options.address, {
    protocolVersion: 5,
    clientId: `relay-${Math.random()}`,
    reconnectPeriod: 200,
    ...options.connection,
  });
  client.on("error", () => undefined);
  const report = (state: boolean): void => {
    if (!reports || misbehaviour === "silent" || !client.connected) return;
    client.publish(options.stateTopic, state ? "ON" : "OFF");
  };
  const become = (state: "on" | "off", by: RelayChange["by"]): void => {
    if (isOn !== (state === "on")) {
      const now_ms = performance.now();
      changes.push({ state, at_ms: now_ms, by });
    }
    isOn = state === "on";
    clearTimeout(timer);
    const drops_ms = misbehaviour === "flapping" ? flapAfter_ms : options.autoOff_s * 1000;
    if (isOn) timer = setTimeout(drop, drops_ms);
    report(isOn);
  };
  const drop = (): void => {
    if (misbehaviour !== "stuck") become("off", "auto-off");
  };
  client.on("message", (_topic, payload) => {
    const command = payload.toString();
    if (command !== "ON" && command !== "OFF") return;
    if (misbehaviour === "lying") report(command === "ON");
    else if (misbehaviour === "stuck") report(isOn);
    else become(command === "ON" ? "on" : "off", "command");
  });
  await client.subscribeAsync(options.commandTopic, { qos: 1 });
  return {
    changes,
    isOn: () => isOn,
    setReporting: (next) => {
      reports = next;
    },
    misbehave: (as) => {
      misbehaviour = as;
      // What lies or is welded shut is not opened by its timer either.
      if (as === "lying" || as === "stuck") clearTimeout(timer);
    },
    powerCycle: () => become(options.powerOnState ?? "off", "power cut"),
    press: (to) => become(to, "button"),
    unplugNetwork: () => client.endAsync(true),
    close: async () => {
      clearTimeout(timer);
      await client.endAsync(true);
    },
  };
}
