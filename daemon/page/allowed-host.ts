import { isLoopback } from "../config/loopback.js";

const loopbackNames = ["localhost", "127.0.0.1", "[::1]"];

/** Whether an IP address, which may be one of IPv4 written as IPv6, is this machine's own. */
export function isLoopbackAddress(address: string): boolean {
  return isLoopback(address.replace(/^::ffff:/, ""));
}

/**
 * Whether a request was meant for this page. A browser that was led here by a foreign name (DNS rebinding) says that name; the
 * port may be another, as through a tunnel.
 * @param local the address of this machine at which the request came in: whoever writes it was led by no name
 * @param names of the config, lower case
 */
export function isAllowedHost(
  host: string | undefined,
  local: string | undefined,
  names: readonly string[],
): boolean {
  const found = /^(?<name>\[[0-9a-f:.]{2,45}\]|[a-z0-9.-]{1,253})(?::\d{1,5})?$/i.exec(host ?? "");
  const name = found?.groups?.["name"]?.toLowerCase();
  if (name === undefined) return false;
  const plain = local?.replace(/^::ffff:/, "").toLowerCase();
  const literals = plain === undefined ? [] : [plain, `[${plain}]`];
  return [...loopbackNames, ...literals, ...names].includes(name);
}
