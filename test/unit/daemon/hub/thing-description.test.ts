import { Ajv } from "ajv";
import { describe, expect, it } from "vitest";
import schema from "wot-thing-description-types/schema/td-json-schema-validation.json" with { type: "json" };
import { hubTree } from "../../../../daemon/hub/site-device.js";
import { thingDescription } from "../../../../daemon/hub/thing-description.js";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { siteModelFrom } from "../../../../daemon/site-model.js";
import { exampleText } from "../../../support/marked-config.js";

/** The JSON Schema that the W3C publishes with its types, version 1.1 of 24 May 2023. */
const ajv = new Ajv({ strict: false, validateFormats: false, allErrors: true });
const isThing = ajv.compile(schema);

const parsed = parseConfig(exampleText, "f");
if (parsed.kind === "invalid") throw new Error("the example is not valid");
const tree = hubTree(siteModelFrom(parsed.config), "brook-lane");
const surroundings = { domain: "homie", brokerAddress: "mqtts://broker.home.arpa:8883", needsLogin: true };
const things = [tree.root, ...tree.children].map((device) => ({
  device,
  thing: JSON.parse(JSON.stringify(thingDescription(device, tree, surroundings))) as Record<string, unknown>,
}));

interface Form {
  readonly href: string;
  readonly op: string | readonly string[];
  readonly "mqv:filter"?: string;
  readonly "mqv:topic"?: string;
  readonly "mqv:qos"?: string;
  readonly "mqv:retain"?: boolean;
  readonly "mqv:controlPacket"?: string;
}

describe("the Thing Description of a device", () => {
  for (const { device, thing } of things) {
    it(`of ${device.deviceId} is one in the eyes of the W3C's schema`, () => {
      expect(isThing(thing) ? [] : isThing.errors).toEqual([]);
    });
  }

  it("is refused by the same schema without its security, or with an operation that there is not", () => {
    const [{ thing }] = things as [(typeof things)[0]];
    const { security, ...without } = thing;
    expect(security).toBe("broker");
    expect(isThing(without)).toBe(false);
    const text = JSON.stringify(thing).replace("observeproperty", "watchproperty");
    expect(isThing(JSON.parse(text))).toBe(false);
  });

  it("reads where the value stands, writes where it is set, and never leaves a command with the broker", () => {
    const { thing } = things.find(({ device }) => device.kind === "valve")!;
    const properties = thing["properties"] as Record<string, { readOnly: boolean; forms: readonly Form[] }>;
    const place = "homie/5/brook-lane-valve-cellar-outlet/override/closed-for";
    expect(properties["override-closed-for"]!.forms).toEqual([
      {
        href: "mqtts://broker.home.arpa:8883",
        contentType: "application/json",
        op: ["readproperty", "observeproperty", "unobserveproperty"],
        "mqv:filter": place,
        "mqv:qos": "1",
        "mqv:retain": true,
      },
      {
        href: "mqtts://broker.home.arpa:8883",
        contentType: "application/json",
        op: "writeproperty",
        "mqv:controlPacket": "publish",
        "mqv:topic": `${place}/set`,
        "mqv:qos": "1",
        "mqv:retain": false,
      },
    ]);
    expect(properties["valve-state"]!.readOnly).toBe(true);
    expect(properties["valve-state"]!.forms).toHaveLength(1);
  });

  it("links the site with its parts by ids that stay the same", () => {
    const idOf = (index: number): unknown => things[index]!.thing["id"];
    const [root, ...children] = things;
    expect(root!.thing["links"]).toEqual(children.map(({ thing }) => ({ rel: "item", href: thing["id"] })));
    expect(children[0]!.thing["links"]).toEqual([{ rel: "collection", href: idOf(0) }]);
    expect(new Set(things.map((_, index) => idOf(index))).size).toBe(things.length);
    // RFC 9562: version 5, variant 10.
    for (const { thing } of things) {
      expect(thing["id"]).toMatch(
        /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/,
      );
    }
  });

  it("has a momentary command as an action", () => {
    const { thing } = things[0]!;
    expect(Object.keys(thing["actions"] as object)).toEqual(["alarms-acknowledge"]);
    expect(thing["properties"]).not.toHaveProperty("alarms-acknowledge");
  });
});
