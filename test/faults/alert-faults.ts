import { createServer, type AddressInfo, type Socket } from "node:net";
import type { Fault } from "./fault.js";
import { closes, staysInCommand } from "./fault-courses.js";
import type { FaultSite } from "./fault-site.js";

/** A server that takes connections and never says a word. */
async function mute(site: FaultSite): Promise<number> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on("error", () => socket.destroy());
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  site.endsWithSite(() => {
    sockets.forEach((socket) => socket.destroy());
    server.close();
  });
  return (server.address() as AddressInfo).port;
}

const channel = (lines: string): Readonly<Record<string, string>> => ({
  sections: `alerts: { channels: { phone: ${lines} }, routes: [{ to: [phone], groupWithin_s: 0 }] }`,
});

/** Alerts that nobody takes, and alarms without end. */
export const alertFaults: readonly Fault[] = [
  staysInCommand({
    name: "the webhook takes the connection and never answers",
    prepare: async (site) =>
      channel(`{ kind: webhook, url: "http://127.0.0.1:${await mute(site)}/", timeout_s: 30 }`),
    act: () => Promise.resolve(() => undefined),
  }),
  staysInCommand({
    name: "the mail server takes the connection and never speaks",
    prepare: async (site) =>
      channel(
        `{ kind: smtp, host: 127.0.0.1, port: ${await mute(site)}, encryption: none, from: a@home.arpa, to: [b@home.arpa] }`,
      ),
    act: () => Promise.resolve(() => undefined),
  }),
  closes({
    name: "reports of on and off flood the relay's topic, 400 a second, and its alarm comes and goes",
    limit_s: 5,
    alarm: "relay/outlet",
    because: "a relay that reports off though it was told on is told off",
    act: (site) => {
      let beat = 0;
      const timer = setInterval(() => {
        for (let count = 0; count < 8; count += 1) {
          void site.say("relay/state", beat++ % 2 === 0 ? "OFF" : "ON").catch(() => undefined);
        }
      }, 20);
      site.endsWithSite(() => clearInterval(timer));
    },
    afterwards: (site) => {
      const lines = site.daemon.output().split("\n").length;
      return Promise.resolve(lines > 500 ? `the log grew to ${lines} lines` : undefined);
    },
  }),
];
