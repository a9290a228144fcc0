import { afterEach, describe, expect, it } from "vitest";
import { createLearningThread } from "../../daemon/system/learning-thread.js";
import { runLearningJob, type LearningJob, type LearningResult } from "../../lib/tank/tank-learning-job.js";
import { CollectingLogger } from "../support/collecting-logger.js";
import { runLearningDays } from "../support/learning-days.js";

const nightJob = ((): LearningJob => {
  let found: LearningJob | undefined;
  runLearningDays(2, {
    after: (state) => state,
    asked: (job) => {
      if (job.kind === "night") found = job;
    },
  });
  if (found === undefined) throw new Error("no night was fitted");
  return found;
})();

describe("the thread for the fits", () => {
  const logger = new CollectingLogger();
  let thread = createLearningThread({ logger });
  const run = (job: LearningJob): Promise<LearningResult | undefined> =>
    new Promise((resolve) => thread.run(job, resolve));

  afterEach(() => thread.stop());

  it("gives what a fit in this thread gives, while this thread goes on", async () => {
    let turns = 0;
    const turning = setInterval(() => (turns += 1), 1);
    const result = await run(nightJob);
    clearInterval(turning);
    expect(result).toEqual(runLearningJob(nightJob));
    expect(turns).toBeGreaterThan(1);
  });

  it("gives nothing for a job that cannot be done, says why, and does the next one", async () => {
    const impossible = {
      kind: "overdose",
      at_epochMs: 0,
      overdose: {
        co2_mgPerL: 50,
        co2Sigma_ln: 0.1,
        limit_mgPerL: 0,
        k_perH: 0.2,
        kSigma_ln: 0.1,
        settledCo2_mgPerL: 3,
        settledSigma_ln: 0.2,
      },
    } as const;
    expect(await run(impossible)).toBeUndefined();
    expect(JSON.stringify(logger.lines)).toContain("alarm limit is 0 mg/L");
    expect((await run(nightJob))?.kind).toBe("night");
  });

  it("ends nothing where its result cannot be taken, says why, and does the next job", async () => {
    await new Promise<void>((resolve) => {
      thread.run(nightJob, () => {
        resolve();
        throw new TypeError("no such tank");
      });
    });
    expect((await run(nightJob))?.kind).toBe("night");
    expect(JSON.stringify(logger.lines)).toContain("no such tank");
  });

  it("gives nothing where it is stopped in the middle, and begins anew when it is asked again", async () => {
    const running = run(nightJob);
    await thread.stop();
    expect(await running).toBeUndefined();
    thread = createLearningThread({ logger });
    expect((await run(nightJob))?.kind).toBe("night");
  });
});
