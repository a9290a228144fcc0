import { describe, expect, it } from "vitest";
import {
  relayDeviceAtPowerOn,
  relayDeviceDueAt_monotonicMs,
  stepRelayDevice,
} from "../../../../lib/simulation/relay-device.js";
import type { RelayDeviceEvent, RelayDeviceSpec } from "../../../../lib/simulation/relay-device.js";
import type { RelayFault } from "../../../../lib/simulation/simulated-fault.js";

const plain: RelayDeviceSpec = { payloadOn: "ON", payloadOff: "OFF", powerOnState: "off" };
const guarded: RelayDeviceSpec = {
  ...plain,
  payloadOnFor: '{"on": true, "for": {seconds}}',
  autoOff_s: 120,
};
const command = (payload: string): RelayDeviceEvent => ({ kind: "command", payload });
const elapse: RelayDeviceEvent = { kind: "elapse" };
const query: RelayDeviceEvent = { kind: "query" };
const span = { relayId: "cellar", onset_epochMs: 0 };

interface ScriptLine {
  readonly at_s: number;
  readonly event: RelayDeviceEvent;
  readonly faults?: readonly RelayFault[];
}

/** What the device reported and whether its contact was closed after each line. */
function play(spec: RelayDeviceSpec, script: readonly ScriptLine[]) {
  let state = relayDeviceAtPowerOn(spec, 0);
  return script.map(({ at_s, event, faults = [] }) => {
    const step = stepRelayDevice(spec, state, event, { now_monotonicMs: at_s * 1000, faults });
    state = step.state;
    return {
      reports: step.reports,
      closed: state.contactClosed,
      due_monotonicMs: relayDeviceDueAt_monotonicMs(state),
    };
  });
}

describe("a healthy relay", () => {
  it("obeys, and reports each command, the repeated one too", () => {
    const steps = play(plain, [
      { at_s: 0, event: command("ON") },
      { at_s: 1, event: command("ON") },
      { at_s: 2, event: command("OFF") },
      { at_s: 3, event: command("OFF") },
    ]);
    expect(steps.map((s) => s.reports)).toEqual([[true], [true], [false], [false]]);
    expect(steps.map((s) => s.closed)).toEqual([true, true, false, false]);
  });

  it("ignores a payload that it does not know", () => {
    const steps = play(plain, [
      { at_s: 0, event: command("ON") },
      { at_s: 1, event: command("off") },
      { at_s: 2, event: command("") },
    ]);
    expect(steps.slice(1).map((s) => [s.reports, s.closed])).toEqual([
      [[], true],
      [[], true],
    ]);
  });

  it("answers a query with its state and changes nothing", () => {
    const steps = play(plain, [
      { at_s: 0, event: query },
      { at_s: 1, event: command("ON") },
      { at_s: 2, event: query },
    ]);
    expect(steps.map((s) => s.reports)).toEqual([[false], [true], [true]]);
  });

  it("switches itself off when no ON has come for its auto-off, and says so", () => {
    const steps = play(guarded, [
      { at_s: 0, event: command("ON") },
      { at_s: 100, event: command("ON") },
      { at_s: 219.9, event: elapse },
      { at_s: 220, event: elapse },
      { at_s: 400, event: elapse },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, true, true, false, false]);
    expect(steps.map((s) => s.reports)).toEqual([[true], [true], [], [false], []]);
    expect(steps[1]!.due_monotonicMs).toBe(220_000);
    expect(steps[3]!.due_monotonicMs).toBe(Infinity);
  });

  it.each([
    { payload: '{"on": true, "for": 30}', off_s: 30, because: "the command says so" },
    { payload: '{"on":true,"for":30}', off_s: 30, because: "blanks mean nothing in JSON" },
    { payload: '{"on": true, "for": 900}', off_s: 120, because: "its own auto-off comes first" },
    { payload: '{"on": true, "for": 0.5}', off_s: 0.5, because: "fractions are numbers" },
  ])("stays on for $off_s s after $payload: $because", ({ payload, off_s }) => {
    const steps = play(guarded, [
      { at_s: 0, event: command(payload) },
      { at_s: off_s - 0.01, event: elapse },
      { at_s: off_s, event: elapse },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, true, false]);
  });

  it.each(['{"on": true, "for": }', '{"on": true, "for": -5}', '{"on": true, "for": 1e9}', "{seconds}"])(
    "does not take %s for an on-for command",
    (payload) => {
      expect(play(guarded, [{ at_s: 0, event: command(payload) }])[0]).toEqual({
        reports: [],
        closed: false,
        due_monotonicMs: Infinity,
      });
    },
  );

  it("is closed at once by OFF during an on-for, and stays so", () => {
    const steps = play(guarded, [
      { at_s: 0, event: command('{"on": true, "for": 60}') },
      { at_s: 10, event: command("OFF") },
      { at_s: 61, event: elapse },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, false, false]);
    expect(steps[2]!.reports).toEqual([]);
  });
});

describe("a relay whose plug is pulled", () => {
  const dark: RelayFault = { ...span, kind: "relay-without-power" };
  it.each([
    { powerOnState: "off", after: false, because: "that is how it was set up" },
    { powerOnState: "on", after: true, because: "a wrong set-up lets gas flow" },
    { powerOnState: "last", after: true, because: "it was on before" },
  ] as const)("comes up $after with power-on state $powerOnState: $because", ({ powerOnState, after }) => {
    const steps = play({ ...plain, powerOnState }, [
      { at_s: 0, event: command("ON") },
      { at_s: 10, event: elapse, faults: [dark] },
      { at_s: 11, event: command("ON"), faults: [dark] },
      { at_s: 12, event: query, faults: [dark] },
      { at_s: 20, event: elapse },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, false, false, false, after]);
    expect(steps.map((s) => s.reports)).toEqual([[true], [], [], [], [after]]);
  });

  it("starts its auto-off anew when it comes up on", () => {
    const steps = play({ ...guarded, powerOnState: "on" }, [
      { at_s: 0, event: elapse },
      { at_s: 60, event: elapse, faults: [dark] },
      { at_s: 70, event: elapse },
      { at_s: 189, event: elapse },
      { at_s: 190, event: elapse },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, false, true, true, false]);
  });
});

describe("a broken relay", () => {
  const on: ScriptLine = { at_s: 0, event: command("ON") };
  it.each<{
    fault: RelayFault;
    reports: readonly boolean[];
    closed: boolean;
    because: string;
  }>([
    { fault: { ...span, kind: "relay-mute" }, reports: [], closed: false, because: "it obeys in silence" },
    {
      fault: { ...span, kind: "relay-lies" },
      reports: [false],
      closed: true,
      because: "only its word is off",
    },
    {
      fault: { ...span, kind: "relay-welded", reports: "coil" },
      reports: [false],
      closed: true,
      because: "the coil dropped, the contact did not",
    },
    {
      fault: { ...span, kind: "relay-welded", reports: "contact" },
      reports: [true],
      closed: true,
      because: "it measures its output",
    },
    {
      fault: { ...span, kind: "relay-ignores-commands" },
      reports: [true],
      closed: true,
      because: "it answers with the state that it keeps",
    },
  ])("after OFF under $fault.kind: $because", ({ fault, reports, closed }) => {
    const off = play(plain, [on, { at_s: 10, event: command("OFF"), faults: [fault] }])[1]!;
    expect(off.reports).toEqual(reports);
    expect(off.closed).toBe(closed);
  });

  it("welds shut without any command", () => {
    const welded: RelayFault = { ...span, kind: "relay-welded", reports: "coil" };
    expect(play(plain, [{ at_s: 5, event: elapse, faults: [welded] }])[0]!.closed).toBe(true);
  });

  it("flaps once a period and reports each change", () => {
    const flaps: RelayFault = { ...span, kind: "relay-flaps", period_s: 20 };
    const steps = play(plain, [
      { at_s: 0, event: elapse, faults: [flaps] },
      { at_s: 19, event: elapse, faults: [flaps] },
      { at_s: 20, event: elapse, faults: [flaps] },
      { at_s: 40, event: elapse, faults: [flaps] },
      { at_s: 60, event: elapse },
    ]);
    expect(steps.map((s) => s.reports)).toEqual([[], [], [true], [false], []]);
    expect(steps[0]!.due_monotonicMs).toBe(20_000);
    expect(steps[4]!.due_monotonicMs).toBe(Infinity);
  });

  it("is well again when the fault ends: a command moves the contact", () => {
    const lies: RelayFault = { ...span, kind: "relay-lies" };
    const steps = play(plain, [
      on,
      { at_s: 10, event: command("OFF"), faults: [lies] },
      { at_s: 20, event: command("OFF") },
    ]);
    expect(steps.map((s) => s.closed)).toEqual([true, true, false]);
  });
});
