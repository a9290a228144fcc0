import { createServer, type Socket } from "node:net";
import { Aedes } from "aedes";

/** A broker inside this process, for the demo and for tests. Not for a home: it keeps nothing and asks no password. */
export interface EmbeddedBroker {
  /** Listens on the loopback interface only. Resolves with the address, as mqtt://127.0.0.1:34567. */
  start(): Promise<string>;
  /** Cuts all connections and resolves when the port is free. */
  stop(): Promise<void>;
}

export class BrokerNotListeningError extends Error {
  override readonly name = "BrokerNotListeningError";

  constructor(cause: unknown) {
    super("the embedded broker could not listen on the loopback interface", { cause });
  }
}

/** MQTT 3.1.1 on a port that is free. */
export function createEmbeddedBroker(): EmbeddedBroker {
  const sockets = new Set<Socket>();
  // Small packets leave at once; with the kernel's collecting, each answer takes 40 ms, half a minute of the demo.
  const server = createServer({ noDelay: true });
  let broker: Aedes | undefined;

  const listen = async (): Promise<string> => {
    const aedes = await Aedes.createBroker();
    broker = aedes;
    server.on("connection", (socket) => {
      sockets.add(socket);
      socket.once("close", () => sockets.delete(socket));
      aedes.handle(socket);
    });
    await new Promise<void>((resolve, reject) => {
      server.once("error", (error) => reject(new BrokerNotListeningError(error)));
      server.listen({ host: "127.0.0.1", port: 0 }, resolve);
    });
    const address = server.address();
    if (address === null || typeof address === "string") throw new BrokerNotListeningError(address);
    return `mqtt://127.0.0.1:${address.port}`;
  };

  return {
    start: listen,
    async stop() {
      const closed = new Promise<void>((resolve) => {
        if (server.listening) server.close(() => resolve());
        else resolve();
      });
      const aedes = broker;
      broker = undefined;
      if (aedes !== undefined) await new Promise<void>((resolve) => aedes.close(resolve));
      for (const socket of sockets) socket.destroy();
      await closed;
    },
  };
}
