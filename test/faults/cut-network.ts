import { execFileSync } from "node:child_process";

/** A network of one cable between this machine and a name space in which the daemon runs. */
export interface CutNetwork {
  /** Where the broker listens. */
  readonly brokerHost: string;
  /** What runs a command at the other end. */
  readonly launcher: readonly string[];
  cut(way: "both ways" | "to the broker" | "from the broker"): void;
  dispose(): void;
}

/** Nobody has it: frames to it are lost, and neither end is told. */
const nobody = "02:00:00:00:00:99";
let made = 0;

export function createCutNetwork(): CutNetwork {
  made += 1;
  const tag = `fz${process.pid % 100_000}x${made}`;
  const [near, far] = [`${tag}n`, `${tag}f`];
  // Link-local addresses (RFC 3927) are routed nowhere else.
  const net = `169.254.${100 + (process.pid % 100)}`;
  const [brokerHost, daemonHost] = [`${net}.${4 * made + 1}`, `${net}.${4 * made + 2}`];
  const ip = (...args: readonly string[]): void => void execFileSync("ip", args, { stdio: "pipe" });
  const launcher = ["ip", "netns", "exec", tag];
  const ipThere = (...args: readonly string[]): void => ip("-n", tag, ...args);
  ip("netns", "add", tag);
  ip("link", "add", near, "type", "veth", "peer", "name", far, "netns", tag);
  ip("address", "add", `${brokerHost}/30`, "dev", near);
  ip("link", "set", near, "up");
  ipThere("address", "add", `${daemonHost}/30`, "dev", far);
  ipThere("link", "set", far, "up");
  ipThere("link", "set", "lo", "up");
  const lose = (host: string, device: string): readonly string[] => [
    ...["neigh", "replace", host, "lladdr", nobody, "dev", device, "nud", "permanent"],
  ];
  return {
    brokerHost,
    launcher,
    cut(way) {
      if (way === "both ways") ip("link", "set", near, "down");
      else if (way === "to the broker") ipThere(...lose(brokerHost, far));
      else ip(...lose(daemonHost, near));
    },
    dispose() {
      ip("link", "delete", near);
      ip("netns", "delete", tag);
    },
  };
}
