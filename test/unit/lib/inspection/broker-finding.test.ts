import { expect, it } from "vitest";
import { brokerFinding, type BrokerFacts } from "../../../../lib/inspection/broker-finding.js";

const connected = {
  kind: "connected",
  address: "mqtts://pond:8883",
  protocolVersion: 5,
  isEncrypted: true,
  echo: { kind: "came back", after_ms: 12.4 },
} as const;

it.each<{ because: string; facts: BrokerFacts; verdict: string; told: string }>([
  {
    because: "its own message came back",
    facts: connected,
    verdict: "good",
    told: "mqtts://pond:8883, MQTT 5, encrypted; a message was there and back in 12 ms",
  },
  {
    because: "the older version cannot tell a kept command from a live one",
    facts: { ...connected, protocolVersion: 4, isEncrypted: false },
    verdict: "look at this",
    told: "MQTT 3.1.1, not encrypted",
  },
  {
    because: "access lists swallow its own message",
    facts: { ...connected, echo: { kind: "did not come back", topic: "a/b", because: "nothing in 2 s" } },
    verdict: "look at this",
    told: "a message to a/b did not come back (nothing in 2 s)",
  },
  {
    because: "nothing answers",
    facts: { kind: "not reached", reason: "connection refused" },
    verdict: "mend this first",
    told: "no connection: connection refused",
  },
])("calls the broker $verdict where $because", ({ facts, verdict, told }) => {
  const finding = brokerFinding(facts);
  expect(finding.verdict).toBe(verdict);
  expect(finding.told).toContain(told);
});
