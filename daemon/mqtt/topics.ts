/** Topic names longer than this are neither sent nor looked at; MQTT itself allows 65 535 bytes. */
export const LONGEST_TOPIC_BYTES = 1024;

/** A topic or filter that never passed the config check. */
export class InvalidTopicError extends Error {
  override readonly name = "InvalidTopicError";

  constructor(
    readonly topic: string,
    readonly reason: string,
  ) {
    super(`"${topic.slice(0, 200)}": ${reason}`);
  }
}

const loneSurrogate = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/;

function faultOfText(text: string): string | undefined {
  if (text === "") return "a topic cannot be empty";
  if (text.includes("\0")) return "a topic cannot contain the character U+0000";
  if (loneSurrogate.test(text)) return "a topic must be valid Unicode";
  const length_bytes = Buffer.byteLength(text, "utf8");
  return length_bytes > LONGEST_TOPIC_BYTES
    ? `a topic may be ${LONGEST_TOPIC_BYTES} bytes long, this one has ${length_bytes}`
    : undefined;
}

/** What is wrong with a topic to publish on, in words; undefined when nothing is (MQTT 5, 4.7). */
export function faultOfTopicName(topic: string): string | undefined {
  if (/[+#]/.test(topic)) return 'a topic to publish on cannot contain the wildcards "+" and "#"';
  return faultOfText(topic);
}

/** What is wrong with a topic filter to subscribe to, in words; undefined when nothing is (MQTT 5, 4.7). */
export function faultOfTopicFilter(filter: string): string | undefined {
  const levels = filter.split("/");
  for (const [index, level] of levels.entries()) {
    if (level.includes("#") && (level !== "#" || index !== levels.length - 1)) {
      return 'the wildcard "#" stands alone in the last level of a topic filter';
    }
    if (level.includes("+") && level !== "+") return 'the wildcard "+" stands alone in its level';
  }
  if (levels[0] === "$share") return "shared subscriptions are not supported: each message is needed here";
  return faultOfText(filter);
}

/** Whether a topic falls under a filter; a leading wildcard does not reach topics that begin with "$". */
export function topicMatches(filter: string, topic: string): boolean {
  if (topic.startsWith("$") && /^[+#]/.test(filter)) return false;
  const filterLevels = filter.split("/");
  const topicLevels = topic.split("/");
  for (const [index, level] of filterLevels.entries()) {
    if (level === "#") return true;
    if (index >= topicLevels.length) return false;
    if (level !== "+" && level !== topicLevels[index]) return false;
  }
  return filterLevels.length === topicLevels.length;
}

/** A topic below a base; each part becomes exactly one level. */
export function topicBelow(base: string, ...parts: readonly string[]): string {
  return [base, ...parts.map((part) => part.replace(/[/+#\0]/g, "-"))].join("/");
}

/** The client id of the connection that holds a relay's closing command as its Last Will. */
export function deadManClientId(prefix: string, siteId: string, relayId: string): string {
  return `${prefix}-${siteId}-${relayId}-deadman`;
}
