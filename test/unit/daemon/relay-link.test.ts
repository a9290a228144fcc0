import { describe, expect, it } from "vitest";
import { createRelayLink, type RelayReport } from "../../../daemon/relay-link.js";
import { benchYaml, modelOf } from "../../support/control-bench.js";
import { CollectingLogger } from "../../support/collecting-logger.js";
import { FakeClock } from "../../support/fake-clock.js";
import type { DeadMan } from "../../../daemon/ports/dead-man.js";
import type { BusMessage, MessageBus } from "../../../daemon/ports/message-bus.js";

it("logs reports that it cannot read once a minute with their count, and hears the next good one", () => {
  const clock = new FakeClock(0);
  const logger = new CollectingLogger();
  const reports: RelayReport[] = [];
  let hear: (message: BusMessage) => void = () => undefined;
  const bus: Pick<MessageBus, "subscribe" | "publish"> = {
    subscribe: (_filter, _qos, listener) => (hear = listener),
    publish: () => Promise.resolve({ kind: "sent" }),
  };
  const deadMan = { send: () => undefined };
  createRelayLink({ bus, deadMan, clock, logger }, modelOf(benchYaml).relays, (report) =>
    reports.push(report),
  );
  const say = (payload: string): void =>
    hear({
      topic: "relay/1/state",
      payload: new TextEncoder().encode(payload),
      retained: false,
      at_epochMs: clock.now_epochMs(),
      at_monotonicMs: clock.monotonic_ms(),
    });

  for (let count = 0; count < 1000; count += 1) say(`garbage ${count}`);
  expect(logger.lines.map((line) => line.fields["count"])).toEqual([1]);
  say("ON");
  expect(reports.map((report) => report.reported)).toEqual(["on"]);
  clock.after(60_000, () => say("garbage again"));
  return clock.advance(60_000).then(() => {
    expect(logger.lines.map((line) => line.fields["count"])).toEqual([1, 1000]);
  });
});

describe("a command to a relay", () => {
  const asked = "      statusQuery: { topic: relay/1/query, payload: ask }\n";
  const sent = (command: "on" | "off", more = ""): readonly string[] => {
    const log: string[] = [];
    const clock = new FakeClock(0);
    const bus: Pick<MessageBus, "subscribe" | "publish"> = {
      subscribe: () => undefined,
      publish: ({ topic, payload, expiry_s }) => {
        log.push(`bus ${topic} ${String(payload)} ${expiry_s ?? "-"}`);
        return Promise.resolve({ kind: "sent" });
      },
    };
    const deadMan: Pick<DeadMan, "send"> = {
      send: (relayId, { topic, payload, expiry_s }) =>
        void log.push(`dead-man of ${relayId} ${topic} ${payload} ${expiry_s ?? "-"}`),
    };
    const { relays } = modelOf(benchYaml + more);
    createRelayLink({ bus, deadMan, clock, logger: new CollectingLogger() }, relays, () => undefined).send({
      relayId: "outlet",
      command,
      reason: "",
    });
    return log;
  };

  it.each([
    {
      command: "on",
      because: "only what goes before the will on its own connection cannot come after it",
      expected: ["dead-man of outlet relay/1/command ON 5"],
    },
    {
      command: "off",
      because: "an ON may be on its way on the one connection, and the other may be the only one left",
      expected: ["dead-man of outlet relay/1/command OFF -", "bus relay/1/command OFF -"],
    },
  ] as const)("goes out as $expected, because $because", ({ command, expected }) => {
    expect(sent(command)).toEqual(expected);
  });

  it("is followed on its own connection by the question for the relay's state", () => {
    expect(sent("on", asked).at(-1)).toBe("dead-man of outlet relay/1/query ask -");
    expect(sent("off", asked).at(-1)).toBe("bus relay/1/query ask -");
  });
});
