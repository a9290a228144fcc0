import type { Json } from "../../lib/alerts/template.js";
import type { HubConfig, SiteConfig } from "../config/config-schema.js";
import { announcements, type Announcement, type AnnouncementTemplate } from "./hub-announcement.js";
import type { HubTree } from "./hub-device.js";
import type { HomiePlace } from "./homie-topics.js";
import { thingDescription } from "./thing-description.js";

/** Where the site's devices stand; undefined where the config has no hub. */
export function homiePlace({ homie }: HubConfig, siteId: string): HomiePlace | undefined {
  return homie === undefined ? undefined : { domain: homie.domain, rootId: homie.deviceId ?? siteId };
}

/** What the config's templates make of the tree. */
export function plannedAnnouncements(
  { announcements: written }: HubConfig,
  tree: HubTree,
  { domain }: HomiePlace,
): readonly Announcement[] {
  const templates = written.map((template): AnnouncementTemplate => ({
    ...template,
    // The config check has seen that it is JSON.
    payload: template.payload as Readonly<Record<string, Json>>,
  }));
  return announcements(templates, tree, domain);
}

/** Retained messages beside the devices themselves, by their topics: announcements and Thing Descriptions. */
export function furtherDocuments(
  { hub, broker }: Pick<SiteConfig, "hub" | "broker">,
  place: HomiePlace | undefined,
  tree: HubTree,
): ReadonlyMap<string, string> {
  if (place === undefined) return new Map();
  const { things } = hub;
  const brokerAddress = things?.brokerAddress ?? broker.addresses[0] ?? "";
  const described =
    things === undefined
      ? []
      : [tree.root, ...tree.children].map((device): readonly [string, string] => [
          `${things.topic}/${device.deviceId}`,
          JSON.stringify(
            thingDescription(device, tree, {
              domain: place.domain,
              brokerAddress,
              needsLogin: broker.user !== undefined,
            }),
          ),
        ]);
  const announced = plannedAnnouncements(hub, tree, place).map(
    ({ topic, payload }): readonly [string, string] => [topic, payload],
  );
  return new Map([...described, ...announced]);
}
