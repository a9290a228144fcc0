import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { homieDescription, homieFormat, nextVersion } from "../../../../lib/hub/homie-description.js";
import { cutToUncertainty } from "../../../../lib/hub/honest-number.js";
import { alertIdOf, childDeviceId, isHubId } from "../../../../lib/hub/hub-id.js";
import { hubTree } from "../../../../daemon/hub/site-device.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";
import { descriptionSchema } from "../../../support/homie-rules.js";

const tree = hubTree(modelOf(benchYaml), "mill-pond");
const configName = fc.stringMatching(/^[a-z0-9-]{1,40}$/);

describe("the description of a device", () => {
  it("Device Attributes, Node Attributes, Property Attributes: has what the tables have, and nothing else", () => {
    for (const device of [tree.root, ...tree.children]) {
      const document: unknown = JSON.parse(JSON.stringify({ ...homieDescription(device, tree), version: 1 }));
      expect(descriptionSchema.parse(document)).toEqual(document);
    }
  });

  it("Device hierarchy: the root has children and no root, a child has a root and no parent of its own", () => {
    expect(homieDescription(tree.root, tree)).toMatchObject({
      children: ["mill-pond-vessel-cellar", "mill-pond-valve-outlet", "mill-pond-tank-loach"],
    });
    expect(homieDescription(tree.root, tree)).not.toHaveProperty("root");
    for (const child of tree.children) {
      expect(homieDescription(child, tree).root).toBe("mill-pond");
      expect(homieDescription(child, tree)).not.toHaveProperty("children");
    }
  });

  it("Units: degrees Celsius have the very bytes of the convention", () => {
    const temperature = tree.children
      .flatMap(({ properties }) => properties)
      .find(({ propertyId }) => propertyId === "temperature");
    expect(Buffer.from(temperature!.unit!).toString("hex")).toBe("c2b043");
  });

  const formats = [
    [{ kind: "float", minimum: 0.1, maximum: 40 }, "0.1:40"],
    [{ kind: "integer", minimum: 0 }, "0:"],
    [{ kind: "float", maximum: 10 }, ":10"],
    [{ kind: "float" }, undefined],
    [{ kind: "boolean", words: ["no", "yes"] }, "no,yes"],
    [{ kind: "enum", values: ["open", "closed"] }, "open,closed"],
  ] as const;
  for (const [form, format] of formats) {
    it(`Formats: ${JSON.stringify(form)} is ${format ?? "left out"}`, () =>
      expect(homieFormat(form)).toBe(format));
  }
});

describe("the version of a description", () => {
  const now = 1_780_000_000_500;
  it("Device Attributes: stays while the document does, and rises with it, also where the clock stood", () => {
    expect(nextVersion("a", undefined, now)).toBe(1_780_000_000);
    expect(nextVersion("a", { checksum: "a", version: 7 }, now)).toBe(7);
    expect(nextVersion("b", { checksum: "a", version: 7 }, now)).toBe(1_780_000_000);
    expect(nextVersion("b", { checksum: "a", version: 1_790_000_000 }, now)).toBe(1_790_000_001);
  });
});

describe("ids", () => {
  it("Topic IDs: every name of a config makes one, and no two children the same", () => {
    const kinds = fc.constantFrom("vessel", "valve", "tank");
    fc.assert(
      fc.property(configName, kinds, configName, kinds, configName, (root, kindA, a, kindB, b) => {
        const [first, second] = [childDeviceId(root, kindA, a), childDeviceId(root, kindB, b)];
        expect(isHubId(first)).toBe(true);
        expect(first === second).toBe(kindA === kindB && a === b);
        expect(first).not.toBe(root);
      }),
    );
  });

  it("Topic IDs, Alert topic: an alarm's id can be read in that of its alert", () => {
    expect(alertIdOf("guard-silent/loach-ph")).toBe("guard-silent--loach-ph");
    expect(alertIdOf("trip/tank/loach/CO2 above the close limit")).toMatch(
      /^trip--tank--loach--co2-above-the-close-limit-[0-9a-f]{8}$/,
    );
  });

  it("Topic IDs: no two alarms get the same alert", () => {
    const alarmId = fc.array(fc.oneof(configName, fc.constantFrom("a b", "A", "a--b", "-a")), {
      minLength: 1,
      maxLength: 4,
    });
    fc.assert(
      fc.property(alarmId, alarmId, (a, b) => {
        const [first, second] = [a.join("/"), b.join("/")];
        expect(isHubId(alertIdOf(first))).toBe(true);
        expect(alertIdOf(first) === alertIdOf(second)).toBe(first === second);
      }),
    );
  });
});

describe("a number that is told", () => {
  // JCGM 100:2008, 7.2.6, rounds 10.05762 with 0.027 to 10.058 (from memory); here one digit less is told.
  const rows = [
    [10.05762, 0.027, 10.06],
    [12.3456, 0.3, 12.3],
    [31.2, 2.4, 31],
    [1234, 20, 1230],
    [6.8123, 0.05, 6.81],
    [-0.001, 0.1, 0],
    [5, 0, 5],
    [5, Number.NaN, 5],
  ] as const;
  for (const [value, uncertainty, told] of rows) {
    it(`${value} that may be off by ${uncertainty} is ${told}`, () =>
      expect(cutToUncertainty(value, uncertainty)).toBe(told));
  }
});
