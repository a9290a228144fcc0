import type { SiteModel } from "./site-model.js";

/** The topics at which the site's relays and sensors speak and listen: nothing else of ours may be sent there. */
export function deviceTopics({
  relays,
  sensors,
}: Pick<SiteModel, "relays" | "sensors">): ReadonlySet<string> {
  return new Set([
    ...[...relays.values()].flatMap(({ commandTopic, stateTopic, statusQuery }) => [
      commandTopic,
      stateTopic,
      ...(statusQuery === undefined ? [] : [statusQuery.topic]),
    ]),
    ...[...sensors.values()].flatMap(({ topic, battery }) => [
      topic,
      ...(battery === undefined ? [] : [battery.topic]),
    ]),
  ]);
}
