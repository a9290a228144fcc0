const needs = [
  ["mosquitto", "-h", "mosquitto"],
  ["mosquitto_passwd", "-h", "mosquitto"],
  ["ip", "-V", "iproute2"],
  ["openssl", "version", "openssl"],
  ["mount", "-V", "mount"],
] as const;

/** What the suite needs and does not find, a line each, with what to do. Looked at before the first fault is driven. */
export function missingFor(machine: {
  readonly user: number | undefined;
  readonly runs: (command: string, argument: string) => boolean;
}): readonly string[] {
  const lacks = needs
    .filter(([command, argument]) => !machine.runs(command, argument))
    .map(([command, , packageName]) => `- ${command} is not installed (Debian: apt install ${packageName})`);
  return machine.user === 0
    ? lacks
    : ["- it must be run as root, for network name spaces and file systems of its own", ...lacks];
}
