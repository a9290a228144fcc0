import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { BusMessage, BusState, MessageBus, OutgoingMessage } from "../../daemon/ports/message-bus.js";

/** A bus, and the other side of its broker. */
export interface BusUnderTest {
  readonly bus: MessageBus;
  /** Another client publishes. */
  publish(
    topic: string,
    payload: string | Uint8Array,
    options?: { readonly retain?: boolean },
  ): Promise<void>;
  /** What reached another client that subscribes to everything, since the beginning. */
  received(): readonly { readonly topic: string; readonly payload: string }[];
  /** Breaks the connection and keeps it broken until `restoreConnection`. */
  breakConnection(): Promise<void>;
  restoreConnection(): Promise<void>;
  dispose(): Promise<void>;
}

const textOf = (message: BusMessage): string => new TextDecoder().decode(message.payload);
const outgoing = (topic: string, payload: string): OutgoingMessage => ({
  topic,
  payload,
  qos: 1,
  retain: false,
});
const within = { timeout: 8_000, interval: 10 };
/** Long enough for a message that should not come to come. */
const settle = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 150));

/** What the daemon relies on, whichever bus it is given. */
export const describeMessageBus = (name: string, open: () => Promise<BusUnderTest>): void => {
  describe(`${name} keeps the contract of the message bus`, () => {
    let under: BusUnderTest;
    let states: BusState[];
    let messages: BusMessage[];
    const keep = (message: BusMessage): void => void messages.push(message);
    const connected = (): Promise<void> =>
      vi.waitFor(() => expect(under.bus.state().kind).toBe("connected"), within);

    beforeEach(async () => {
      under = await open();
      states = [];
      messages = [];
      under.bus.onStateChange((state) => states.push(state));
    });
    afterEach(() => under.dispose());

    it("is disconnected before its start, and publishing then is offline", async () => {
      expect(under.bus.state()).toMatchObject({ kind: "disconnected", reason: "not started" });
      expect(await under.bus.publish(outgoing("a", "1"))).toEqual({ kind: "offline" });
    });

    it("delivers live messages as not retained, under wildcards, with the time of arrival", async () => {
      under.bus.subscribe("cellar/+/ph", 1, keep);
      await under.bus.start();
      await connected();
      await under.publish("cellar/loach/ph", "6.82");
      await under.publish("cellar/loach/temperature", "24");
      await under.publish("cellar/shrimp/ph", Uint8Array.of(0, 255));
      await vi.waitFor(() => expect(messages).toHaveLength(2), within);
      expect(messages.map(({ topic, retained }) => ({ topic, retained }))).toEqual([
        { topic: "cellar/loach/ph", retained: false },
        { topic: "cellar/shrimp/ph", retained: false },
      ]);
      expect(textOf(messages[0]!)).toBe("6.82");
      expect([...messages[1]!.payload]).toEqual([0, 255]);
      expect(messages[0]!.at_epochMs).toBeGreaterThan(1e12);
      expect(messages[1]!.at_monotonicMs).toBeGreaterThanOrEqual(messages[0]!.at_monotonicMs);
    });

    it("marks what the broker held as retained, on every connection", async () => {
      await under.publish("cellar/relay/state", "ON", { retain: true });
      under.bus.subscribe("cellar/relay/#", 0, keep);
      await under.bus.start();
      await vi.waitFor(() => expect(messages).toHaveLength(1), within);
      await connected();
      await under.publish("cellar/relay/state", "OFF", { retain: true });
      await vi.waitFor(() => expect(messages).toHaveLength(2), within);
      await under.breakConnection();
      await under.restoreConnection();
      await vi.waitFor(() => expect(messages).toHaveLength(3), within);
      expect(messages.map((message) => `${textOf(message)} ${message.retained}`)).toEqual([
        "ON true",
        "OFF false",
        "OFF true",
      ]);
    });

    it("hears a topic that is subscribed after the start", async () => {
      await under.bus.start();
      await connected();
      await under.publish("late", "held", { retain: true });
      under.bus.subscribe("late", 1, keep);
      await vi.waitFor(() => expect(messages.map(textOf)).toEqual(["held"]), within);
      await under.publish("late", "live");
      await vi.waitFor(() => expect(messages.map(textOf)).toEqual(["held", "live"]), within);
    });

    it("gives a message to every listener, even if one of them throws", async () => {
      under.bus.subscribe("a/b", 1, () => {
        throw new Error("listener");
      });
      under.bus.subscribe("a/b", 1, keep);
      await under.bus.start();
      await connected();
      await under.publish("a/b", "1");
      await under.publish("a/b", "2");
      await vi.waitFor(() => expect(messages.map(textOf)).toEqual(["1", "2"]), within);
      expect(under.bus.state().kind).toBe("connected");
    });

    it("publishes with both qualities of service and says so", async () => {
      await under.bus.start();
      await connected();
      expect(await under.bus.publish({ ...outgoing("x/0", "zero"), qos: 0 })).toEqual({ kind: "sent" });
      expect(await under.bus.publish({ ...outgoing("x/1", "one"), expiry_s: 30 })).toEqual({ kind: "sent" });
      const bytes = {
        topic: "x/2",
        payload: new TextEncoder().encode("bytes"),
        qos: 1,
        retain: true,
      } as const;
      expect(await under.bus.publish(bytes)).toEqual({ kind: "sent" });
      await vi.waitFor(
        () =>
          expect(under.received()).toEqual([
            { topic: "x/0", payload: "zero" },
            { topic: "x/1", payload: "one" },
            { topic: "x/2", payload: "bytes" },
          ]),
        within,
      );
    });

    it("refuses a topic with wildcards and a payload that is too large, and stays connected", async () => {
      await under.bus.start();
      await connected();
      for (const message of [
        outgoing("a/#", "1"),
        outgoing("", "1"),
        outgoing("a", "x".repeat(256 * 1024 + 1)),
      ]) {
        const outcome = await under.bus.publish(message);
        expect(outcome.kind).toBe("failed");
        expect("reason" in outcome && outcome.reason).toMatch(/topic|payload/);
      }
      expect(await under.bus.publish(outgoing("a", "x".repeat(256 * 1024)))).toEqual({ kind: "sent" });
    });

    it("refuses a filter that is none", () => {
      expect(() => under.bus.subscribe("a/#/b", 0, keep)).toThrow("wildcard");
    });

    it("drops a payload that is too large before any listener sees it", async () => {
      under.bus.subscribe("big", 1, keep);
      await under.bus.start();
      await connected();
      await under.publish("big", "x".repeat(300 * 1024));
      await under.publish("big", "6.8");
      await vi.waitFor(() => expect(messages.map(textOf)).toEqual(["6.8"]), within);
      expect(under.bus.state().kind).toBe("connected");
    });

    it("is offline while the connection is broken and never sends later what was published then", async () => {
      await under.bus.start();
      await connected();
      await under.breakConnection();
      await vi.waitFor(() => expect(under.bus.state().kind).toBe("disconnected"), within);
      for (const qos of [0, 1] as const) {
        expect(await under.bus.publish({ ...outgoing("relay", "ON"), qos })).toEqual({ kind: "offline" });
      }
      await under.restoreConnection();
      await connected();
      expect(await under.bus.publish(outgoing("relay", "OFF"))).toEqual({ kind: "sent" });
      await vi.waitFor(() => expect(under.received()).toHaveLength(1), within);
      await settle();
      expect(under.received()).toEqual([{ topic: "relay", payload: "OFF" }]);
    });

    it("reports each change of its state once, with a reason", async () => {
      await under.bus.start();
      await connected();
      await under.breakConnection();
      await vi.waitFor(() => expect(under.bus.state().kind).toBe("disconnected"), within);
      const lost = under.bus.state();
      expect(lost.kind === "disconnected" && lost.reason).toMatch(/\w/);
      await under.restoreConnection();
      await connected();
      await under.bus.stop();
      expect(under.bus.state()).toMatchObject({ kind: "disconnected", reason: "stopped" });
      const changes = states.map(({ kind }) => kind).filter((kind, index, all) => kind !== all[index - 1]);
      expect(changes).toEqual(["connected", "disconnected", "connected", "disconnected"]);
    });

    it("survives a state listener that throws", async () => {
      const bus = under.bus;
      const later = vi.fn();
      bus.onStateChange(() => {
        throw new Error("listener");
      });
      bus.onStateChange(later);
      await bus.start();
      await connected();
      expect(later).toHaveBeenCalled();
    });

    it("is offline and silent after its stop", async () => {
      under.bus.subscribe("a", 1, keep);
      await under.bus.start();
      await connected();
      await under.bus.stop();
      await under.publish("a", "1");
      expect(await under.bus.publish(outgoing("a", "2"))).toEqual({ kind: "offline" });
      await settle();
      expect(messages).toEqual([]);
    });
  });
};
