import { describe, expect, it } from "vitest";
import {
  deadManClientId,
  faultOfTopicFilter,
  faultOfTopicName,
  topicBelow,
  topicMatches,
} from "../../../../daemon/mqtt/topics.js";

// OASIS MQTT Version 5.0, section 4.7 (non-normative examples of 4.7.1.2, 4.7.1.3 and 4.7.2).
const matching = [
  {
    filter: "sport/tennis/player1/#",
    topic: "sport/tennis/player1",
    matches: true,
    because: "# takes the parent",
  },
  {
    filter: "sport/tennis/player1/#",
    topic: "sport/tennis/player1/ranking",
    matches: true,
    because: "4.7.1.2",
  },
  {
    filter: "sport/tennis/player1/#",
    topic: "sport/tennis/player1/score/final",
    matches: true,
    because: "# takes any number of levels",
  },
  { filter: "sport/#", topic: "sport", matches: true, because: "4.7.1.2" },
  { filter: "#", topic: "sport/tennis", matches: true, because: "# alone takes everything" },
  { filter: "sport/tennis/+", topic: "sport/tennis/player1", matches: true, because: "4.7.1.3" },
  {
    filter: "sport/tennis/+",
    topic: "sport/tennis/player1/ranking",
    matches: false,
    because: "+ is one level",
  },
  { filter: "sport/+", topic: "sport", matches: false, because: "+ needs its level" },
  { filter: "sport/+", topic: "sport/", matches: true, because: "an empty level is a level" },
  { filter: "+/+", topic: "/finance", matches: true, because: "4.7.1.3" },
  { filter: "/+", topic: "/finance", matches: true, because: "4.7.1.3" },
  { filter: "+", topic: "/finance", matches: false, because: "4.7.1.3" },
  { filter: "#", topic: "$SYS/uptime", matches: false, because: "4.7.2" },
  { filter: "+/monitor/Clients", topic: "$SYS/monitor/Clients", matches: false, because: "4.7.2" },
  { filter: "$SYS/#", topic: "$SYS/uptime", matches: true, because: "4.7.2" },
  { filter: "$SYS/monitor/+", topic: "$SYS/monitor/Clients", matches: true, because: "4.7.2" },
  { filter: "ACCOUNTS", topic: "Accounts", matches: false, because: "4.7.3: topics are case sensitive" },
];

describe("a topic filter", () => {
  it.each(matching)("$filter and $topic: $matches, because $because", ({ filter, topic, matches }) => {
    expect(topicMatches(filter, topic)).toBe(matches);
  });

  it.each([
    { filter: "sport/tennis#", because: "4.7.1.2: # stands alone in its level" },
    { filter: "sport/tennis/#/ranking", because: "4.7.1.2: # is the last level" },
    { filter: "sport+", because: "4.7.1.3: + stands alone in its level" },
    { filter: "", because: "4.7.3: at least one character" },
    { filter: "a\0b", because: "4.7.3: no null character" },
    { filter: "$share/group/sensor", because: "each message is needed here" },
    { filter: "a\ud800", because: "1.5.4: no lone surrogates in UTF-8" },
    { filter: "x".repeat(1025), because: "longer than we read" },
  ])("refuses $filter: $because", ({ filter }) => {
    expect(faultOfTopicFilter(filter)).toMatch(/\w/);
  });

  it.each(["#", "+", "+/tennis/#", "sport/+/player1", "/", "ph/水"])("takes %s", (filter) => {
    expect(faultOfTopicFilter(filter)).toBeUndefined();
  });
});

describe("a topic to publish on", () => {
  it.each(["a/+/b", "a/#", "", "a\0", "\udc00", "ü".repeat(513)])("cannot be %j", (topic) => {
    expect(faultOfTopicName(topic)).toMatch(/\w/);
  });

  it("may hold spaces, an empty level and any script", () => {
    expect(faultOfTopicName("/cellar relay//Ventil-ä")).toBeUndefined();
  });
});

describe("names made for the broker", () => {
  it("keep every part in one level", () => {
    expect(topicBelow("fizzward/brook-lane", "valve", "a/b+#")).toBe("fizzward/brook-lane/valve/a-b--");
  });

  it("tell relays, sites and installations apart and do not change between starts", () => {
    const ids = [
      deadManClientId("fizzward", "brook-lane", "outlet"),
      deadManClientId("fizzward", "brook-lane", "series"),
      deadManClientId("fizzward", "mill-road", "outlet"),
      deadManClientId("other", "brook-lane", "outlet"),
    ];
    expect(new Set(ids).size).toBe(4);
    expect(deadManClientId("fizzward", "brook-lane", "outlet")).toBe(ids[0]);
  });
});
