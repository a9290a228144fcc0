import { createCertificateAuthority } from "../support/certificates.js";
import { startMosquitto } from "../support/mosquitto.js";
import { eventually } from "../support/eventually.js";
import type { Fault } from "./fault.js";
import { closes, staysInCommand, watched } from "./fault-courses.js";
import { steady, type FaultSiteOptions } from "./fault-site.js";

const autoOff: FaultSiteOptions = { autoOff_s: 10 };
const byAutoOff = "the relay's own auto-off, here 10 s";

/** A site whose daemon cannot come in at the broker. */
function keptOut(
  name: string,
  reason: string,
  options: () => { readonly site: FaultSiteOptions; readonly end: () => void },
): Fault {
  const made = { current: undefined as ReturnType<typeof options> | undefined };
  return {
    name,
    verdict: "closed",
    limit_s: 20,
    alarm: "broker",
    because: "no connection, no command; the time is that of the alarm",
    get site() {
      return (made.current ??= options()).site;
    },
    run: async (site) => {
      await site.start();
      const from_ms = performance.now();
      site.senses(steady("6.8"));
      const { finding } = await watched(site, "broker", from_ms, 12_000);
      const said = site.daemon.output().includes(reason);
      made.current?.end();
      return {
        ...finding,
        lost: "every reading, since none comes in",
        ...(said ? {} : { miss: `the log does not say "${reason}"` }),
      };
    },
  };
}

function withCertificate(kind: "of a stranger" | "expired") {
  return () => {
    const ours = createCertificateAuthority("the household");
    const other = createCertificateAuthority("a stranger");
    const issuer = kind === "expired" ? ours : other;
    const issued = issuer.issue("broker", "IP:127.0.0.1", kind === "expired" ? -1 : 2);
    return {
      site: {
        config: { brokerKeys: `, tls: { caFile: "${ours.caFile}" }` },
        broker: { tls: { caFile: issuer.caFile, ...issued } },
      },
      end: () => [ours, other].forEach((authority) => authority.dispose()),
    };
  };
}

/** The broker: killed, frozen, forgetful, closed to us. */
export const brokerFaults: readonly Fault[] = [
  closes({
    name: "the broker is killed",
    limit_s: 11,
    alarm: "broker",
    site: autoOff,
    because: byAutoOff,
    act: (site) => site.broker.kill(),
  }),
  closes({
    name: "the broker is frozen",
    limit_s: 11,
    alarm: "broker",
    site: autoOff,
    because: byAutoOff,
    act: (site) => {
      site.broker.signal("SIGSTOP");
      site.endsWithSite(() => site.broker.signal("SIGCONT"));
    },
  }),
  staysInCommand({
    name: "the broker is restarted and has forgotten everything retained",
    because:
      "on a new connection nothing that was said before counts: the next pass says ON or OFF anew, and ON only where the broker holds the closing command again",
    act: async (site) => {
      await site.broker.kill();
      await site.broker.start();
      return () => undefined;
    },
  }),
  closes({
    name: "the broker is restarted with other credentials",
    limit_s: 11,
    alarm: "broker",
    site: autoOff,
    because: byAutoOff,
    act: async (site) => {
      const { port } = site.broker;
      await site.broker.kill();
      const other = await startMosquitto({ port, users: { somebody: "else" }, logType: "error" });
      site.endsWithSite(() => other.stop());
    },
    afterwards: async (site) => {
      await eventually(
        () => {
          if (!/not authori[sz]ed|refuses|password/i.test(site.daemon.output())) throw new Error("not said");
        },
        { timeout_ms: 5000 },
      );
      return undefined;
    },
  }),
  keptOut("the password is wrong", "assword", () => ({
    site: {
      broker: { users: { fizzward: "right" }, logType: "error" },
      config: { brokerKeys: ", user: fizzward, password: wrong" },
    },
    end: () => undefined,
  })),
  keptOut(
    "the broker's certificate is of an authority that is not trusted",
    "not trusted",
    withCertificate("of a stranger"),
  ),
  keptOut("the broker's certificate has expired", "expired", withCertificate("expired")),
];
