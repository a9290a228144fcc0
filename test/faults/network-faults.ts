import type { Fault } from "./fault.js";
import { closes } from "./fault-courses.js";

/** Without the dead-man's connection the broker sends the closing command; it hears nothing for 7.5 s, and looks every 5 s or so. */
const cutOff_s = 14;

/** The cable between daemon and broker, in a network name space, and the relay's own network. */
export const networkFaults: readonly Fault[] = [
  closes({
    name: "the network is cut both ways between daemon and broker",
    limit_s: cutOff_s,
    alarm: "broker",
    site: { onCable: true },
    because: "the broker misses the keepalive and sends the closing command",
    act: (site) => site.network?.cut("both ways"),
  }),
  closes({
    name: "the network is cut from daemon to broker only",
    limit_s: cutOff_s,
    alarm: "broker",
    site: { onCable: true },
    because: "the broker misses the keepalive and sends the closing command",
    act: (site) => site.network?.cut("to the broker"),
  }),
  closes({
    name: "the network is cut from broker to daemon only",
    limit_s: cutOff_s + 4,
    alarm: "broker",
    site: { onCable: true },
    because: "the daemon hears nothing and ends the connection, or the broker misses the keepalive",
    act: (site) => site.network?.cut("from the broker"),
  }),
  closes({
    name: "the relay loses its network",
    limit_s: 11,
    alarm: "none",
    site: { autoOff_s: 10 },
    because:
      "the relay's own auto-off, here 10 s; the daemon misses it at the next closing, or at once where it answers a statusQuery",
    act: (site) => site.relay.unplugNetwork(),
  }),
];
