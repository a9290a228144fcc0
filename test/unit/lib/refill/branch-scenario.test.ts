import { describe, expect, it } from "vitest";
import { OutOfValidRangeError } from "../../../../lib/errors.js";
import {
  branchScenario,
  branchSentences,
  isLifeVague,
  usualBackPressure_bar,
  type Branch,
  type BranchRequest,
} from "../../../../lib/refill/branch-scenario.js";

const use = { value: 1.2, low: 1.0, high: 1.4 };
const { ceramicDiffuser, atomiser } = usualBackPressure_bar;
const tank = (name: string, rest: Partial<Branch> = {}): Branch => ({
  tank: name,
  use_gPerDay: use,
  backPressureGauge_bar: ceramicDiffuser,
  ...rest,
});
/** What leaves above an inlet pressure: 3 g less for each bar. Invented. */
const request = (...branches: readonly [Branch, ...Branch[]]): BranchRequest => ({
  branches,
  workingPressureGauge_bar: 2,
  needleValves: "each branch",
  deliverableAbove: (inlet_bar) => ({
    value: 42 - 3 * inlet_bar,
    low: 38 - 3 * inlet_bar,
    high: 46 - 3 * inlet_bar,
  }),
});

describe("a charge with one tank after another on it", () => {
  it("is emptied three times as fast by three equal tanks (common practice, no source)", () => {
    const [one, two, three] = branchScenario(request(tank("a"), tank("b"), tank("c")));
    expect(one?.days.value).toBeCloseTo(36 / 1.2, 12);
    expect(two?.fasterThanFirst_ratio).toBeCloseTo(2, 12);
    expect(three?.fasterThanFirst_ratio).toBeCloseTo(3, 12);
    expect(three?.days.value).toBeCloseTo(10, 12);
  });

  it("adds the errors of the uses as independent [JCGM 100, 5.1]", () => {
    const [, , three] = branchScenario(request(tank("a"), tank("b"), tank("c")));
    expect(three?.use_gPerDay.high).toBeCloseTo(3.6 + 0.2 * Math.sqrt(3), 12);
  });

  it("takes the mean for a tank that nobody measured, and says so", () => {
    const { use_gPerDay, ...unmeasured } = tank("b");
    const outlook = branchScenario(
      request(tank("a", { use_gPerDay: { value: 2, low: 2, high: 2 } }), unmeasured),
    );
    expect(use_gPerDay).toBeDefined();
    expect(outlook[1]?.use_gPerDay).toEqual({ value: 4, low: 3, high: 6 });
    expect(outlook[1]?.branches[1]).toMatchObject({ isAssumed: true });
    expect(branchSentences(outlook)[1]).toContain("the use of b is assumed, not measured");
  });

  it("says plainly when a life cannot be told, in place of a span that helps nobody", () => {
    const unsure = { use_gPerDay: { value: 0.5, low: 0.1, high: 4 } };
    const [line] = branchSentences(branchScenario(request(tank("a", unsure))));
    expect(line).toMatch(
      /^1 tank: how long it lasts cannot be told yet(, at least [1-9]\d* days)?: too little/,
    );
    expect(line).not.toMatch(/\d+ to \d+/);
    expect(branchSentences(branchScenario(request(tank("a"))))[0]).toMatch(/^1 tank: 30 days \(\d+ to \d+\)/);
  });

  it("tells no span with a further tank that nobody measured where it cannot tell one without it", () => {
    const unsure = { use_gPerDay: { value: 0.7, low: 0.1, high: 1.6 } };
    const { use_gPerDay, ...unmeasured } = tank("c");
    const outlook = branchScenario(request(tank("a", unsure), unmeasured));
    expect(use_gPerDay).toBeDefined();
    expect(outlook.map(({ days }) => isLifeVague(days))).toEqual([true, false]);
    for (const line of branchSentences(outlook)) {
      expect(line).toMatch(/cannot be told yet(, at least [1-9]\d* days)?: too little/);
      expect(line).not.toMatch(/\d+ to \d+/);
    }
  });

  it("tells the span of a small tank that is known badly with a large one that is measured", () => {
    const unsure = { use_gPerDay: { value: 0.1, low: 0.01, high: 0.5 } };
    const [one, two] = branchSentences(
      branchScenario(
        request(tank("a", unsure), tank("b", { use_gPerDay: { value: 4, low: 3.8, high: 4.2 } })),
      ),
    );
    expect(one).toContain("cannot be told yet");
    expect(two).toMatch(/^2 tanks: 9 days \(\d+ to \d+\)/);
  });

  it.each([
    {
      working: 2,
      back: ceramicDiffuser,
      flow: "steady",
      suffices: true,
      because: "(0.3 + 1.013) / 0.546 is 2.41 bar absolute",
    },
    {
      working: 2,
      back: atomiser,
      flow: "follows",
      suffices: true,
      because: "it opens, but not at the speed of sound",
    },
    {
      working: 1.5,
      back: atomiser,
      flow: "none",
      suffices: false,
      because: "the diffuser needs as much as there is",
    },
    {
      working: 3.6,
      back: atomiser,
      flow: "steady",
      suffices: true,
      because: "2.513 / 0.546 - 1.013 is 3.59: just above",
    },
    { working: 3.55, back: atomiser, flow: "follows", suffices: true, because: "just below" },
  ])(
    "has enough pressure or not: $working bar on $back bar, $because",
    ({ working, back, flow, suffices }) => {
      const [one] = branchScenario({
        ...request(tank("a", { backPressureGauge_bar: back })),
        workingPressureGauge_bar: working,
      });
      expect(one?.branches[0]?.flow).toBe(flow);
      expect(one?.suffices).toBe(suffices);
    },
  );

  it("shortens life where the working pressure must be raised for steady needles", () => {
    const [one] = branchScenario(request(tank("a", { backPressureGauge_bar: atomiser })));
    // Critical ratio of 1.3: (2 / 2.3) ** (1.3 / 0.3).
    const steady_bar = (1.5 + 1.01325) / (2 / 2.3) ** (1.3 / 0.3) - 1.01325;
    expect(one?.steadyFromGauge_bar).toBeCloseTo(steady_bar, 9);
    expect(one?.daysWhenSteady.value).toBeCloseTo((42 - 3 * steady_bar) / 1.2, 9);
  });

  it("is not shared evenly by a single needle before the splitter", () => {
    const [one, two] = branchScenario({
      ...request(tank("a"), tank("b")),
      needleValves: "before the splitter",
    });
    expect(one?.suffices).toBe(true);
    expect(two).toMatchObject({ suffices: false });
    expect(branchSentences(two === undefined ? [] : [two])[0]).toContain(
      "the one that opens first takes the gas",
    );
  });

  it.each([
    { because: "nothing was measured", branches: [{ tank: "a", backPressureGauge_bar: 0.3 }] as const },
    {
      because: "a use of nothing never ends",
      branches: [tank("a", { use_gPerDay: { value: 0, low: 0, high: 0 } })] as const,
    },
    { because: "no diffuser needs 6 bar", branches: [tank("a", { backPressureGauge_bar: 6 })] as const },
  ])("is refused: $because", ({ branches }) => {
    expect(() => branchScenario(request(...branches))).toThrow(OutOfValidRangeError);
  });
});
