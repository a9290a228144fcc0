import { describe, expect, it } from "vitest";
import type { BusMessage, MessageBus } from "../../../daemon/ports/message-bus.js";
import { listenForRemoteOverrides } from "../../../daemon/remote-override.js";
import { benchYaml, modelOf } from "../../support/control-bench.js";
import { CollectingLogger } from "../../support/collecting-logger.js";

function bench() {
  let now_ms = 0;
  let hear: (message: BusMessage) => void = () => undefined;
  const answers: string[] = [];
  const taken: string[] = [];
  let wished = "";
  const logger = new CollectingLogger();
  const bus: Pick<MessageBus, "subscribe" | "publish"> = {
    subscribe: (_filter, _qos, listener) => (hear = listener),
    publish: ({ payload }) => {
      answers.push(String(payload));
      return Promise.resolve({ kind: "sent" });
    },
  };
  const clock = { monotonic_ms: () => now_ms, now_epochMs: () => Date.UTC(2026, 4, 1, 11) + now_ms };
  listenForRemoteOverrides({ bus, clock, logger }, modelOf(benchYaml), {
    remoteOverride: ({ action }) => {
      taken.push(action);
      wished = action;
      return undefined;
    },
    isWishedClosed: () => wished === "closed",
  });
  const say = (text: string): void =>
    hear({
      topic: "",
      payload: new TextEncoder().encode(text),
      retained: false,
      at_epochMs: now_ms,
      at_monotonicMs: now_ms,
    });
  return {
    answers,
    taken,
    logger,
    say,
    openElsewhere: () => {
      wished = "open";
    },
    wait: (duration_ms: number) => {
      now_ms += duration_ms;
    },
  };
}

const wish = (action: string, minute = 0): string =>
  JSON.stringify({ action, until: new Date(Date.UTC(2026, 4, 1, 12, minute)).toISOString() });

describe("overrides by MQTT", () => {
  it("take one a second of a flood, answer the rest once a second and log it once a minute", () => {
    const { answers, taken, logger, say, wait } = bench();
    for (let second = 0; second < 10; second += 1) {
      for (let count = 0; count < 1000; count += 1) {
        say(wish("open", count % 60));
        wait(1);
      }
    }
    expect(taken).toHaveLength(10);
    expect(answers).toHaveLength(20);
    expect(answers[1]).toContain("too many");
    expect(logger.lines.filter((line) => line.message.includes("too many"))).toHaveLength(1);
  });

  it("take a closing one even in a flood that opens", () => {
    const { taken, say } = bench();
    for (let count = 0; count < 100; count += 1) say(wish("open", count % 60));
    say(wish("closed"));
    say(wish("closed", 1));
    expect(taken).toEqual(["open", "closed"]);
  });

  it("close once more where the valve was opened by another way within the second", () => {
    const { answers, taken, say, openElsewhere } = bench();
    say(wish("closed"));
    openElsewhere();
    say(wish("closed"));
    expect(taken).toEqual(["closed", "closed"]);
    expect(answers).toHaveLength(2);
  });

  it("that would close and are refused for their end wait as any other", () => {
    const { taken, say } = bench();
    say(wish("open"));
    for (let count = 0; count < 100; count += 1) {
      say(
        JSON.stringify({ action: "closed", until: new Date(Date.UTC(2025, 4, 1, 12, count)).toISOString() }),
      );
    }
    expect(taken).toEqual(["open"]);
  });

  it("say nothing to the same one again within the second, and take it after that", () => {
    const { answers, taken, say, wait } = bench();
    say(wish("closed"));
    say(wish("closed"));
    expect(answers).toEqual([JSON.stringify({ accepted: true })]);
    wait(1000);
    say(wish("closed"));
    expect(taken).toHaveLength(2);
  });

  it.each([
    ['{"action":"closed"}', "until is missing"],
    ['{"action":"shut","until":"2026-05-01T18:00:00Z"}', 'action is "shut": write one of open, closed'],
    ['{"action":"open","until":"18:00"}', "until must be a time with its distance from UTC"],
    ["closed", "send one JSON object"],
  ])("that say %s are refused in words a person can act on", (payload, reason) => {
    const { answers, taken, say } = bench();
    say(payload);
    expect(taken).toEqual([]);
    expect(answers[0]).toContain(JSON.stringify(reason).slice(1, -1));
    expect(answers[0]).not.toMatch(/invalid|expected|received|\u2716/i);
  });

  it("are answered with the sender's id", () => {
    const { answers, say } = bench();
    say(JSON.stringify({ ...(JSON.parse(wish("closed")) as object), id: "tablet-7" }));
    expect(answers).toEqual([JSON.stringify({ id: "tablet-7", accepted: true })]);
  });

  it("do not let garbage fill the log with its details", () => {
    const { answers, logger, say, wait } = bench();
    for (let count = 0; count < 50; count += 1) {
      say(JSON.stringify({ [`key${count}`]: 1 }));
      wait(1000);
    }
    expect(new Set(logger.lines.map((line) => JSON.stringify(line))).size).toBe(1);
    expect(answers[7]).toContain("key7");
  });
});
