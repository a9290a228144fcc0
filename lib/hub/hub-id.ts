import type { DeviceKind } from "./property.js";

/** What may stand in one level of a topic: "lowercase letters from a to z, numbers from 0 to 9 as well as the hyphen". [Homie2024] */
const idPattern = /^[a-z0-9-]+$/;

export function isHubId(text: string): boolean {
  return idPattern.test(text);
}

/**
 * The id of a child device. Names in the config are made of what an id may hold, and the word between keeps the kinds apart:
 * two different children never get the same one.
 */
export function childDeviceId(rootId: string, kind: Exclude<DeviceKind, "site">, subjectId: string): string {
  return `${rootId}-${kind}-${subjectId}`;
}

/** Parts that read back from "a--b": without an empty word between hyphens. */
const plainParts = /^[a-z0-9]+(?:-[a-z0-9]+)*(?:\/[a-z0-9]+(?:-[a-z0-9]+)*)*$/;

/**
 * The id of an alert from that of an alarm: "guard-silent/loach-ph" becomes "guard-silent--loach-ph". Where that could not
 * be read back, since other characters were lost, a checksum of the whole stands behind it, so that two alarms do not meet.
 */
export function alertIdOf(alarmId: string): string {
  const parts = alarmId.split("/").map((part) =>
    part
      .toLowerCase()
      .replaceAll(/[^a-z0-9]+/g, "-")
      .replaceAll(/^-+|-+$/g, ""),
  );
  const readable = parts.join("--");
  return plainParts.test(alarmId) ? readable : `${readable}-${checksum(alarmId)}`;
}

/** FNV-1a over the UTF-16 code units, 32 bits, as eight hexadecimal digits. */
export function checksum(text: string): string {
  let hash = 0x811c9dc5;
  for (let index = 0; index < text.length; index += 1) {
    hash = Math.imul(hash ^ text.charCodeAt(index), 0x01000193);
  }
  return (hash >>> 0).toString(16).padStart(8, "0");
}
