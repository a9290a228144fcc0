import type { RelayMessage } from "../ports/dead-man.js";
import type { BrokerAccess } from "./broker-connection-options.js";

/** A relay's dead-man connection as the process that holds it needs it. */
export interface HeldRelay {
  readonly relayId: string;
  readonly clientId: string;
  readonly commandTopic: string;
  readonly payloadOff: string;
}

/** From the daemon to the dead-man process. Passwords and keys travel here, never as argument or environment. */
export type ToDeadMan =
  | {
      readonly kind: "guard";
      readonly access: BrokerAccess;
      readonly keepalive_s: number;
      readonly longestBeatGap_ms: number;
      readonly relays: readonly HeldRelay[];
    }
  /** `address` is that of the broker which the daemon itself uses, where it uses one. */
  | { readonly kind: "beat"; readonly address?: string }
  | {
      readonly kind: "send";
      readonly relayId: string;
      readonly message: RelayMessage;
      /** By the machine's monotonic clock, which its processes share. */
      readonly given_monotonicMs: number;
    }
  /** End with DISCONNECT, so that no will is published: the relays are known to be off. */
  | { readonly kind: "release" }
  /** Break the connections, so that every will is published. */
  | { readonly kind: "trip" };

/** From the dead-man process to the daemon. */
export type FromDeadMan =
  | { readonly kind: "ready" }
  | { readonly kind: "not sent"; readonly relayId: string; readonly reason: string }
  | {
      readonly kind: "report";
      /** The broker at `address` holds the relay's closing command. */
      readonly armed: readonly { readonly relayId: string; readonly address: string }[];
      readonly faults: readonly { readonly relayId: string; readonly reason: string }[];
    };

const kinds: Readonly<Record<(ToDeadMan | FromDeadMan)["kind"], "to" | "from">> = {
  guard: "to",
  beat: "to",
  send: "to",
  release: "to",
  trip: "to",
  ready: "from",
  "not sent": "from",
  report: "from",
};

function directionOf(message: unknown): "to" | "from" | undefined {
  if (typeof message !== "object" || message === null || !("kind" in message)) return undefined;
  const { kind } = message;
  return typeof kind === "string" && Object.hasOwn(kinds, kind)
    ? kinds[kind as keyof typeof kinds]
    : undefined;
}

/** Of the machine, not of the process: both ends read the same. */
export function machineMonotonic_ms(): number {
  return Number(process.hrtime.bigint() / 1_000_000n);
}

/** Both ends come from one build, so the kind alone tells the rest. */
export function isToDeadMan(message: unknown): message is ToDeadMan {
  return directionOf(message) === "to";
}

export function isFromDeadMan(message: unknown): message is FromDeadMan {
  return directionOf(message) === "from";
}
