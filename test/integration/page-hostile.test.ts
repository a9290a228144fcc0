import { monitorEventLoopDelay } from "node:perf_hooks";
import { Worker } from "node:worker_threads";
import { describe, expect, it } from "vitest";
import { startPageBench } from "../support/page-bench.js";

/** Attacks from a thread of its own, so that its work is not the daemon's. It tells what the answers began with. */
const attackers = `
const { parentPort, workerData } = require("node:worker_threads");
const { connect } = require("node:net");
const { port, count, first, then, every_ms } = workerData;
const told = {};
let open = 0;
for (let k = 0; k < count; k += 1) {
  const socket = connect(port, "127.0.0.1");
  let timer;
  let heard = false;
  socket.on("connect", () => {
    open += 1;
    socket.write(first);
    if (then !== undefined) timer = setInterval(() => socket.write(then), every_ms);
  });
  socket.on("data", (data) => {
    if (heard) return;
    heard = true;
    const line = String(data).split("\\r\\n")[0];
    told[line] = (told[line] ?? 0) + 1;
  });
  socket.on("error", () => {});
  socket.on("close", () => { clearInterval(timer); told.closed = (told.closed ?? 0) + 1; });
}
parentPort.on("message", () => parentPort.postMessage({ told, open }));
`;

interface Attack {
  readonly count: number;
  readonly first: string;
  readonly then?: string;
  readonly every_ms?: number;
}

const lasts_ms = 1500;
/** A pass is made each second, and the dead-man waits two. */
const mostDelay_ms = 1000;

async function underAttack(attack: Attack): Promise<{
  readonly delay_ms: number;
  readonly told: Readonly<Record<string, number>>;
  readonly passes: number;
}> {
  const page = await startPageBench();
  const worker = new Worker(attackers, { eval: true, workerData: { ...attack, port: page.port } });
  const delay = monitorEventLoopDelay({ resolution: 5 });
  // The thread's own start is no part of the attack.
  await new Promise((resolve) => worker.once("online", resolve));
  await new Promise((resolve) => setTimeout(resolve, 100));
  delay.enable();
  const end_ms = performance.now() + lasts_ms;
  const before_epochMs = page.control.status.at_epochMs;
  while (performance.now() < end_ms) {
    await page.control.seconds(1);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  delay.disable();
  const answer = new Promise<{ told: Readonly<Record<string, number>> }>((resolve) =>
    worker.once("message", resolve),
  );
  worker.postMessage("tell");
  const { told } = await answer;
  await worker.terminate();
  return {
    delay_ms: delay.max / 1e6,
    told,
    passes: (page.control.status.at_epochMs - before_epochMs) / 1000,
  };
}

const host = "Host: 127.0.0.1\r\n";

describe("whoever attacks the page", () => {
  it.each([
    {
      because: "a thousand listen to the changes",
      attack: { count: 1000, first: `GET /api/changes HTTP/1.1\r\n${host}\r\n` },
    },
    {
      because: "slow headers, a byte at a time",
      attack: { count: 300, first: "GET / HTTP/1.1\r\n", then: "X", every_ms: 50 },
    },
    {
      because: "a slow body",
      attack: {
        count: 300,
        first: `POST /api/journal HTTP/1.1\r\n${host}Content-Type: application/json\r\nContent-Length: 16000\r\n\r\n`,
        then: " ",
        every_ms: 50,
      },
    },
    {
      because: "huge headers",
      attack: { count: 300, first: `GET / HTTP/1.1\r\n${host}X-Large: ${"x".repeat(200_000)}\r\n\r\n` },
    },
    {
      because: "requests without an end on each connection",
      attack: {
        count: 100,
        first: `GET /api/site HTTP/1.1\r\n${host}\r\n`.repeat(200),
        then: `GET /api/site HTTP/1.1\r\n${host}\r\n`.repeat(20),
        every_ms: 50,
      },
    },
    { because: "no HTTP at all", attack: { count: 500, first: "\u0000\u0001\u0002".repeat(5000) } },
  ] satisfies { because: string; attack: Attack }[])(
    "delays no control pass: $because",
    async ({ attack }) => {
      const { delay_ms, passes } = await underAttack(attack);
      expect(delay_ms).toBeLessThan(mostDelay_ms);
      expect(passes).toBeGreaterThan(3);
    },
  );

  it("gets no more than a few listeners, and the others an answer or nothing", async () => {
    const { told } = await underAttack({
      count: 1000,
      first: `GET /api/changes HTTP/1.1\r\n${host}\r\n`,
    });
    expect(told["HTTP/1.1 200 OK"]).toBeLessThanOrEqual(16);
    expect(told["HTTP/1.1 200 OK"]).toBeGreaterThan(0);
    expect(told["closed"]).toBeGreaterThan(800);
  });

  it("is answered with what is wrong where headers are too large", async () => {
    const { told } = await underAttack({
      count: 3,
      first: `GET / HTTP/1.1\r\n${host}X-Large: ${"x".repeat(20_000)}\r\n\r\n`,
    });
    expect(Object.keys(told).some((line) => line.includes("431"))).toBe(true);
  });
});
