import type { FakeClock } from "./fake-clock.js";
import type { MemoryBroker } from "./memory-message-bus.js";

/**
 * How a relay misbehaves. silent: obeys but says nothing. lying: reports what it was told and leaves the contact where it is.
 * stuck: neither a command nor its timer moves it, and it reports where it stands. flapping: obeys, and drops by itself soon after each ON.
 */
export type RelayMisbehaviour = "none" | "silent" | "lying" | "stuck" | "flapping";

export interface SimpleRelay {
  /** Whether the contact lets gas through: the truth, whatever the relay says. */
  isOn(): boolean;
  misbehave(as: RelayMisbehaviour): void;
  /** Cuts it off from the network: it hears and says nothing, and its own timer goes on. */
  unplugNetwork(): void;
  plugNetwork(): void;
  /** Its power is cut and comes back: it is off, and reports that. */
  powerCycle(): void;
  /** Somebody presses its button. */
  press(to: "on" | "off"): void;
  /** Every command heard, in order. */
  readonly heard: readonly string[];
}

export interface SimpleRelayOptions {
  readonly broker: MemoryBroker;
  readonly clock: FakeClock;
  readonly commandTopic: string;
  readonly stateTopic: string;
  readonly queryTopic?: string;
  /** Drops by itself this long after the last ON; undefined: never. */
  readonly autoOff_s: number | undefined;
  readonly powerOnState?: "off" | "last";
  readonly onChange?: (isOn: boolean) => void;
}

const flapAfter_ms = 20_000;

/** A relay on the broker in memory: "ON" and "OFF" in, its state out, with a timer of its own. */
export function createSimpleRelay(options: SimpleRelayOptions): SimpleRelay {
  const { broker, clock } = options;
  const heard: string[] = [];
  let on = false;
  let misbehaviour: RelayMisbehaviour = "none";
  let reachable = true;
  let callOffDrop: () => void = () => undefined;

  const set = (next: boolean): void => {
    if (next === on) return;
    on = next;
    options.onChange?.(on);
  };
  const report = (state: boolean): void => {
    if (reachable && misbehaviour !== "silent") broker.publish(options.stateTopic, state ? "ON" : "OFF");
  };
  const drop = (): void => {
    if (misbehaviour === "stuck") return;
    set(false);
    report(false);
  };
  const armDrop = (): void => {
    callOffDrop();
    const flap_ms = misbehaviour === "flapping" ? flapAfter_ms : Number.POSITIVE_INFINITY;
    const due_ms = Math.min(flap_ms, (options.autoOff_s ?? Number.POSITIVE_INFINITY) * 1000);
    callOffDrop = Number.isFinite(due_ms) ? clock.after(due_ms, drop) : () => undefined;
  };

  broker.listen(options.commandTopic, ({ payload }) => {
    const command = new TextDecoder().decode(payload);
    if (!reachable || (command !== "ON" && command !== "OFF")) return;
    heard.push(command);
    if (misbehaviour === "lying") {
      report(command === "ON");
      return;
    }
    if (misbehaviour === "stuck") {
      report(on);
      return;
    }
    if (command === "ON") armDrop();
    else callOffDrop();
    set(command === "ON");
    report(on);
  });
  if (options.queryTopic !== undefined) broker.listen(options.queryTopic, () => report(on));

  return {
    isOn: () => on,
    misbehave(as) {
      misbehaviour = as;
    },
    unplugNetwork() {
      reachable = false;
    },
    plugNetwork() {
      reachable = true;
    },
    powerCycle() {
      callOffDrop();
      set(options.powerOnState === "last" ? on : false);
      report(on);
    },
    press(to) {
      callOffDrop();
      set(to === "on");
      report(on);
    },
    heard,
  };
}
