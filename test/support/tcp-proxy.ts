import { connect, createServer, type Server, type Socket } from "node:net";

/** A TCP proxy on loopback that can do what cables and routers do. */
export interface TcpProxy {
  readonly port: number;
  /** Swallows every byte in both directions from now on; nobody is told: a half-open link. */
  swallow(): void;
  /** Lets bytes through again; what was swallowed stays lost. */
  pass(): void;
  /** Breaks the connections and refuses new ones. */
  cut(): Promise<void>;
  /** Listens again after a cut, on the same port. */
  restore(): Promise<void>;
  /** Connections that were accepted so far. */
  accepted(): number;
  close(): Promise<void>;
}

export async function startTcpProxy(target: { readonly port: number }): Promise<TcpProxy> {
  const pairs = new Set<readonly [Socket, Socket]>();
  let swallows = false;
  let accepted = 0;
  let server: Server | undefined;
  let port = 0;

  const accept = (client: Socket): void => {
    accepted += 1;
    const broker = connect({ port: target.port, host: "127.0.0.1" });
    const pair = [client, broker] as const;
    pairs.add(pair);
    const drop = (): void => {
      pairs.delete(pair);
      client.destroy();
      broker.destroy();
    };
    for (const [from, to] of [
      [client, broker],
      [broker, client],
    ] as const) {
      from.on("data", (chunk) => {
        if (!swallows) to.write(chunk);
      });
      from.on("error", () => undefined);
      // A side that closes behind a dead link is not heard of on the other.
      from.on("close", () => {
        if (!swallows) drop();
      });
    }
  };
  const listen = async (): Promise<void> => {
    const next = createServer({ noDelay: true }, accept);
    server = next;
    await new Promise<void>((resolve) => next.listen(port, "127.0.0.1", resolve));
    const address = next.address();
    if (address !== null && typeof address !== "string") ({ port } = address);
  };
  const cut = async (): Promise<void> => {
    const closing = server;
    server = undefined;
    const closed = new Promise((resolve) =>
      closing === undefined ? resolve(undefined) : closing.close(resolve),
    );
    for (const [client, broker] of pairs) {
      client.destroy();
      broker.destroy();
    }
    pairs.clear();
    await closed;
  };

  await listen();
  return {
    get port() {
      return port;
    },
    swallow() {
      swallows = true;
    },
    pass() {
      swallows = false;
    },
    cut,
    restore: listen,
    accepted: () => accepted,
    close: cut,
  };
}
