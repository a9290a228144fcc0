import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { createCertificateAuthority, type CertificateAuthority } from "../support/certificates.js";
import type { Mosquitto } from "../support/mosquitto.js";
import { disconnectedBecause, MqttBench } from "../support/mqtt-bench.js";

const bench = new MqttBench();
afterEach(() => bench.clear());

describe("the MQTT bus over TLS", () => {
  let ours: CertificateAuthority;
  let foreign: CertificateAuthority;
  beforeAll(() => {
    ours = createCertificateAuthority("the household");
    foreign = createCertificateAuthority("a stranger");
  });
  afterAll(() => {
    ours.dispose();
    foreign.dispose();
  });

  const tlsBroker = (
    requireCertificate: boolean,
    name = "IP:127.0.0.1",
    authority = ours,
  ): Promise<Mosquitto> =>
    bench.mosquitto({
      tls: { caFile: ours.caFile, requireCertificate, ...authority.issue("broker", name) },
      lines: requireCertificate ? ["use_identity_as_username true"] : [],
    });

  it("connects by MQTT 5 where it trusts the broker's authority", async () => {
    const mosquitto = await tlsBroker(false);
    const bus = await bench.connectedBus({ addresses: [mosquitto.address], tls: { ca: ours.ca } });
    expect(bus.state()).toMatchObject({ address: mosquitto.address, protocolVersion: 5 });
    const outcome = await bus.publish({ topic: "a", payload: "1", qos: 1, retain: false });
    expect(outcome).toEqual({ kind: "sent" });
  });

  it("connects with a certificate of its own where the broker asks for one", async () => {
    const mosquitto = await tlsBroker(true);
    const { certificate, key } = ours.issue("fizzward");
    const bus = await bench.connectedBus({
      addresses: [mosquitto.address],
      tls: { ca: ours.ca, certificate, key },
    });
    expect(bus.state().kind).toBe("connected");
    expect(mosquitto.log()).toContain("u'fizzward'");
  });

  it.each([
    { what: "the broker's authority is not trusted", tls: () => ({}), says: "not trusted" },
    { what: "another authority is trusted", tls: () => ({ ca: foreign.ca }), says: "not trusted" },
    {
      what: "the authority is no certificate",
      tls: () => ({ ca: "nonsense" }),
      says: "not trusted|TLS files",
    },
    {
      what: "our key does not fit our certificate",
      tls: () => ({ ca: ours.ca, certificate: ours.issue("a").certificate, key: ours.issue("b").key }),
      says: "TLS files cannot be used",
    },
  ])("does not connect when $what, and says so", async ({ tls, says }) => {
    const mosquitto = await tlsBroker(false);
    const bus = await bench.startedBus({ addresses: [mosquitto.address], tls: tls() });
    await disconnectedBecause(bus, says);
  });

  it("does not connect to a broker whose certificate was made for another name", async () => {
    const mosquitto = await tlsBroker(false, "DNS:other.example");
    const bus = await bench.startedBus({ addresses: [mosquitto.address], tls: { ca: ours.ca } });
    await disconnectedBecause(bus, "another host name");
  });

  it("does not connect without the certificate that the broker asks for", async () => {
    const mosquitto = await tlsBroker(true);
    const bus = await bench.startedBus({ addresses: [mosquitto.address], tls: { ca: ours.ca } });
    await disconnectedBecause(bus, "client certificate|reset|closed");
  });

  it("does not connect with a certificate of another authority", async () => {
    const mosquitto = await tlsBroker(true);
    const { certificate, key } = foreign.issue("fizzward");
    const bus = await bench.startedBus({
      addresses: [mosquitto.address],
      tls: { ca: ours.ca, certificate, key },
    });
    await disconnectedBecause(bus, "does not trust our client certificate|reset|closed");
  });

  it("connects to an unverified broker only where that was accepted", async () => {
    const mosquitto = await tlsBroker(false, "DNS:other.example");
    const bus = await bench.connectedBus({
      addresses: [mosquitto.address],
      tls: { acceptUnverified: true },
    });
    expect(bus.state().kind).toBe("connected");
  });

  it("says so when the port does not speak TLS", async () => {
    const mosquitto = await bench.mosquitto();
    const bus = await bench.startedBus({ addresses: [`mqtts://127.0.0.1:${mosquitto.port}`] });
    await disconnectedBecause(bus, "TLS|closed|reset");
  });
});
