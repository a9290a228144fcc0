import { setMaxListeners } from "node:events";
import { afterEach, describe, expect, it } from "vitest";
import { createAcceleratedClock } from "../../../../daemon/demo/accelerated-clock.js";
import type { AcceleratedClock } from "../../../../daemon/demo/accelerated-clock.js";

const startAt_epochMs = Date.UTC(2026, 2, 2, 6);
let clock: AcceleratedClock | undefined;

function startedClock(speed: number, longestStep_ms?: number): AcceleratedClock {
  const started = createAcceleratedClock({
    startAt_epochMs,
    speed,
    ...(longestStep_ms === undefined ? {} : { longestStep_ms }),
  });
  clock = started;
  started.start();
  return started;
}
const realPause = (duration_ms: number) => new Promise((resolve) => setTimeout(resolve, duration_ms));

function blockFor(duration_ms: number): void {
  const end = performance.now() + duration_ms;
  while (performance.now() < end);
}

afterEach(() => clock?.stop());

describe("the accelerated clock", () => {
  it("runs as many times faster than real time as it is told, on a machine that keeps up", async () => {
    const fast = startedClock(100);
    const real = performance.now();
    await fast.sleep(20_000);
    const took_ms = performance.now() - real;
    expect(took_ms).toBeGreaterThan(190);
    expect(took_ms).toBeLessThan(1000);
    expect(fast.speedReached()).toBeGreaterThan(20);
    expect(fast.speedReached()).toBeLessThan(101);
  });

  it("keeps civil and monotonic time together", async () => {
    const fast = startedClock(300);
    for (let i = 0; i < 20; i += 1) {
      await fast.sleep(777);
      expect(fast.now_epochMs() - startAt_epochMs).toBe(Math.floor(fast.monotonic_ms()));
    }
    expect(fast.monotonic_ms()).toBeGreaterThanOrEqual(20 * 777);
  });

  it("wakes sleepers in the order in which they are due, each at its own time", async () => {
    const fast = startedClock(500);
    const woken: { readonly due_ms: number; readonly at_ms: number }[] = [];
    const start_ms = fast.monotonic_ms();
    await Promise.all(
      [3000, 10, 2999, 4000, 10, 1].map(async (due_ms) => {
        await fast.sleep(due_ms);
        woken.push({ due_ms, at_ms: fast.monotonic_ms() - start_ms });
      }),
    );
    expect(woken.map((w) => w.due_ms)).toEqual([1, 10, 10, 2999, 3000, 4000]);
    for (const { due_ms, at_ms } of woken) expect(at_ms).toBeCloseTo(due_ms, 6);
  });

  it("lets what a sleeper started run on before the next one wakes", async () => {
    const fast = startedClock(1000);
    const events: string[] = [];
    const first = fast.sleep(100).then(async () => {
      for (let i = 0; i < 5; i += 1) await Promise.resolve();
      await fast.sleep(50);
      events.push("follow-up at 150");
    });
    const second = fast.sleep(151).then(() => events.push("second at 151"));
    await Promise.all([first, second]);
    expect(events).toEqual(["follow-up at 150", "second at 151"]);
  });

  it("does not leap when the machine stalls", async () => {
    const fast = startedClock(1000, 1000);
    await fast.sleep(10);
    const before_ms = fast.monotonic_ms();
    blockFor(200);
    await realPause(1);
    await new Promise((resolve) => setImmediate(resolve));
    // 200 ms of stall would be 200 simulated seconds; a few pushes of at most one second each are allowed.
    expect(fast.monotonic_ms() - before_ms).toBeLessThan(10_000);
  });

  it("wakes at once on abort, and before that when it comes aborted", async () => {
    const fast = startedClock(1);
    const abort = new AbortController();
    const sleeping = fast.sleep(3_600_000, abort.signal);
    abort.abort();
    await sleeping;
    await fast.sleep(3_600_000, abort.signal);
    expect(fast.monotonic_ms()).toBeLessThan(60_000);
  });

  it("lets time go on under a loop of empty sleeps", async () => {
    const fast = startedClock(1000);
    const end_ms = fast.monotonic_ms() + 500;
    let turns = 0;
    while (fast.monotonic_ms() < end_ms) {
      await fast.sleep(0);
      turns += 1;
    }
    expect(turns).toBeLessThanOrEqual(501);
  });

  it("stands still before the start and after the stop, with no timer left", async () => {
    const fast = createAcceleratedClock({ startAt_epochMs, speed: 1000 });
    clock = fast;
    await realPause(20);
    expect(fast.monotonic_ms()).toBe(0);
    fast.start();
    await fast.sleep(5000);
    let woken = false;
    void fast.sleep(1).then(() => (woken = true));
    fast.stop();
    const stopped_ms = fast.monotonic_ms();
    await realPause(30);
    expect(fast.monotonic_ms()).toBe(stopped_ms);
    expect(woken).toBe(false);
    const timers = () => process.getActiveResourcesInfo().filter((kind) => kind === "Timeout").length;
    fast.start();
    const running = timers();
    fast.stop();
    expect(timers()).toBe(running - 1);
  });

  it("goes on where it stood when it is started again, counting no time in between", async () => {
    const fast = startedClock(1000);
    await fast.sleep(1000);
    fast.stop();
    const stopped_ms = fast.monotonic_ms();
    await realPause(50);
    fast.start();
    await fast.sleep(1);
    expect(fast.monotonic_ms() - stopped_ms).toBeLessThan(5000);
  });

  it("carries a thousand sleepers, each once a simulated second", async () => {
    const fast = startedClock(60);
    const abort = new AbortController();
    setMaxListeners(0, abort.signal);
    const wakings = new Array<number>(1000).fill(0);
    const loops = wakings.map(async (_, index) => {
      await fast.sleep(index);
      while (!abort.signal.aborted) {
        wakings[index]! += 1;
        await fast.sleep(1000, abort.signal);
      }
    });
    await fast.sleep(10_500);
    abort.abort();
    await Promise.all(loops);
    expect(Math.min(...wakings)).toBeGreaterThanOrEqual(10);
    expect(Math.max(...wakings)).toBeLessThanOrEqual(12);
  });
});
