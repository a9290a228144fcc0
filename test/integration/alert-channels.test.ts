import { createServer as createHttpsServer } from "node:https";
import { connect, type AddressInfo, type Server } from "node:net";
import { createServer as createTlsServer } from "node:tls";
import { afterAll, afterEach, beforeEach, describe, expect, it } from "vitest";
import { createSmtpChannel } from "../../daemon/alerts/smtp-channel.js";
import { createWebhookChannel } from "../../daemon/alerts/webhook-channel.js";
import type { AlertChannelConfig } from "../../daemon/config/config-schema.js";
import { parseConfig } from "../../daemon/config/load-config.js";
import type { AlertMessage } from "../../lib/alerts/alert-message.js";
import { createCertificateAuthority } from "../support/certificates.js";
import { benchYaml } from "../support/control-bench.js";
import { startHttpReceiver, type HttpReceiver } from "../support/http-receiver.js";
import { startMailReceiver, type MailReceiver } from "../support/mail-receiver.js";

const message: AlertMessage = {
  channel: "x",
  at_epochMs: Date.parse("2026-05-04T10:00:00Z"),
  notices: [
    {
      notice: "raised",
      alarmId: "relay/outlet",
      priority: "critical",
      state: "unacknowledged",
      subjects: ["valve/outlet", "tank/loach"],
      cause: "relay outlet does not confirm off",
      consequence: 'Gas may flow: "watch"\nthe fish. Größe ≥ 1.',
      whatToDo: "Shut the vessel by hand.",
      allowableResponse_min: 10,
      raised_epochMs: Date.parse("2026-05-04T09:59:00Z"),
    },
  ],
};
const svg = '<svg xmlns="http://www.w3.org/2000/svg"><title>x</title></svg>';
const digestMessage: AlertMessage = {
  channel: "x",
  at_epochMs: message.at_epochMs,
  notices: [],
  digest: {
    heading: "daily digest of 2026-05-04",
    text: "tank loach: CO2 in target 8.0 h",
    pictures: [{ vesselId: "cellar", alt: "Pressure of <cellar>.", svg }],
  },
};
const site = { id: "mill-pond", timeZone: (): string => "Europe/Berlin" };
const secret = "lantern & reed/42";
const key = "0b6c0f7e-3d3d-4a2f-9a63-6f1d9a0a7c55";
const never = new AbortController().signal;

function channelOf<Kind extends AlertChannelConfig["kind"]>(
  kind: Kind,
  yaml: string,
): Extract<AlertChannelConfig, { readonly kind: Kind }> {
  const parsed = parseConfig(`${benchYaml}\nalerts:\n  channels:\n    x: ${yaml}\n`, "/bench/site.yaml");
  if (parsed.kind === "invalid") {
    throw new Error(parsed.faults.map(({ keyPath, what }) => `${keyPath}: ${what}`).join("\n"));
  }
  const channel = parsed.config.alerts.channels["x"];
  if (channel?.kind !== kind) throw new Error("another kind");
  return channel as Extract<AlertChannelConfig, { readonly kind: Kind }>;
}

describe("a webhook", () => {
  let receiver: HttpReceiver;
  beforeEach(async () => {
    receiver = await startHttpReceiver();
  });
  afterEach(() => receiver.close());

  const webhook = (more = ""): ReturnType<typeof createWebhookChannel> =>
    createWebhookChannel(
      channelOf(
        "webhook",
        `{ kind: webhook, url: "${receiver.url}/notices", secretFile: token, timeout_s: 1,
           headers: { Authorization: "Bearer {secret}" }${more} }`,
      ),
      secret,
      site,
    );

  it("has a digest's text and pictures as fields", async () => {
    await webhook().deliver(digestMessage, key, never);
    expect(JSON.parse(receiver.got[0]!.body)).toMatchObject({
      heading: "mill-pond: daily digest of 2026-05-04",
      text: "tank loach: CO2 in target 8.0 h",
      priority: "low",
      count: 0,
      pictures: [{ vesselId: "cellar", alt: "Pressure of <cellar>.", svg }],
    });
  });

  it("sends the whole message with its key, the same for each try, and the secret in its header", async () => {
    const channel = webhook();
    expect(await channel.deliver(message, key, never)).toEqual({ kind: "delivered", detail: "answered 204" });
    await channel.deliver(message, key, never);
    const [first, second] = receiver.got;
    expect(first).toMatchObject({ method: "POST", url: "/notices" });
    expect(first!.headers).toMatchObject({
      "content-type": "application/json",
      authorization: `Bearer ${secret}`,
      "idempotency-key": `"${key}"`,
    });
    expect(second).toEqual(first);
    const body = JSON.parse(first!.body) as Record<string, unknown>;
    expect(body).toMatchObject({ site: "mill-pond", priority: "critical", count: 1, key });
    expect(body["heading"]).toBe("mill-pond: alarm, critical: relay outlet does not confirm off");
    expect(body["pictures"]).toEqual([]);
    expect(body["text"]).toContain("since 2026-05-04 11:59");
    expect(body["alarms"]).toMatchObject([{ id: "relay/outlet", allowableResponse_min: 10 }]);
    expect(first!.body).not.toContain(secret);
  });

  it("sends the keeper's own form with values of their own type", async () => {
    await webhook(', method: PUT, body: { n: "{count}", list: "{alarms}", s: "{{x}} {heading}" }').deliver(
      message,
      key,
      never,
    );
    expect(receiver.got[0]!.method).toBe("PUT");
    const body = JSON.parse(receiver.got[0]!.body) as Record<string, unknown>;
    expect(body["n"]).toBe(1);
    expect(body["list"]).toMatchObject([{ consequence: message.notices[0]!.consequence }]);
    expect(body["s"]).toMatch(/^\{x\} mill-pond/);
  });

  it.each([
    { status: 200, headers: {}, outcome: { kind: "delivered", detail: "answered 200" } },
    { status: 500, headers: {}, outcome: { kind: "failed", reason: "answered 500" } },
    {
      status: 429,
      headers: { "Retry-After": "120" },
      outcome: { kind: "failed", reason: "answered 429", retryAfter_s: 120 },
    },
    {
      status: 503,
      headers: { "Retry-After": "Wed, 21 Oct 2026 07:28:00 GMT" },
      outcome: { kind: "failed", reason: "answered 503" },
    },
    { status: 401, headers: {}, outcome: { kind: "refused", reason: "answered 401" } },
    {
      status: 302,
      headers: { Location: "/elsewhere" },
      outcome: { kind: "refused", reason: "answered 302" },
    },
  ] as const)("takes an answer of $status as $outcome.kind", async ({ status, headers, outcome }) => {
    receiver.answerWith((response) => void response.writeHead(status, headers).end("{}"));
    expect(await webhook().deliver(message, key, never)).toEqual(outcome);
    expect(receiver.got).toHaveLength(1);
  });

  it.each([
    { because: "says nothing", answer: (): void => undefined },
    {
      because: "cuts the connection",
      answer: (response: { destroy: () => unknown }): void => void response.destroy(),
    },
  ])("gives one up that $because, within its time", async ({ answer }) => {
    receiver.answerWith(answer);
    const began_ms = performance.now();
    expect(await webhook().deliver(message, key, never)).toMatchObject({ kind: "failed" });
    expect(performance.now() - began_ms).toBeLessThan(2500);
  });

  it("is done with an answer that never ends once its head is there", async () => {
    receiver.answerWith((response) => {
      response.writeHead(200);
      response.write("x".repeat(1000));
    });
    expect(await webhook().deliver(message, key, never)).toMatchObject({ kind: "delivered" });
  });

  it("is broken off when the daemon ends", async () => {
    receiver.answerWith(() => undefined);
    const ending = new AbortController();
    const delivery = webhook().deliver(message, key, ending.signal);
    setTimeout(() => ending.abort(), 50);
    const began_ms = performance.now();
    expect(await delivery).toMatchObject({ kind: "failed" });
    expect(performance.now() - began_ms).toBeLessThan(900);
  });

  it("says nothing of its secret, whatever fails", async () => {
    const config = channelOf(
      "webhook",
      '{ kind: webhook, url: "http://127.0.0.1:1/{secret}", secretFile: token, headers: { "X-Token": "{secret}" } }',
    );
    for (const odd of [secret, "två\u{1f4a7}"]) {
      const outcome = await createWebhookChannel(config, odd, site).deliver(message, key, never);
      expect(outcome.kind).toBe("failed");
      for (const form of [odd, encodeURIComponent(odd), encodeURI(odd)]) {
        expect(JSON.stringify(outcome)).not.toContain(form);
      }
    }
  });
});

describe("a mail", () => {
  let receiver: MailReceiver;
  beforeEach(async () => {
    receiver = await startMailReceiver();
  });
  afterEach(() => receiver.close());

  const mail = (more = ", user: notices, secretFile: token"): ReturnType<typeof createSmtpChannel> =>
    createSmtpChannel(
      channelOf(
        "smtp",
        `{ kind: smtp, host: 127.0.0.1, port: ${receiver.port}, encryption: none, timeout_s: 1,
           from: fizzward@home.arpa, to: [keeper@home.arpa, neighbour@home.arpa]${more} }`,
      ),
      more === "" ? undefined : secret,
      site,
    );

  it("goes to all its receivers with login, subject and text, and the same Message-ID for each try", async () => {
    const channel = mail();
    expect(await channel.deliver(message, key, never)).toEqual({
      kind: "delivered",
      detail: "250 2.0.0 taken",
    });
    await channel.deliver(message, key, never);
    const [first, second] = receiver.got;
    expect(first!.login).toBe(` notices ${secret}`);
    expect(first!.to).toEqual(["TO:<keeper@home.arpa>", "TO:<neighbour@home.arpa>"]);
    expect(first!.data).toMatch(/^Subject: mill-pond: alarm, critical: relay outlet does not confirm off/m);
    expect(first!.data).toMatch(/^Auto-Submitted: auto-generated/m);
    const idOf = (data: string): string | undefined => /^Message-ID:\s+(.*)$/m.exec(data)?.[1];
    expect(idOf(first!.data)).toBe(`<${key}@mill-pond.fizzward.invalid>`);
    expect(idOf(second!.data)).toBe(idOf(first!.data));
    expect(first!.data).not.toContain(secret);
  });

  it.each([
    { manner: "refuses", outcome: { kind: "refused" } },
    { manner: "busy", outcome: { kind: "failed" } },
    { manner: "hangs", outcome: { kind: "failed" } },
    { manner: "cuts after the mail", outcome: { kind: "failed" } },
  ] as const)("to a server that $manner has $outcome.kind, within its time", async ({ manner, outcome }) => {
    receiver.behave(manner);
    const began_ms = performance.now();
    const got = await mail().deliver(message, key, never);
    expect(got).toMatchObject(outcome);
    expect(performance.now() - began_ms).toBeLessThan(2500);
    expect(JSON.stringify(got)).not.toContain(secret);
  });

  it("goes nowhere unencrypted where encryption is asked for and the server has none", async () => {
    const strict = createSmtpChannel(
      channelOf(
        "smtp",
        `{ kind: smtp, host: 127.0.0.1, port: ${receiver.port}, timeout_s: 1, user: notices, secretFile: token,
           from: fizzward@home.arpa, to: [keeper@home.arpa] }`,
      ),
      secret,
      site,
    );
    expect((await strict.deliver(message, key, never)).kind).not.toBe("delivered");
    expect(receiver.got).toEqual([]);
  });

  it("carries a digest's pictures inside, each shown below the text and with words for those who do not see it", async () => {
    await mail("").deliver(digestMessage, key, never);
    const { data } = receiver.got[0]!;
    expect(data).toMatch(/^Subject: mill-pond: daily digest of 2026-05-04$/m);
    expect(data).toMatch(/^Content-Type: text\/plain/m);
    const [, cid] = /^Content-Id:\s+<([^>]+)>/im.exec(data) ?? [];
    expect(cid).toBeDefined();
    expect(data).toMatch(/^Content-Disposition: inline; filename=pressure-cellar\.svg/m);
    // RFC 2045 6.7 and 6.8: undo quoted-printable and Base64.
    const plain = data
      .replaceAll("=\n", "")
      .replaceAll(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(parseInt(hex, 16)));
    expect(plain).toContain(`<img src="cid:${cid!}" alt="Pressure of &lt;cellar&gt;.`);
    expect(plain).toContain("tank loach: CO2 in target 8.0 h");
    const [, encoded = ""] = /^Content-Disposition: inline;[^]*?\n\n([A-Za-z0-9+/=\n]+)/m.exec(data) ?? [];
    expect(Buffer.from(encoded, "base64").toString("utf8")).toBe(svg);
  });

  it("has no second line in its subject, whatever an alarm says", async () => {
    const sly: AlertMessage = {
      ...message,
      notices: message.notices.map((notice) => ({ ...notice, cause: "x\r\nBcc: all@home.arpa" })),
    };
    await mail("").deliver(sly, key, never);
    const [header] = receiver.got[0]!.data.split("\n\n");
    expect(header).not.toMatch(/^Bcc:/m);
    expect(receiver.got[0]!.to).toHaveLength(2);
  });
});

describe("a receiver whose certificate an authority of one's own has signed", () => {
  const authority = createCertificateAuthority("home authority");
  const issued = authority.issue("127.0.0.1", "IP:127.0.0.1");
  const identity = { cert: issued.certificate, key: issued.key };
  afterAll(() => authority.dispose());

  async function listening(server: Server): Promise<number> {
    await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
    return (server.address() as AddressInfo).port;
  }

  it("is spoken to by webhook with caFile, and not without", async () => {
    const server = createHttpsServer(identity, (_, response) => void response.writeHead(204).end());
    const port = await listening(server);
    const config = channelOf(
      "webhook",
      `{ kind: webhook, url: "https://127.0.0.1:${port}/", caFile: ca.crt, timeout_s: 2 }`,
    );
    expect(config.caFile).toBe("/bench/ca.crt");
    const withOwn = createWebhookChannel(config, undefined, site, authority.ca);
    expect((await withOwn.deliver(message, key, never)).kind).toBe("delivered");
    const without = createWebhookChannel(config, undefined, site);
    expect(await without.deliver(message, key, never)).toMatchObject({
      kind: "failed",
      reason: expect.stringMatching(/certificate/) as string,
    });
    server.closeAllConnections();
    server.close();
  });

  it("gets mail with caFile, and none without", async () => {
    const receiver = await startMailReceiver();
    const server = createTlsServer(identity, (socket) => {
      const inner = connect(receiver.port, "127.0.0.1");
      for (const end of [socket, inner]) end.on("error", () => undefined);
      socket.pipe(inner).pipe(socket);
    });
    server.on("tlsClientError", () => undefined);
    const port = await listening(server);
    const config = channelOf(
      "smtp",
      `{ kind: smtp, host: 127.0.0.1, port: ${port}, encryption: tls, caFile: ca.crt, timeout_s: 2,
         from: fizzward@home.arpa, to: [keeper@home.arpa] }`,
    );
    expect((await createSmtpChannel(config, undefined, site).deliver(message, key, never)).kind).toBe(
      "failed",
    );
    expect(receiver.got).toEqual([]);
    const withOwn = createSmtpChannel(config, undefined, site, authority.ca);
    expect((await withOwn.deliver(message, key, never)).kind).toBe("delivered");
    expect(receiver.got).toHaveLength(1);
    server.close();
    await receiver.close();
  });
});
