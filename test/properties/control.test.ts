import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { stepValve, type ValveMemory, type ValveStepView } from "../../lib/control/control-step.js";
import {
  initialRelayDriver,
  onReconnected,
  onRelayReport,
  stepRelay,
} from "../../lib/control/relay-driver.js";
import type { Override, WindowState } from "../../lib/control/decide.js";
import type { GuardView, TankView } from "../../lib/control/interlock.js";
import { holdKinds, type Hold } from "../../lib/control/hold.js";
import type { RoomAirView } from "../../lib/control/room-air.js";
import type { VesselPressureView } from "../../lib/control/vessel-rating.js";
import type { Trip } from "../../lib/control/trip.js";
import type { RelayRules, ValveRules } from "../../lib/control/valve-rules.js";
import { noMemory, relayRules, tankView, valveRules } from "../support/control-views.js";

const seed = 20260504;
const now_epochMs = Date.parse("2026-05-04T10:00:00Z");
const gasRelayIds = ["outlet", "outlet-series"];
const rules: ValveRules = {
  ...valveRules,
  longestOpen_min: 1,
  gasRelays: gasRelayIds.map((relayId) => ({ ...relayRules, relayId })),
  airPumpRelay: { ...relayRules, relayId: "outlet-air-pump" },
};

/** Mostly what lets gas through, so that the rest is found out one by one and together. */
const mostly = <T>(usual: T, rare: fc.Arbitrary<T>): fc.Arbitrary<T> =>
  fc.oneof({ weight: 5, arbitrary: fc.constant(usual) }, { weight: 1, arbitrary: rare });

const anyWindow: fc.Arbitrary<WindowState> = mostly<WindowState>(
  { kind: "open", closes_epochMs: now_epochMs + 3_600_000 },
  fc.constant({ kind: "closed", opens_epochMs: undefined }),
);
const anyOverride: fc.Arbitrary<Override | undefined> = mostly<Override | undefined>(
  undefined,
  fc.record({
    valveId: fc.constant("outlet"),
    action: fc.constantFrom<Override["action"]>("open", "closed"),
    until_epochMs: fc.integer({ min: -60_000, max: 600_000 }).map((ahead_ms) => now_epochMs + ahead_ms),
    source: fc.constantFrom<Override["source"]>("local", "remote"),
  }),
);
const anyGuard: fc.Arbitrary<GuardView> = mostly<GuardView["state"]>(
  { kind: "fresh", age_s: 3 },
  fc.constantFrom<GuardView["state"][]>(
    { kind: "stale", age_s: 999, lastRejection: undefined },
    { kind: "never", lastRejection: "implausible" },
  ),
).map((state) => ({ sensorId: "loach-ph", state }));
const anyTank: fc.Arbitrary<TankView> = fc
  .record({
    pH: mostly<number | undefined>(
      6.8,
      fc.option(fc.double({ min: 4, max: 9, noNaN: true }), { nil: undefined }),
    ),
    temperature_degC: mostly<number | undefined>(
      24,
      fc.option(fc.double({ min: 20, max: 35, noNaN: true }), { nil: undefined }),
    ),
    co2High80_mgPerL: mostly<number | undefined>(
      30,
      fc.option(fc.double({ min: 0, max: 120, noNaN: true }), { nil: undefined }),
    ),
  })
  .map((seen) => ({ ...tankView, ...seen }));
const anyTrip: fc.Arbitrary<Trip> = fc.record({
  subject: fc.record({
    kind: fc.constantFrom<"tank" | "valve">("tank", "valve"),
    id: fc.constantFrom("loach", "outlet", "other"),
  }),
  cause: fc.constantFrom<Trip["cause"][]>(
    "CO2 above the close limit",
    "CO2 rises too fast",
    "pH below the floor",
    "open for too long",
    "pressure above the rating",
    "CO2 in the room from 30000 ppm",
  ),
  reason: fc.constant("seen"),
  at_epochMs: fc.constant(now_epochMs - 1000),
});

const anyVessel: fc.Arbitrary<VesselPressureView | undefined> = mostly<VesselPressureView | undefined>(
  undefined,
  fc.option(fc.double({ min: 0, max: 30, noNaN: true }), { nil: undefined }).map((pressureGauge_bar) => ({
    vesselId: "cellar",
    pressureGauge_bar,
    accuracy_bar: 0.25,
    ratedPressureGauge_bar: 20,
    reliefOpeningGauge_bar: 18,
  })),
);
const anyRooms: fc.Arbitrary<readonly RoomAirView[]> = mostly<readonly RoomAirView[]>(
  [],
  fc
    .option(fc.double({ min: 400, max: 40_000, noNaN: true }), { nil: undefined })
    .map((co2InAir_ppm) => [{ sensorId: "cellar-air", co2InAir_ppm }]),
);
const anyHolds: fc.Arbitrary<readonly Hold[]> = mostly<readonly Hold[]>(
  [],
  fc
    .constantFrom(...holdKinds)
    .map((kind) => [
      { kind, subject: { kind: "vessel" as const, id: "cellar" }, since_epochMs: 0, note: "" },
    ]),
);

const anyView = fc.record({
  vessel: anyVessel,
  rooms: anyRooms,
  holds: anyHolds,
  window: anyWindow,
  override: anyOverride,
  clock: mostly<ValveStepView["clock"]>(
    { kind: "plausible" },
    fc.constant({ kind: "implausible", reason: "unsettled" }),
  ),
  brokerConnected: mostly(true, fc.constant(false)),
  deadManArmed: mostly(true, fc.constant(false)),
  store: mostly<ValveStepView["store"]>(
    { kind: "ok" },
    fc.constant({ kind: "failing", reason: "disk full" }),
  ),
  commissioned: mostly(true, fc.constant(false)),
  guards: fc.array(anyGuard, { maxLength: 2 }),
  awaited: mostly<readonly string[]>([], fc.constantFrom(["loach-ph"], ["loach-temperature"])),
  tanks: fc.array(anyTank, { minLength: 1, maxLength: 2 }),
  trips: mostly<readonly Trip[]>([], fc.array(anyTrip, { maxLength: 2 })),
  endOfCharge: mostly<string | undefined>(undefined, fc.constant("below 2.6 bar")),
  heldClosed: mostly<string | undefined>(undefined, fc.constant("the daemon ends")),
});
const anySecond = fc.record({
  view: anyView,
  elapsed_ms: fc.constantFrom(1000, 1000, 1000, 40_000),
  says: fc.constantFrom<("as told" | "nothing" | "on" | "off")[]>(
    "as told",
    "as told",
    "as told",
    "nothing",
    "on",
    "off",
  ),
});

describe("whatever happens", () => {
  it("a valve that anything forbids gets no ON, and no relay gets one but by an open decision", () => {
    let opened = 0;
    let blocked = 0;
    fc.assert(
      fc.property(fc.array(anySecond, { minLength: 1, maxLength: 80, size: "max" }), (seconds) => {
        let memory: ValveMemory = noMemory;
        let now_monotonicMs = 1_000_000;
        for (const { view, elapsed_ms, says } of seconds) {
          now_monotonicMs += elapsed_ms;
          const step = stepValve({ ...view, rules, now_epochMs, now_monotonicMs }, memory);
          const isForbidden = step.decision.blocks.length > 0 || view.heldClosed !== undefined;
          if (isForbidden) {
            blocked += 1;
            expect(step.decision.action).toBe("closed");
          }
          const on = step.commands.filter(({ command }) => command === "on");
          opened += on.length;
          if (on.length > 0) expect(step.decision.action).toBe("open");
          expect(
            step.commands.every(
              ({ command }) => command === (step.decision.action === "open" ? "on" : "off"),
            ),
          ).toBe(true);
          memory = step.memory;
          for (const { relayId, command } of step.commands) {
            if (says !== "nothing")
              memory = heard(memory, relayId, says === "as told" ? command : says, now_monotonicMs);
          }
        }
      }),
      { seed, numRuns: 300 },
    );
    // The property must have been at work on both sides.
    expect(opened).toBeGreaterThan(500);
    expect(blocked).toBeGreaterThan(5000);
  });

  it("everything that can forbid gas shows in the decision, alone or together", () => {
    fc.assert(
      fc.property(anyView, (view) => {
        const { decision, trips } = stepValve({ ...view, rules, now_epochMs, now_monotonicMs: 0 }, noMemory);
        const forbidden =
          view.clock.kind === "implausible" ||
          !view.brokerConnected ||
          !view.deadManArmed ||
          view.store.kind === "failing" ||
          !view.commissioned ||
          // An override that was there before does not let it through.
          view.endOfCharge !== undefined ||
          view.holds.length > 0 ||
          view.rooms.some(({ co2InAir_ppm }) => (co2InAir_ppm ?? 0) >= 5000) ||
          (view.vessel?.pressureGauge_bar ?? 0) + 0.25 > 18 ||
          view.awaited.length > 0 ||
          view.guards.some((guard) => guard.state.kind !== "fresh") ||
          view.tanks.some(
            (tank) =>
              (tank.pH ?? 7) < 6 || (tank.co2High80_mgPerL ?? 0) > 60 || (tank.temperature_degC ?? 0) > 30,
          ) ||
          trips.some(({ subject }) =>
            ["tank/loach", "valve/outlet"].includes(`${subject.kind}/${subject.id}`),
          );
        expect(decision.blocks.length > 0).toBe(forbidden);
        if (forbidden) expect(decision.action).toBe("closed");
      }),
      { seed, numRuns: 2000 },
    );
  });
});

describe("a relay", () => {
  const anyRelayRules: fc.Arbitrary<RelayRules> = fc.record({
    relayId: fc.constant("outlet"),
    confirmWithin_s: fc.constantFrom(1, 5, 60),
    autoOff_s: fc.constantFrom(undefined, 10, 120, 300),
    answersStatusQuery: fc.boolean(),
  });
  const anyEvent = fc.oneof(
    { weight: 6, arbitrary: fc.constantFrom<("tick on" | "tick off")[]>("tick on", "tick off") },
    { weight: 3, arbitrary: fc.constantFrom<("says on" | "says off")[]>("says on", "says off") },
    { weight: 1, arbitrary: fc.constant("reconnects" as const) },
  );

  it("that nobody hears from any more gets OFF as its last command, and again and again, once it is wished off", () => {
    fc.assert(
      fc.property(
        anyRelayRules,
        fc.array(fc.tuple(anyEvent, fc.integer({ min: 1, max: 20_000 })), { maxLength: 60 }),
        (by, events) => {
          let state = initialRelayDriver;
          let now_monotonicMs = 0;
          const sent: { readonly command: "on" | "off"; readonly at_monotonicMs: number }[] = [];
          const tick = (want: "on" | "off"): void => {
            const step = stepRelay(by, state, want, now_monotonicMs);
            state = step.state;
            if (step.send !== undefined) sent.push({ command: step.send, at_monotonicMs: now_monotonicMs });
          };
          for (const [event, after_ms] of events) {
            now_monotonicMs += after_ms;
            if (event === "tick on" || event === "tick off") tick(event === "tick on" ? "on" : "off");
            else if (event === "reconnects") state = onReconnected(state);
            else state = onRelayReport(state, event === "says on" ? "on" : "off", now_monotonicMs);
          }
          // From here on reports are lost, and the connection may have been renewed.
          state = onReconnected(state);
          const from_monotonicMs = now_monotonicMs + 1000;
          for (let second = 0; second < 300; second += 1) {
            now_monotonicMs += 1000;
            tick("off");
          }
          const late = sent.filter((command) => command.at_monotonicMs >= from_monotonicMs);
          expect(late[0]).toEqual({ command: "off", at_monotonicMs: from_monotonicMs });
          expect(late.every(({ command }) => command === "off")).toBe(true);
          const longestGap_ms = Math.max(30_000, by.confirmWithin_s * 1000) + 1000;
          expect(now_monotonicMs - late.at(-1)!.at_monotonicMs).toBeLessThan(longestGap_ms);
          expect(state.fault?.kind).toBe("does not confirm off");
        },
      ),
      { seed, numRuns: 500 },
    );
  });

  it("that was told off last is never sent ON, whatever it reports", () => {
    fc.assert(
      fc.property(
        anyRelayRules,
        fc.array(fc.constantFrom("on", "off", "nothing"), { maxLength: 200 }),
        (by, reports) => {
          let state = stepRelay(by, initialRelayDriver, "on", 0).state;
          reports.forEach((report, second) => {
            const at_monotonicMs = (second + 1) * 1000;
            if (report === "on" || report === "off") state = onRelayReport(state, report, at_monotonicMs);
            const step = stepRelay(by, state, "off", at_monotonicMs);
            state = step.state;
            expect(step.send).not.toBe("on");
            expect(state.commanded).toBe("off");
            // Only a relay that says "off" is left in peace: any other report is answered in the same second.
            if (report === "on") expect(step.send).toBe("off");
          });
        },
      ),
      { seed, numRuns: 500 },
    );
  });
});

function heard(
  memory: ValveMemory,
  relayId: string,
  says: "on" | "off",
  at_monotonicMs: number,
): ValveMemory {
  const relay = onRelayReport(memory.relays[relayId]!, says, at_monotonicMs);
  return { ...memory, relays: { ...memory.relays, [relayId]: relay } };
}
