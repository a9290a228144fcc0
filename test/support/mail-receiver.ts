import { createServer, type AddressInfo, type Socket } from "node:net";

export interface ReceivedMail {
  readonly login: string | undefined;
  readonly from: string;
  readonly to: readonly string[];
  /** Header and text, as they came. */
  readonly data: string;
}

/** How the server behaves: as one does, refusing the receiver, busy, silent after the connection, or gone after the mail. */
export type MailManner = "ordinary" | "refuses" | "busy" | "hangs" | "cuts after the mail";

/** As much of an SMTP server (RFC 5321, with AUTH PLAIN of RFC 4954) as a test needs, on loopback. */
export interface MailReceiver {
  readonly port: number;
  readonly got: readonly ReceivedMail[];
  behave(manner: MailManner): void;
  close(): Promise<void>;
}

export async function startMailReceiver(): Promise<MailReceiver> {
  const got: ReceivedMail[] = [];
  const sockets = new Set<Socket>();
  let manner: MailManner = "ordinary";
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
    socket.on("error", () => socket.destroy());
    if (manner !== "hangs") converse(socket);
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;
  return {
    port,
    got,
    behave: (next) => {
      manner = next;
    },
    close: () =>
      new Promise((resolve) => {
        sockets.forEach((socket) => socket.destroy());
        server.close(() => resolve());
      }),
  };

  function converse(socket: Socket): void {
    const say = (line: string): void => void socket.write(`${line}\r\n`);
    let rest = "";
    let mail = { login: undefined as string | undefined, from: "", to: [] as string[] };
    let data: string[] | undefined;
    socket.setEncoding("utf8");
    say("220 mail.home.arpa ready");
    socket.on("data", (chunk) => {
      rest += String(chunk);
      const lines = rest.split("\r\n");
      rest = lines.pop() ?? "";
      for (const line of lines) take(line);
    });

    function take(line: string): void {
      if (data !== undefined) {
        if (line !== ".") {
          data.push(line.replace(/^\.\./, "."));
          return;
        }
        got.push({ ...mail, data: data.join("\n") });
        data = undefined;
        if (manner === "cuts after the mail") socket.destroy();
        else say("250 2.0.0 taken");
        return;
      }
      const [verb = "", ...words] = line.split(" ");
      switch (verb.toUpperCase()) {
        case "EHLO":
          say("250-mail.home.arpa");
          say("250 AUTH PLAIN");
          return;
        case "AUTH":
          mail = {
            ...mail,
            login: Buffer.from(words[1] ?? "", "base64")
              .toString("utf8")
              .replaceAll("\0", " "),
          };
          say("235 2.7.0 welcome");
          return;
        case "MAIL":
          if (manner === "busy") {
            say("451 4.3.2 later, please");
            return;
          }
          mail = { ...mail, from: words.join(" "), to: [] };
          say("250 2.1.0 go on");
          return;
        case "RCPT":
          if (manner === "refuses") {
            say("550 5.1.1 nobody of that name");
            return;
          }
          mail = { ...mail, to: [...mail.to, words.join(" ")] };
          say("250 2.1.5 go on");
          return;
        case "DATA":
          data = [];
          say("354 speak");
          return;
        case "QUIT":
          say("221 2.0.0 bye");
          socket.end();
          return;
        default:
          say("250 2.0.0 as you like");
      }
    }
  }
}
