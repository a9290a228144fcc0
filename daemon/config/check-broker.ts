import { parseBrokerAddress } from "../mqtt/broker-connection-options.js";
import type { CheckContext } from "./config-view.js";
import { isLoopback } from "./loopback.js";

/** What the keys of `broker` say against each other. */
export function checkBroker(context: CheckContext): void {
  const { view } = context;
  const usesTls = checkAddresses(context);
  const user = ["broker", "user"];
  const password = ["broker", "password"];
  const passwordFile = ["broker", "passwordFile"];

  if (view.has(password) && view.has(passwordFile)) {
    context.faultOfKey(passwordFile, {
      what: `stands beside password (line ${view.positionOfKey(password).line})`,
      allowed: "one of the two",
      todo: "remove password and keep the file",
    });
  }
  for (const path of [password, passwordFile]) {
    if (!view.has(path) || view.has(user)) continue;
    context.faultOfKey(path, {
      what: "stands without a user",
      allowed: "a password together with user",
      todo: "add user, or remove the password",
    });
  }
  if (view.text(password) !== undefined) {
    context.warning(password, {
      what: "stands in this file, where whoever reads the file reads it",
      allowed: "a passwordFile that only the daemon can read",
      todo: "move the password to a file of its own and name that in passwordFile",
    });
  }
  checkTls(context, usesTls);
}

/** True when any address is encrypted. */
function checkAddresses(context: CheckContext): boolean {
  const { view } = context;
  const seen = new Map<string, number>();
  let usesTls = false;
  for (let index = 0; index < view.length(["broker", "addresses"]); index += 1) {
    const path = ["broker", "addresses", index];
    const text = view.text(path);
    if (text === undefined || text === "") continue;
    const parsed = parseBrokerAddress(text);
    if (parsed.kind === "invalid") {
      context.fault(path, {
        what: `is no address of a broker: ${parsed.reason.split("; ")[0] ?? parsed.reason}`,
        allowed:
          "mqtt://host:1883, or mqtts://host:8883 for an encrypted connection; the port may be left out",
        todo: "correct the address",
      });
      continue;
    }
    const { address } = parsed;
    usesTls ||= address.tls;
    const first = seen.get(address.text);
    if (first !== undefined) {
      context.fault(path, {
        what: `is the same address as the one in line ${first}`,
        allowed: "each address once",
        todo: "remove one of the two",
      });
    }
    seen.set(address.text, view.positionOfValue(path).line);
    const sendsPassword = view.has(["broker", "password"]) || view.has(["broker", "passwordFile"]);
    if (sendsPassword && !address.tls && !isLoopback(address.host)) {
      context.warning(path, {
        what: "sends the password unencrypted over the network",
        allowed: "mqtts:// for a broker on another machine",
        todo: "use mqtts:// if the broker offers it",
      });
    }
  }
  return usesTls;
}

function checkTls(context: CheckContext, usesTls: boolean): void {
  const { view } = context;
  const tls = ["broker", "tls"];
  if (!view.has(tls)) return;
  const pairs = [
    ["keyFile", "certificateFile", "a key is of no use without its certificate"],
    ["certificateFile", "keyFile", "a certificate is of no use without its key"],
  ] as const;
  for (const [present, absent, why] of pairs) {
    if (!view.has([...tls, present]) || view.has([...tls, absent])) continue;
    context.faultOfKey([...tls, present], {
      what: `stands without ${absent}: ${why}`,
      allowed: "keyFile and certificateFile together, or neither",
      todo: `add ${absent}, or remove ${present}`,
    });
  }
  if (!usesTls && view.length(["broker", "addresses"]) > 0) {
    context.warning(tls, {
      what: "is not used, since no address is encrypted",
      allowed: "an address that begins with mqtts://",
      todo: "change the address, or remove tls",
    });
  }
  const unverified = view.node([...tls, "acceptUnverified"]);
  if (unverified?.kind === "scalar" && unverified.value === true) {
    context.warning([...tls, "acceptUnverified"], {
      what: "lets anyone in the network pose as the broker",
      allowed: "false, with the authority's certificate in caFile",
      todo: "use it for a trial only",
    });
  }
}
