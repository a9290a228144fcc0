import { connect as connectTcp, isIP, type Socket } from "node:net";
import { connect as connectTls, type ConnectionOptions, type TLSSocket } from "node:tls";
import type { BrokerAddress, BrokerTls } from "./broker-connection-options.js";
import { errorInWords } from "./fault-in-words.js";

/** An established TCP or TLS connection. */
interface BrokerSocket {
  readonly stream: Socket | TLSSocket;
  /**
   * Breaks the connection with a TCP reset: what still stands in the send buffer is thrown away instead of being
   * delivered by the kernel after we have given the connection up.
   */
  reset(): void;
}

export type SocketOutcome =
  | { readonly kind: "socket"; readonly socket: BrokerSocket }
  | { readonly kind: "failed"; readonly reason: string };

function tlsOptions(raw: Socket, address: BrokerAddress, tls: BrokerTls): ConnectionOptions {
  return {
    socket: raw,
    ...(isIP(address.host) === 0 ? { servername: address.host } : { host: address.host }),
    ...(tls.ca === undefined ? {} : { ca: tls.ca }),
    ...(tls.certificate === undefined ? {} : { cert: tls.certificate }),
    ...(tls.key === undefined ? {} : { key: tls.key }),
    rejectUnauthorized: tls.acceptUnverified !== true,
    minVersion: "TLSv1.2",
  };
}

/** Opens TCP, and TLS where the address asks for it; resolves within the time given, whatever happens. */
export function openBrokerSocket(
  address: BrokerAddress,
  tls: BrokerTls,
  timeout_ms: number,
  signal: AbortSignal,
): Promise<SocketOutcome> {
  return new Promise((resolve) => {
    const raw = connectTcp({ host: address.host, port: address.port, noDelay: true });
    let stream: Socket | TLSSocket = raw;
    let settled = false;
    const reset = (): void => {
      if (raw.connecting) raw.destroy();
      else if (!raw.destroyed) raw.resetAndDestroy();
      stream.destroy();
    };
    const settle = (outcome: SocketOutcome): void => {
      if (settled) return;
      settled = true;
      clearTimeout(timer);
      signal.removeEventListener("abort", onAbort);
      if (outcome.kind === "failed") reset();
      resolve(outcome);
    };
    const fail = (reason: string): void => settle({ kind: "failed", reason });
    const onAbort = (): void => fail("stopped");
    const timer = setTimeout(() => fail(`no connection within ${timeout_ms / 1000} s`), timeout_ms);
    // The listeners stay: an error that comes after the end must not become an uncaught one.
    raw.on("error", (error) => fail(errorInWords(error)));
    raw.on("close", () => fail("the connection was closed before it was established"));
    raw.once("connect", () => {
      if (!address.tls) {
        settle({ kind: "socket", socket: { stream, reset } });
        return;
      }
      try {
        const secure = connectTls(tlsOptions(raw, address, tls));
        stream = secure;
        secure.on("error", (error) => fail(errorInWords(error)));
        secure.once("secureConnect", () => settle({ kind: "socket", socket: { stream: secure, reset } }));
      } catch (error) {
        // A certificate or key that cannot be read is found only here.
        fail(`the TLS files cannot be used: ${errorInWords(error)}`);
      }
    });
    if (signal.aborted) onAbort();
    else signal.addEventListener("abort", onAbort, { once: true });
  });
}
