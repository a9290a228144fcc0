const loopbackNames = ["localhost", "127.0.0.1", "[::1]"];

/**
 * Whether a request was meant for this page. A browser that was led here by a foreign name (DNS rebinding) says that name;
 * the port may be another, as through a tunnel.
 */
export function isAllowedHost(host: string | undefined, names: readonly string[] = []): boolean {
  const name = /^(?<name>\[[0-9a-f:.]+\]|[a-z0-9.-]+)(?::\d{1,5})?$/i.exec(host ?? "")?.groups?.["name"];
  return name !== undefined && [...loopbackNames, ...names].includes(name.toLowerCase());
}
