/**
 * The process that holds the dead-man connections. It is apart from the daemon so that a killed, stopped or
 * stalled daemon still leaves someone to break them, whereupon the broker publishes the closing commands.
 */
import { performance } from "node:perf_hooks";
import { createDeadManHolder, type DeadManHolder } from "./dead-man-holder.js";
import { isToDeadMan, machineMonotonic_ms, type FromDeadMan, type ToDeadMan } from "./dead-man-messages.js";

const reportEvery_ms = 1_000;
const lookEvery_ms = 100;
const breakWithin_ms = 1_500;

let holders: readonly DeadManHolder[] = [];
let longestBeatGap_ms = 2_000;
let lastBeat_ms = Number.NEGATIVE_INFINITY;
let armed = false;
let ending = false;
let sending = false;
let reportWanted = false;

function send(message: FromDeadMan): void {
  // A stopped daemon does not read: one message may wait, more would pile up.
  if (process.send === undefined || !process.connected || sending) return;
  sending = true;
  process.send(message, undefined, undefined, () => {
    sending = false;
    if (reportWanted) report();
  });
}

function report(): void {
  reportWanted = sending;
  send({
    kind: "report",
    armed: holders.flatMap((holder) => {
      const address = holder.armedAt();
      return address === undefined ? [] : [{ relayId: holder.relayId, address }];
    }),
    faults: holders.flatMap((holder) => {
      const reason = holder.fault();
      return reason === undefined ? [] : [{ relayId: holder.relayId, reason }];
    }),
  });
}

async function sendOn({ relayId, message, given_monotonicMs }: ToDeadMan & { kind: "send" }): Promise<void> {
  const waited_ms = machineMonotonic_ms() - given_monotonicMs;
  // What lay unread while this process was frozen must not switch anything on now.
  const isLate = message.expiry_s !== undefined && waited_ms >= message.expiry_s * 1000;
  const outcome = isLate
    ? { kind: "failed" as const, reason: `it had waited for ${Math.round(waited_ms / 1000)} s` }
    : await holders.find((holder) => holder.relayId === relayId)?.send(message);
  if (outcome?.kind === "sent") return;
  const reason = outcome?.kind === "failed" ? outcome.reason : "the relay has no dead-man connection";
  send({ kind: "not sent", relayId, reason });
}

function trip(): void {
  armed = false;
  for (const holder of holders) holder.trip();
}

function leave(): void {
  trip();
  process.exit(0);
}

async function release(): Promise<void> {
  armed = false;
  await Promise.race([
    Promise.all(holders.map((holder) => holder.release())),
    new Promise((resolve) => setTimeout(resolve, breakWithin_ms)),
  ]);
  process.exit(0);
}

function receive(message: ToDeadMan): void {
  if (ending) return;
  switch (message.kind) {
    case "guard":
      if (holders.length > 0) return;
      ({ longestBeatGap_ms } = message);
      holders = message.relays.map((relay) =>
        createDeadManHolder({
          access: message.access,
          keepalive_s: message.keepalive_s,
          relay,
          onChange: report,
        }),
      );
      send({ kind: "ready" });
      return;
    case "beat":
      lastBeat_ms = performance.now();
      armed = true;
      for (const holder of holders) holder.arm(message.address);
      return;
    case "send":
      void sendOn(message);
      return;
    case "release":
      ending = true;
      void release();
      return;
    case "trip":
      ending = true;
      leave();
      return;
  }
}

// The terminal and the service manager signal the whole group; only the daemon decides when this process ends.
for (const signal of ["SIGINT", "SIGTERM", "SIGHUP", "SIGTSTP"] as const) process.on(signal, () => undefined);
process.on("disconnect", leave);
// A daemon that ended while this file was still being loaded was heard by nobody.
if (!process.connected) leave();
process.on("message", (message: unknown) => {
  if (isToDeadMan(message)) receive(message);
});
setInterval(() => {
  if (armed && performance.now() - lastBeat_ms > longestBeatGap_ms) trip();
}, lookEvery_ms);
setInterval(report, reportEvery_ms);
