import { describe, expect, it } from "vitest";
import { createFlowCommands } from "../../../../daemon/control-socket/flow-commands.js";
import type { SocketReply, SocketRequest } from "../../../../daemon/control-socket/control-socket.js";
import type { ScaledDynamics } from "../../../../lib/tank/flow-outlook.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";

/** At rest 2.5, 5 mg/L an hour over 0.25 per hour: 22.5 mg/L, and a tenth more on the scale of the tank's estimate. */
const known: ScaledDynamics = {
  tank: {
    k_perH: 0.25,
    kSigma_ln: 0.05,
    settledCo2_mgPerL: 2.5,
    settledSigma_ln: 0.1,
    dose_mgPerLPerH: 5,
    doseSigma_ln: 0.08,
    doseWithK: 0.3,
    doseWithSettled: 0,
  },
  scale_ratio: 1.1,
};

async function say(
  request: SocketRequest,
  dynamics: ScaledDynamics | { readonly because: string } = known,
): Promise<SocketReply> {
  const replies: SocketReply[] = [];
  const handle = createFlowCommands({ model: () => modelOf(benchYaml), dynamics: () => dynamics }, () =>
    Promise.resolve(),
  );
  await handle(request, {
    reply: (line) => replies.push(line),
    nextLine: () => Promise.resolve(undefined),
    isGone: () => false,
  });
  return replies.at(-1)!;
}

describe("a tank at another flow", () => {
  it("says where it would rest, on the scale of its estimate", async () => {
    const { text } = await say({ command: "flow-outlook", flow_ratio: 1.5 });
    // 1.1 (2.5 + 1.5 x 20) = 35.75
    expect(text).toMatch(
      /^tank loach: at 1\.5 times today's flow it would rest at 36 mg\/L without light \(80 %: 3\d to \d\d\); plants/,
    );
  });

  it("says what flow a target takes, and with what care to turn to it", async () => {
    const { text } = await say({ command: "flow-outlook", target_mgPerL: 20 });
    // (20 / 1.1 - 2.5) x 0.25 / 5 = 0.784
    expect(text).toMatch(
      /to rest at 20 mg\/L without light it would take 0\.78 times today's flow \(80 %: 0\.7/,
    );
    expect(text).toContain("by small steps, wait some hours and watch the fish");
  });

  it("says why nothing can be said, and refuses a flow that no needle gives", async () => {
    const reply = await say({ command: "flow-outlook", flow_ratio: 1 }, { because: "no night yet" });
    expect(reply.text).toBe("tank loach: nothing can be said of another flow: no night yet");
    expect(await say({ command: "flow-outlook", flow_ratio: 80 })).toMatchObject({ kind: "refused" });
  });
});
