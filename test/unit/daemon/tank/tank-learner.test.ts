import { describe, expect, it } from "vitest";
import { createTankLearner, learningHere } from "../../../../daemon/tank/tank-learner.js";
import { emptyTankLearning } from "../../../../lib/tank/tank-learning-state.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";
import { benchYaml, modelOf } from "../../../support/control-bench.js";

describe("what is learnt of several tanks", () => {
  it("goes on for the others, and fails no pass, when one tank's cannot be worked with", () => {
    const logger = new CollectingLogger();
    const model = modelOf(benchYaml);
    const tank = model.tanks.get("loach")!;
    const broken = Object.defineProperty({ ...tank, tankId: "shrimp" }, "kh_dKH", {
      get: () => {
        throw new RangeError("no such hardness");
      },
    });
    const tanks = new Map([
      ["shrimp", broken],
      ["loach", tank],
    ]);
    const learner = createTankLearner(
      {
        store: { saveSnapshot: () => Promise.resolve(true) },
        journal: { entriesOf: () => [] },
        runner: learningHere,
        logger,
        correctionOf: () => "",
      },
      { shrimp: emptyTankLearning, loach: emptyTankLearning },
    );
    const views = learner.views({ ...model, tanks }, 1000);
    expect(views.map(({ tankId }) => tankId)).toEqual(["loach"]);
    expect(JSON.stringify(logger)).toContain("no such hardness");
    expect(learner.usedLead("shrimp")).toBeUndefined();
  });
});
