import type { PropertyDescription } from "../../lib/hub/property.js";

/** Where a site's devices stand: the domain of the convention and the id of the root device. */
export interface HomiePlace {
  readonly domain: string;
  readonly rootId: string;
}

/** The domain and the convention's major version, which may not be changed. [Homie2024] "Domain and Root Topic" */
export function homieBase(domain: string): string {
  return `${domain}/5`;
}

export function deviceTopic(domain: string, deviceId: string, attribute: string): string {
  return `${homieBase(domain)}/${deviceId}/${attribute}`;
}

export function propertyTopic(
  domain: string,
  deviceId: string,
  { nodeId, propertyId }: Pick<PropertyDescription, "nodeId" | "propertyId">,
): string {
  return deviceTopic(domain, deviceId, `${nodeId}/${propertyId}`);
}

/** What the broker publishes when the connection breaks: it counts for every child too. [Homie2024] "Last Will" */
export function homieWill({ domain, rootId }: HomiePlace): {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 1;
  readonly retain: true;
} {
  return { topic: deviceTopic(domain, rootId, "$state"), payload: "lost", qos: 1, retain: true };
}
