import { createServer, type Socket } from "node:net";

/** How the broker answers; the bytes are those of OASIS MQTT 3.1.1 and MQTT 5.0, chapter 3. */
export interface BrokerScript {
  /** To a CONNECT of a protocol level (3.1.1: 4; MQTT 5: 5): an answer, or nothing and the end of the connection. */
  connack(protocolLevel: number): Uint8Array | "close";
  /** The code of a SUBACK; "silence" sends none. */
  suback?(protocolLevel: number): number | "silence";
  readonly acknowledgesPublish?: boolean;
}

export interface ScriptedBroker {
  readonly address: string;
  /** The protocol levels of all CONNECT packets so far. */
  readonly connects: readonly number[];
  /** Packet identifiers of the PUBLISH packets with QoS 1 so far. */
  readonly publishes: readonly number[];
  /** Sends bytes on the newest connection. */
  send(bytes: Uint8Array): void;
  /** Acknowledges a PUBLISH on the newest connection. */
  acknowledge(packetId: number): void;
  /** Answers nothing any more. */
  fallSilent(): void;
  /** Closes all connections. */
  drop(): void;
  close(): Promise<void>;
}

export const connackOf = {
  /** 3.1.1, 3.2: accepted, or the return code. */
  v311: (returnCode: number): Uint8Array => Uint8Array.of(0x20, 2, 0, returnCode),
  /** 5.0, 3.2: reason code and properties. */
  v5: (reasonCode: number, properties: readonly number[] = []): Uint8Array =>
    Uint8Array.of(0x20, 3 + properties.length, 0, reasonCode, properties.length, ...properties),
};
/** 5.0, 3.14: DISCONNECT with a reason code and no properties. */
export const disconnectWith = (reasonCode: number): Uint8Array => Uint8Array.of(0xe0, 2, reasonCode, 0);

/** A broker that knows just enough MQTT to answer as no well-behaved broker would when asked to. */
export async function startScriptedBroker(script: BrokerScript): Promise<ScriptedBroker> {
  const connects: number[] = [];
  const publishes: number[] = [];
  const sockets = new Set<Socket>();
  let newest: Socket | undefined;
  let silent = false;

  const answer = (socket: Socket, level: number, type: number, flags: number, body: Buffer): number => {
    const write = (...bytes: readonly number[]): void => void socket.write(Uint8Array.from(bytes));
    switch (type) {
      case 1: {
        // "MQTT" with its length takes six bytes, the protocol level follows.
        const connectLevel = body[6] ?? 0;
        connects.push(connectLevel);
        const connack = script.connack(connectLevel);
        if (connack === "close") socket.end();
        else socket.write(connack);
        return connectLevel;
      }
      case 3: {
        if (((flags >> 1) & 3) === 0) return level;
        const at = 2 + body.readUInt16BE(0);
        const id = body.readUInt16BE(at);
        publishes.push(id);
        if (script.acknowledgesPublish !== false) write(0x40, 2, id >> 8, id & 255);
        return level;
      }
      case 8: {
        const code = script.suback?.(level) ?? 0;
        const id = [body[0] ?? 0, body[1] ?? 0];
        if (code === "silence") return level;
        if (level === 5) write(0x90, 4, ...id, 0, code);
        else write(0x90, 3, ...id, code);
        return level;
      }
      case 12:
        write(0xd0, 0);
        return level;
      default:
        return level;
    }
  };

  const server = createServer({ noDelay: true }, (socket) => {
    newest = socket;
    sockets.add(socket);
    let level = 0;
    let buffered = Buffer.alloc(0);
    socket.on("error", () => undefined);
    socket.on("close", () => sockets.delete(socket));
    socket.on("data", (chunk) => {
      if (silent) return;
      buffered = Buffer.concat([buffered, chunk]);
      for (;;) {
        let length = 0;
        let at = 1;
        for (; at < 5; at += 1) {
          const byte = buffered[at];
          if (byte === undefined) return;
          length += (byte & 127) * 128 ** (at - 1);
          if (byte < 128) break;
        }
        const end = at + 1 + length;
        const first = buffered[0];
        if (first === undefined || buffered.length < end) return;
        level = answer(socket, level, first >> 4, first & 15, buffered.subarray(at + 1, end));
        buffered = buffered.subarray(end);
      }
    });
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const address = server.address();
  if (address === null || typeof address === "string") throw new Error("no port");
  const drop = (): void => {
    for (const socket of sockets) socket.destroy();
  };
  return {
    address: `mqtt://127.0.0.1:${address.port}`,
    connects,
    publishes,
    send: (bytes) => void newest?.write(bytes),
    acknowledge: (packetId) => void newest?.write(Uint8Array.of(0x40, 2, packetId >> 8, packetId & 255)),
    fallSilent() {
      silent = true;
    },
    drop,
    async close() {
      const closed = new Promise((resolve) => server.close(resolve));
      drop();
      await closed;
    },
  };
}
