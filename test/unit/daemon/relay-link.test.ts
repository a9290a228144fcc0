import { expect, it } from "vitest";
import { createRelayLink, type RelayReport } from "../../../daemon/relay-link.js";
import { benchYaml, modelOf } from "../../support/control-bench.js";
import { CollectingLogger } from "../../support/collecting-logger.js";
import { FakeClock } from "../../support/fake-clock.js";
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
  createRelayLink({ bus, clock, logger }, modelOf(benchYaml).relays, (report) => reports.push(report));
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
