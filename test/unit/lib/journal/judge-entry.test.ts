import { describe, expect, it } from "vitest";
import { judgeEntry, type EntryVerdict, type JournalSite } from "../../../../lib/journal/judge-entry.js";
import type { JournalEntry, JournalFact } from "../../../../lib/journal/journal-entry.js";

const now_epochMs = Date.UTC(2026, 4, 1, 18);
const minute_ms = 60_000;
const day_ms = 86_400_000;

const site: JournalSite = {
  tanks: new Map([["loach", { volume_L: 120 }]]),
  sensors: new Map([
    ["loach-ph", { isPhSensor: true }],
    ["cellar-gauge", { isPhSensor: false }],
  ]),
  valves: new Map([["outlet", {}]]),
  vessels: new Map([
    ["cellar", { kind: "generator", volume_L: 2, ratedPressureGauge_bar: 20, reliefOpeningGauge_bar: 18 }],
    [
      "bare",
      {
        kind: "generator",
        volume_L: 2,
        ratedPressureGauge_bar: undefined,
        reliefOpeningGauge_bar: undefined,
      },
    ],
    [
      "bought",
      {
        kind: "liquid",
        volume_L: 2,
        ratedPressureGauge_bar: undefined,
        reliefOpeningGauge_bar: undefined,
      },
    ],
  ]),
};

const kh = (kh_dKH: number): JournalFact => ({ kind: "kh test", tankId: "loach", kh_dKH });
const gauge = (pressureGauge_bar: number): JournalFact => ({
  kind: "gauge reading",
  vesselId: "cellar",
  pressureGauge_bar,
  asRead: { value: pressureGauge_bar, unit: "bar" },
});
const charge = (
  sodiumBicarbonate_g: number,
  acid_g: number,
  water_kg: number,
  vesselId = "cellar",
): JournalFact => ({
  kind: "charge closed",
  vesselId,
  acid: { kind: "citric-acid-anhydrous", mass_g: acid_g },
  sodiumBicarbonate_g,
  water_kg,
  closedWith: "water",
  sealedAt_degC: 20,
});
const buffers = (...shown: readonly (readonly ["4.01" | "7.00", number])[]): JournalFact => ({
  kind: "calibration",
  sensorId: "loach-ph",
  buffers: shown.map(([buffer, value]) => ({ buffer, shown: value, temperature_degC: 24 })),
});
const entryOf = (fact: JournalFact): JournalEntry => ({
  entryId: 1,
  at_epochMs: now_epochMs - 7 * day_ms,
  enteredAt_epochMs: now_epochMs - 7 * day_ms,
  source: "local",
  note: "",
  fact,
  withdrawn: false,
});

const judged = (fact: JournalFact, age_ms = 0, last?: JournalFact): EntryVerdict =>
  judgeEntry(fact, now_epochMs - age_ms, {
    now_epochMs,
    site,
    last: last === undefined ? undefined : entryOf(last),
  });
const remarks = (verdict: EntryVerdict): readonly string[] =>
  verdict.kind === "accepted" ? verdict.remarks.map(({ kind }) => kind) : ["refused"];

describe("an entry is refused", () => {
  it.each<{ fact: JournalFact; refusal: Readonly<Record<string, unknown>>; because: string }>([
    {
      fact: kh(45),
      refusal: { quantity: "kh_dKH", value: 45, unit: "dKH", minimum: 0.1, maximum: 40 },
      because: "a decimal point slipped",
    },
    { fact: kh(Number.NaN), refusal: { quantity: "kh_dKH" }, because: "it is no number" },
    {
      fact: { kind: "kh test", tankId: "loach", kh_dKH: 4, khUncertainty_dKH: 0 },
      refusal: { quantity: "khUncertainty_dKH", minimum: 0.05 },
      because: "no drop test is without error",
    },
    {
      fact: { kind: "degassed pH", tankId: "loach", pH: 76, how: "not known" },
      refusal: { quantity: "pH", maximum: 10 },
      because: "a decimal point was left out",
    },
    {
      fact: { kind: "water change", tankId: "loach", changed_L: 121 },
      refusal: { quantity: "changed_L", value: 121, unit: "L", maximum: 120 },
      because: "more than the tank holds",
    },
    {
      fact: { kind: "bubble count", valveId: "outlet", bubbles_perMin: -1 },
      refusal: { quantity: "bubbles_perMin", minimum: 0 },
      because: "less than nothing",
    },
    { fact: gauge(401), refusal: { quantity: "pressureGauge_bar", maximum: 400 }, because: "no such gauge" },
    {
      fact: { kind: "weighing", vesselId: "cellar", vesselMass_g: 3.4 },
      refusal: { quantity: "vesselMass_g", unit: "g", minimum: 100 },
      because: "kilograms were written for grams",
    },
    {
      fact: {
        kind: "regulator set",
        vesselId: "cellar",
        outletGauge_bar: 20,
        asRead: { value: 20, unit: "bar" },
      },
      refusal: { quantity: "outletGauge_bar", maximum: 15 },
      because: "that is the inlet",
    },
    {
      fact: charge(80, 66, 0.001),
      refusal: { quantity: "water_kg", minimum: 0.01 },
      because: "litres were meant",
    },
    { fact: buffers(["7.00", 15]), refusal: { quantity: "shown pH", maximum: 14 }, because: "no pH" },
  ])("out of its range: $because", ({ fact, refusal }) => {
    expect(judged(fact)).toMatchObject({ kind: "refused", refusal: { kind: "out of range", ...refusal } });
  });

  it.each<{ fact: JournalFact; subjectKind: string; known: readonly string[] }>([
    { fact: { kind: "kh test", tankId: "loch", kh_dKH: 4 }, subjectKind: "tank", known: ["loach"] },
    {
      fact: { kind: "bubble count", valveId: "loach", bubbles_perMin: 60 },
      subjectKind: "valve",
      known: ["outlet"],
    },
    {
      fact: { kind: "weighing", vesselId: "attic", vesselMass_g: 3000 },
      subjectKind: "vessel",
      known: ["cellar", "bare", "bought"],
    },
    {
      fact: { kind: "calibration", sensorId: "shrimp-ph", buffers: [] },
      subjectKind: "sensor",
      known: ["loach-ph", "cellar-gauge"],
    },
  ])("of a $subjectKind that the site does not have", ({ fact, subjectKind, known }) => {
    expect(judged(fact)).toMatchObject({
      kind: "refused",
      refusal: { kind: "unknown subject", subjectKind, known },
    });
  });

  it.each([
    { age_ms: -5 * minute_ms, kind: "accepted", because: "two clocks may differ by five minutes" },
    { age_ms: -5 * minute_ms - 1, kind: "in the future", because: "and by no more" },
    { age_ms: 400 * day_ms, kind: "accepted", because: "400 days are still of use" },
    { age_ms: 400 * day_ms + 1, kind: "too old", because: "and no more" },
    { age_ms: Number.NaN, kind: "in the future", because: "what is no time is not taken" },
  ])("or taken by its time: $because", ({ age_ms, kind }) => {
    const verdict = judged(kh(4), age_ms);
    expect(verdict.kind === "refused" ? verdict.refusal.kind : verdict.kind).toBe(kind);
  });

  it.each<{ fact: JournalFact; reason: string }>([
    { fact: charge(80, 66, 0.5, "bought"), reason: "only a generator takes acid" },
    {
      fact: {
        kind: "calibration",
        sensorId: "cellar-gauge",
        buffers: [{ buffer: "7.00", shown: 7, temperature_degC: 24 }],
      },
      reason: "does not measure pH",
    },
    { fact: buffers(), reason: "at least one" },
    { fact: buffers(["7.00", 7.1], ["7.00", 7.2]), reason: "7.00 stands in it twice" },
    { fact: charge(80, 66, 2.1), reason: "does not fit into 2 L" },
    { fact: charge(2500, 2000, 0.5), reason: "does not fit into 2 L" },
  ])("that contradicts itself or the config: $reason", ({ fact, reason }) => {
    const verdict = judged(fact);
    expect(verdict).toMatchObject({ refusal: { kind: "contradictory" } });
    expect(JSON.stringify(verdict)).toContain(reason);
  });

  it("and names what the vessel could hold in as many digits as a scale shows, and never as a plan's limit", () => {
    const text = JSON.stringify(judged(charge(80, 66, 2.1)));
    expect(text).toMatch(
      /water is 2\.1 kg, and at most 1\.\d\d kg could be in it at all; a plan leaves at least 30 %/,
    );
  });
});

describe("an unusual value", () => {
  const degassed = (pH: number): JournalFact => ({
    kind: "degassed pH",
    tankId: "loach",
    pH,
    how: "aerated a day",
  });
  const said = (fact: JournalFact, isSure: boolean, last?: JournalFact): string => {
    const before = last === undefined ? undefined : entryOf(last);
    const verdict = judgeEntry(fact, now_epochMs, { now_epochMs, site, last: before, isSure });
    return verdict.kind === "refused" ? verdict.refusal.kind : verdict.kind;
  };

  it.each([
    { fact: kh(30), kind: "accepted", because: "hard water" },
    { fact: kh(31), kind: "unusual", because: "hardly any tap has it" },
    { fact: degassed(6), kind: "accepted", because: "very soft water" },
    { fact: degassed(5.9), kind: "unusual", because: "below any aerated tank" },
    { fact: degassed(9.5), kind: "accepted", because: "hard water" },
    { fact: degassed(9.6), kind: "unusual", because: "above any aerated tank" },
  ])("is refused until the person stands by it: $because", ({ fact, kind }) => {
    expect(said(fact, false)).toBe(kind);
    expect(said(fact, true)).toBe("accepted");
  });

  it("is none where the last test showed the same", () => {
    expect(said(kh(33), false, kh(32))).toBe("accepted");
    expect(said(kh(33), false, kh(4))).toBe("unusual");
  });

  it("beyond what can be is refused however sure the person is", () => {
    expect(said(kh(41), true)).toBe("out of range");
  });
});

describe("an entry is taken with a remark", () => {
  it.each([
    { kh_dKH: 8, said: ["unlike the last"], because: "twice the last" },
    { kh_dKH: 7.9, said: [], because: "not quite twice" },
    { kh_dKH: 2, said: ["unlike the last"], because: "half of the last" },
    { kh_dKH: 2.1, said: [], because: "not quite half" },
  ])("where a KH is unlike the last one: $because", ({ kh_dKH, said }) => {
    expect(remarks(judged(kh(kh_dKH), 0, kh(4)))).toEqual(said);
  });

  it("names the last KH, its day and both values", () => {
    expect(judged(kh(12), 0, kh(4))).toMatchObject({
      remarks: [{ value: 12, last: 4, unit: "dKH", lastAt_epochMs: now_epochMs - 7 * day_ms }],
    });
    expect(remarks(judged(kh(12)))).toEqual([]);
  });

  it.each([
    { kh_dKH: 8, said: ["unlike the last"], because: "twice the config's" },
    { kh_dKH: 5, said: [], because: "near the config's" },
    { kh_dKH: 0.4, said: ["unlike the last"], because: "a decimal point slipped" },
  ])("where a first KH test is unlike the config's KH: $because", ({ kh_dKH, said }) => {
    const withKh = { ...site, tanks: new Map([["loach", { volume_L: 120, kh_dKH: 4 }]]) };
    const context = { now_epochMs, site: withKh, last: undefined };
    expect(remarks(judgeEntry(kh(kh_dKH), now_epochMs, context))).toEqual(said);
  });

  it.each([
    { presentPh: 6.5, said: ["not above the present pH"], because: "the tank's pH lies above it" },
    { presentPh: 6.4, said: ["not above the present pH"], because: "it is the tank's pH" },
    { presentPh: 6.3, said: [], because: "some drop is there" },
    { presentPh: undefined, said: [], because: "the tank's pH is not known" },
  ])("where a degassed pH leaves no drop: $because", ({ presentPh, said }) => {
    const fact: JournalFact = { kind: "degassed pH", tankId: "loach", pH: 6.4, how: "aerated a day" };
    const context = { now_epochMs, site, last: undefined, presentPh };
    expect(remarks(judgeEntry(fact, now_epochMs, context))).toEqual(said);
  });

  it("where a gauge shows more than the plates allow, and never refuses it", () => {
    expect(remarks(judged(gauge(18)))).toEqual([]);
    expect(judged(gauge(19))).toMatchObject({
      remarks: [{ which: "relief opening pressure", limitGauge_bar: 18 }],
    });
    expect(remarks(judged(gauge(21)))).toEqual(["above the rating", "above the rating"]);
  });

  it("where a calibration moves the probe by half a pH or more", () => {
    expect(remarks(judged(buffers(["7.00", 7.3], ["4.01", 4.3])))).toEqual([]);
    expect(remarks(judged(buffers(["7.00", 6.51], ["4.01", 3.52])))).toEqual([]);
    expect(remarks(judged(buffers(["7.00", 6.5], ["4.01", 3.51])))).toHaveLength(2);
    expect(judged(buffers(["7.00", 7.1], ["4.01", 6.9]))).toMatchObject({
      remarks: [{ buffer: "4.01", shown: 6.9 }],
    });
  });

  // 80 g of bicarbonate with 66 g of acid in 2 L is the example of the config; three times as much must not stay below
  // 16.2 bar: 240 g hold 2.86 mol of CO2, by the ideal gas law 54 bar in 1.4 L at 40 degC were nothing dissolved.
  it("where the charge may come near the pressures on the plates", () => {
    expect(remarks(judged(charge(80, 66, 0.5)))).toEqual([]);
    expect(judged(charge(240, 190, 0.5))).toMatchObject({
      remarks: [{ kind: "strong charge", hottest_degC: 40, allowedGauge_bar: 16.2 }],
    });
    expect(remarks(judged(charge(240, 190, 0.5, "bare")))).toEqual([]);
  });

  // 3 NaHCO3 (84.007 g/mol) to one citric acid (192.124 g/mol), IUPAC atomic weights: 80 g take 60.99 g.
  it.each([
    { acid_g: 6.6, said: ["acid out of proportion"], because: "a decimal point that slipped" },
    { acid_g: 30, said: ["acid out of proportion"], because: "less than half" },
    { acid_g: 31, said: [], because: "more than half" },
    { acid_g: 121, said: [], because: "less than twice" },
    { acid_g: 123, said: ["acid out of proportion"], because: "more than twice" },
  ])("where the acid does not go with the bicarbonate: $because", ({ acid_g, said }) => {
    const verdict = judged(charge(80, acid_g, 0.5));
    expect(remarks(verdict)).toEqual(said);
    if (said.length === 0) return;
    expect(verdict).toMatchObject({ remarks: [{ acid_g, exact_g: expect.closeTo(60.99, 1) as number }] });
  });

  it("where the gas space is less than a plan would leave", () => {
    expect(remarks(judged(charge(20, 16, 1.5)))).toContain("little gas space");
  });
});

describe("a calibration from afar", () => {
  const sent = (fact: JournalFact, corrections: readonly { gain: number; offset: number }[] = []) =>
    judgeEntry(fact, now_epochMs, { now_epochMs, site, last: undefined, source: "remote", corrections });

  it.each([
    { shown: 7.3, corrections: [], taken: true, because: "0.3 pH is what a probe wanders" },
    { shown: 6.5, corrections: [], taken: false, because: "half a pH hides a factor 3 of CO2" },
    {
      shown: 6.5,
      corrections: [{ gain: 1, offset: 0.4 }],
      taken: true,
      because: "it was corrected so before",
    },
    {
      shown: 6.1,
      corrections: [
        { gain: 1, offset: 0.45 },
        { gain: 1, offset: 0 },
      ],
      taken: false,
      because: "steps from afar do not add up",
    },
  ])("is taken or sent to the daemon's own machine: $because", ({ shown, corrections, taken }) => {
    const verdict = sent(buffers(["7.00", shown]), corrections);
    expect(verdict.kind).toBe(taken ? "accepted" : "refused");
    if (!taken) expect(JSON.stringify(verdict)).toContain("enter it at the daemon's own machine");
  });
});
