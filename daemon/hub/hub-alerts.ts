import type { TrackedAlarm } from "../../lib/alarm/alarm-step.js";
import { childDeviceId, alertIdOf } from "../../lib/hub/hub-id.js";
import { textPayload } from "../../lib/hub/homie-payload.js";
import type { HubTree } from "./hub-device.js";
import { deviceTopic } from "./homie-topics.js";

/**
 * The raised alarms as alerts, by their topics: at each device that an alarm touches, at the root where it touches none. An
 * alarm that has returned, is shelved or suppressed has none. [Homie2024] "Alert topic"
 */
export function homieAlerts(
  alarms: readonly TrackedAlarm[],
  tree: HubTree,
  domain: string,
): ReadonlyMap<string, string> {
  const rootId = tree.root.deviceId;
  const known = new Set(tree.children.map(({ deviceId }) => deviceId));
  const alerts = new Map<string, string>();
  for (const { condition, raised } of alarms) {
    if (!raised) continue;
    const touched = condition.subjects
      .flatMap(({ kind, id }) => (kind === "sensor" ? [] : [childDeviceId(rootId, kind, id)]))
      .filter((deviceId) => known.has(deviceId));
    const text = textPayload(`${condition.priority}: ${sentence(condition.cause)} ${condition.whatToDo}`);
    for (const deviceId of new Set(touched.length === 0 ? [rootId] : touched)) {
      alerts.set(deviceTopic(domain, deviceId, `$alert/${alertIdOf(condition.alarmId)}`), text);
    }
  }
  return alerts;
}

function sentence(cause: string): string {
  return cause.endsWith(".") ? cause : `${cause}.`;
}
