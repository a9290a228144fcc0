import { checksum } from "../../lib/hub/hub-id.js";
import { homieDescription, nextVersion, type PublishedVersion } from "../../lib/hub/homie-description.js";
import { payloadOf } from "../../lib/hub/homie-payload.js";
import type { SiteStatus } from "../site-status.js";
import type { HubDevice, HubProperty, HubTree } from "./hub-device.js";
import { deviceTopic, propertyTopic } from "./homie-topics.js";

/** A device as it is published: its description under a version, and where its values stand. */
export interface HomieDevice {
  readonly device: HubDevice;
  readonly stateTopic: string;
  readonly descriptionTopic: string;
  readonly description: string;
  readonly published: PublishedVersion;
  readonly values: readonly HomieValue[];
}

/** A property whose value the broker keeps. */
export interface HomieValue {
  readonly property: HubProperty;
  readonly topic: string;
  /** Of a settable one: where it stands to what it is to change. */
  readonly targetTopic: string | undefined;
}

/** Every device of the tree, the root last. */
export function homieDevices(
  tree: HubTree,
  domain: string,
  versions: Readonly<Record<string, PublishedVersion>>,
  now_epochMs: number,
): readonly HomieDevice[] {
  return [...tree.children, tree.root].map((device) => {
    const { deviceId } = device;
    const content = homieDescription(device, tree);
    const sum = checksum(JSON.stringify(content));
    const version = nextVersion(sum, versions[deviceId], now_epochMs);
    const { homie, ...rest } = content;
    return {
      device,
      stateTopic: deviceTopic(domain, deviceId, "$state"),
      descriptionTopic: deviceTopic(domain, deviceId, "$description"),
      description: JSON.stringify({ homie, version, ...rest }),
      published: { checksum: sum, version },
      values: device.properties
        .filter(({ retained }) => retained)
        .map((property) => {
          const topic = propertyTopic(domain, deviceId, property);
          return { property, topic, targetTopic: property.settable ? `${topic}/$target` : undefined };
        }),
    };
  });
}

/** Every topic of a device at which the broker keeps something, its state first: with that gone the device is gone. */
export function retainedTopicsOf({ stateTopic, descriptionTopic, values }: HomieDevice): readonly string[] {
  return [
    stateTopic,
    descriptionTopic,
    ...values.flatMap(({ topic, targetTopic }) =>
      targetTopic === undefined ? [topic] : [topic, targetTopic],
    ),
  ];
}

/** Undefined while the value is not known. */
export function valuePayload({ property }: HomieValue, status: SiteStatus): string | undefined {
  const value = property.read(status);
  return value === undefined ? undefined : payloadOf(property.form, value);
}
