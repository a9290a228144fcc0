import { afterAll, afterEach, beforeAll, beforeEach, onTestFailed } from "vitest";
import { observeBroker, type BrokerObserver } from "./broker-observer.js";
import { plainConfig, startDaemon, type DaemonProcess } from "./daemon-process.js";
import { startMosquitto, type Mosquitto } from "./mosquitto.js";
import { startRelayDevice, type RelayDevice } from "./relay-device.js";

/** A real broker, an observer, a relay and the compiled daemon; fresh for each test, gone after it. */
export interface DaemonBench {
  readonly broker: Mosquitto;
  readonly observer: BrokerObserver;
  readonly relay: RelayDevice;
  /** Starts the daemon and waits until it runs; its output is printed when the test fails. */
  run(options?: {
    readonly config?: Readonly<Record<string, string>>;
    readonly through?: "node" | "npm";
    readonly folder?: string;
  }): Promise<DaemonProcess>;
  /** Another relay in place of the first, which drops by itself after so long. */
  replaceRelay(autoOff_s: number): Promise<void>;
}

/**
 * Call it once in a test file; it returns what the running test may use.
 * @param lasts  "file" where the tests follow each other on one bench, since each start takes seconds.
 */
export function useDaemonBench(lasts: "test" | "file" = "test"): () => DaemonBench {
  const [before, after] = lasts === "test" ? [beforeEach, afterEach] : [beforeAll, afterAll];
  let bench: DaemonBench;
  let end: () => Promise<void>;

  before(async () => {
    const broker = await startMosquitto();
    const observer = await observeBroker(broker.address);
    const newRelay = (autoOff_s: number): Promise<RelayDevice> =>
      startRelayDevice({
        address: broker.address,
        commandTopic: "relay/command",
        stateTopic: "relay/state",
        autoOff_s,
      });
    let relay = await newRelay(300);
    const daemons: DaemonProcess[] = [];
    bench = {
      broker,
      observer,
      get relay() {
        return relay;
      },
      run: async ({ config = {}, through = "node", folder } = {}) => {
        const started = startDaemon({
          config: plainConfig(broker.address, config),
          through,
          ...(folder === undefined ? {} : { folder }),
        });
        daemons.push(started);
        onTestFailed(() => console.error(started.output()));
        await started.logged("fizzward runs", 60_000);
        return started;
      },
      replaceRelay: async (autoOff_s) => {
        await relay.close();
        relay = await newRelay(autoOff_s);
      },
    };
    end = async () => {
      for (const daemon of daemons) await daemon.dispose();
      await relay.close();
      await observer.close();
      await broker.stop();
    };
  });

  after(() => end());

  return () => bench;
}
