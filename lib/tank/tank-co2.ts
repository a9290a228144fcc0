import { OutOfValidRangeError } from "../errors.js";
import { normalQuantile80 } from "../numerics/normal-distribution.js";
import { alkalinityFromKh_meqPerL } from "../quantities/units.js";
import { assertInRange } from "../quantities/valid-range.js";
import { agedColour, type AgedColour, type SeenColour } from "./aged-colour.js";
import { airEquilibriumCo2_mgPerL } from "./air-equilibrium.js";
import type { Co2Evidence, Co2Method } from "./co2-evidence.js";
import { hardnessEvidence, hardnessRanges } from "./co2-from-hardness.js";
import { co2FromPhDrop, phDropEvidence, type DegassedBaseline } from "./co2-from-ph-drop.js";
import { fuseCo2, type Co2Agreement, type FusedCo2 } from "./co2-fusion.js";
import type { ProbeSpread } from "./evidence-group.js";
import { tankIonicStrength, type WaterSalts } from "./ionic-strength.js";
import { otherBases_meqPerL } from "./other-bases.js";
import { waterDriftSigma_ln, type WaterAge } from "./water-drift.js";

/** A hardness test, or the config's value, with how long it has been and what happened to the water since. */
export interface KnownHardness extends WaterAge {
  readonly kh_dKH: number;
  /** Of the test kit alone; 0.5 where nothing is said. */
  readonly khUncertainty_dKH: number | undefined;
}

export interface KnownBaseline extends WaterAge {
  readonly baseline: DegassedBaseline;
  /** The probe was calibrated anew since: its offset no longer cancels. */
  readonly isRecalibratedSince: boolean;
  /** How far the probe may have wandered since, pH. */
  readonly driftPhSigma: number;
}

/** What is known of a tank at one instant. */
export interface TankKnowledge {
  readonly pH: number;
  readonly temperature_degC: number;
  readonly temperatureUncertainty_K: number;
  readonly salts: WaterSalts;
  readonly phosphate_mgPerL: number | undefined;
  readonly hardness: KnownHardness;
  readonly baseline: KnownBaseline | undefined;
  readonly colour: SeenColour | undefined;
  readonly probe: { readonly offsetPhSigma: number; readonly slopeSigma_ratio: number };
}

/** What one method says by itself. */
export interface MethodFigure {
  readonly method: Co2Method;
  /** Of "at least" and "at most" the edge. */
  readonly co2_mgPerL: number;
  readonly reach: Co2Evidence["reach"];
  /** 80 %, the probe's part included; undefined to the side to which the method is open. */
  readonly co2Low80_mgPerL: number | undefined;
  readonly co2High80_mgPerL: number | undefined;
  /** How far the fused value follows it; all of them add to 1. */
  readonly weight_ratio: number;
}

export interface TankCo2Estimate {
  readonly co2_mgPerL: number;
  readonly co2Low80_mgPerL: number;
  readonly co2High80_mgPerL: number;
  /** Of the methods that agree and read highest; what an alarm is held against, as nobody knows which of them is wrong. */
  readonly highestCentre_mgPerL: number;
  readonly methods: readonly MethodFigure[];
  readonly agreement: Co2Agreement;
  /** By the methods that use the probe, without any colour: what the virtual drop checker follows. */
  readonly byProbe_mgPerL: number;
  /** What the person should know of the methods, a sentence each. */
  readonly remarks: readonly string[];
}

/** Noise of one settled reading of a probe in a tank, pH. Judgement. */
const readingPhSigma = 0.02;
/** A reading of the pH, against which the drift since a baseline is held: two readings and the person's patience. */
const baselineReadingPhSigma = 0.03;
const defaultKhUncertainty_dKH = 0.5;
/** A phosphate that is told is seldom known better than by half. Judgement. */
const phosphateShare = 0.5;
/** From here on phosphate is worth a remark: it moves the pH drop by a tenth and more at 4 dKH. */
const remarkablePhosphate_mgPerL = 5;

/** Of the open air; a room has more. */
const leastRoomCo2_ppm = 420;

/** Less is no CO2 at all, and no fusion takes it. */
const toldRange = { quantity: "CO2", unit: "mg/L", minimum: 0.001, maximum: 1e5 } as const;

interface Witness {
  readonly evidence: Co2Evidence;
  /** It may err on the unsafe side by more than it states, so it must not pull the upper end down. */
  readonly isSuspect: boolean;
}

/**
 * A tank's free CO2 now, mg/L, with its 80 % interval and what each method says. The upper end is the highest of those with and
 * without the methods that can read far too low: the pH drop (phosphate that nobody told of) and a colour from before a rise. Nor
 * does it fall below what the pH gives with the hardness, or the drop, by themselves. Undefined where no formula holds.
 * @see [Aitken1936] for the fusion; ages of tests and colours count by judgement (water-drift.ts, aged-colour.ts)
 */
export function tankCo2(known: TankKnowledge): TankCo2Estimate | undefined {
  const remarks: string[] = [];
  const witnesses: Witness[] = [];
  const hardness = whereItHolds(() => fromHardness(known), "carbonate hardness", remarks);
  if (hardness !== undefined) witnesses.push({ evidence: hardness, isSuspect: false });
  const baseline = known.baseline;
  const drop = baseline === undefined ? undefined : dropThatCounts(known, baseline, remarks);
  if (drop !== undefined) witnesses.push({ evidence: drop, isSuspect: true });

  const probe: ProbeSpread = { offsetPhSigma: known.probe.offsetPhSigma, readingPhSigma };
  const byProbe = fuseCo2(evidencesOf(witnesses), probe);
  if (byProbe === undefined) return undefined;
  const colour = colourWitness(known, byProbe.co2_mgPerL, remarks);
  if (colour !== undefined) witnesses.push(colour);
  const fused = colour === undefined ? byProbe : fuseCo2(evidencesOf(witnesses), probe);
  if (fused === undefined) return undefined;
  if (known.phosphate_mgPerL !== undefined && known.phosphate_mgPerL >= remarkablePhosphate_mgPerL) {
    remarks.push(...phosphateRemarks(known, baseline !== undefined));
  }
  return {
    co2_mgPerL: fused.co2_mgPerL,
    co2Low80_mgPerL: fused.co2Low80_mgPerL,
    co2High80_mgPerL: upperEnd(witnesses, probe, fused),
    highestCentre_mgPerL: Math.max(fused.highestCentre_mgPerL, fused.co2_mgPerL),
    methods: witnesses.map(({ evidence }, index) =>
      figureOf(evidence, probe, fused.weights[index]?.weight_ratio ?? 0),
    ),
    agreement: fused.agreement,
    byProbe_mgPerL: byProbe.co2_mgPerL,
    remarks,
  };
}

function evidencesOf(witnesses: readonly Witness[]): readonly Co2Evidence[] {
  return witnesses.map(({ evidence }) => evidence);
}

function fromHardness(known: TankKnowledge): Co2Evidence {
  const { hardness } = known;
  const kit_dKH = hardness.khUncertainty_dKH ?? defaultKhUncertainty_dKH;
  const drift_dKH = hardness.kh_dKH * waterDriftSigma_ln(hardness);
  return hardnessEvidence({
    ...known.salts,
    pH: known.pH,
    kh_dKH: hardness.kh_dKH,
    khUncertainty_dKH: Math.min(Math.hypot(kit_dKH, drift_dKH), hardnessRanges.khUncertainty_dKH.maximum),
    temperature_degC: known.temperature_degC,
    temperatureUncertainty_K: known.temperatureUncertainty_K,
  });
}

function fromDrop(known: TankKnowledge, { baseline, ...since }: KnownBaseline): Co2Evidence {
  const reading = {
    ...known.salts,
    pH: known.pH,
    temperature_degC: known.temperature_degC,
    isRecalibratedSince: since.isRecalibratedSince,
    slopeUncertainty_ratio: known.probe.slopeSigma_ratio,
    baseline: {
      ...baseline,
      phUncertainty: Math.hypot(baseline.phUncertainty ?? baselineReadingPhSigma, since.driftPhSigma),
    },
  };
  const { phosphate_mgPerL } = known;
  if (phosphate_mgPerL === undefined || phosphate_mgPerL === 0) {
    return widened(phDropEvidence(reading), waterDriftSigma_ln(since));
  }
  const evidence = phDropEvidence({ ...reading, bases: { phosphate_mgPerL } });
  const byPhosphate_ln = Math.log(evidence.co2_mgPerL / co2FromPhDrop(reading).co2_mgPerL);
  return widened(evidence, waterDriftSigma_ln(since), phosphateShare * byPhosphate_ln);
}

/** A drop that leaves less CO2 in the tank than the air gives it was measured wrong, and would hide a danger. */
function dropThatCounts(
  known: TankKnowledge,
  baseline: KnownBaseline,
  remarks: string[],
): Co2Evidence | undefined {
  const again = "measure it again in water that was aerated for a day, with the tank's own probe";
  const { pH, roomCo2_ppm = leastRoomCo2_ppm } = baseline.baseline;
  if (pH <= known.pH) {
    remarks.push(
      `The degassed pH of ${pH.toFixed(2)} does not lie above the tank's ${known.pH.toFixed(2)}, so the pH drop does not count: ${again}.`,
    );
    return undefined;
  }
  const drop = whereItHolds(() => fromDrop(known, baseline), "pH drop", remarks);
  if (drop === undefined) return undefined;
  const { temperature_degC } = known;
  const byAir_mgPerL = airEquilibriumCo2_mgPerL({ temperature_degC, roomCo2_ppm });
  if (drop.co2_mgPerL >= byAir_mgPerL) return drop;
  remarks.push(
    `The pH drop gives less CO2 than the room's air does by itself (${byAir_mgPerL.toFixed(1)} mg/L), so it does not count: ${again}.`,
  );
  return undefined;
}

function widened(evidence: Co2Evidence, ...by_ln: readonly number[]): Co2Evidence {
  return { ...evidence, ownSigma_ln: Math.hypot(evidence.ownSigma_ln, ...by_ln) };
}

function colourWitness(known: TankKnowledge, byProbe_mgPerL: number, remarks: string[]): Witness | undefined {
  const { colour } = known;
  if (colour === undefined) return undefined;
  const aged = whereItHolds(
    () => agedColour(colour, { ...known, co2_mgPerL: byProbe_mgPerL }),
    "drop checker",
    remarks,
  );
  if (aged?.kind === "counts") return { evidence: aged.evidence, isSuspect: aged.mayHaveRisen };
  if (aged !== undefined) remarks.push(remarkOnColour(colour, aged));
  return undefined;
}

function remarkOnColour(
  { colour, age_h }: SeenColour,
  aged: Exclude<AgedColour, { readonly kind: "counts" }>,
): string {
  if (aged.kind === "too old") {
    return `The drop checker's colour of ${Math.round(age_h)} h ago counts no more: look again.`;
  }
  const change =
    aged.moved_ratio > 1
      ? `${aged.moved_ratio.toFixed(1)} times the CO2`
      : `CO2 down to ${Math.round(100 * aged.moved_ratio)} %`;
  return `The drop checker was ${colour} ${age_h.toFixed(1)} h ago; since then the pH says ${change}, so that colour counts no more: look again.`;
}

/** The highest upper end of those with and without each suspect, and what hardness or drop say by themselves with the pH. */
function upperEnd(witnesses: readonly Witness[], probe: ProbeSpread, fused: FusedCo2): number {
  const suspects = witnesses.filter(({ isSuspect }) => isSuspect);
  const ends = [fused.co2High80_mgPerL];
  for (let mask = 1; mask < 2 ** suspects.length; mask += 1) {
    const out = suspects.filter((_, index) => (mask & (1 << index)) !== 0);
    const rest = fuseCo2(evidencesOf(witnesses.filter((witness) => !out.includes(witness))), probe);
    if (rest !== undefined) ends.push(rest.co2High80_mgPerL);
  }
  for (const { evidence } of witnesses) {
    if (evidence.method === "carbonate hardness" || evidence.method === "pH drop") {
      ends.push(evidence.co2_mgPerL);
    }
  }
  return Math.max(...ends);
}

function figureOf(evidence: Co2Evidence, probe: ProbeSpread, weight_ratio: number): MethodFigure {
  const sigma_ln = Math.hypot(
    evidence.ownSigma_ln,
    evidence.probeOffset_lnPerPh * probe.offsetPhSigma,
    evidence.probeReading_lnPerPh * probe.readingPhSigma,
  );
  const factor = Math.exp(normalQuantile80 * sigma_ln);
  const { method, co2_mgPerL, reach } = evidence;
  return {
    method,
    co2_mgPerL,
    reach,
    co2Low80_mgPerL: reach === "at most" ? undefined : co2_mgPerL / factor,
    co2High80_mgPerL: reach === "at least" ? undefined : co2_mgPerL * factor,
    weight_ratio,
  };
}

/** Phosphate counts as hardness in a test (CO2 then reads high: the safe side), and holds the pH up (the drop reads low). */
function phosphateRemarks(known: TankKnowledge, hasDrop: boolean): readonly string[] {
  const { hardness, phosphate_mgPerL = 0 } = known;
  const { ionicStrength_molPerL } = tankIonicStrength(alkalinityFromKh_meqPerL(hardness.kh_dKH), known.salts);
  const other_dKH =
    otherBases_meqPerL(
      { pH: known.pH, temperature_degC: known.temperature_degC, ionicStrength_molPerL },
      { phosphate_mgPerL },
    ) / alkalinityFromKh_meqPerL(1);
  const ofTest_percent = Math.min(100, Math.round((100 * other_dKH) / hardness.kh_dKH));
  return [
    `Phosphate makes ${ofTest_percent} % of what a KH test shows, so CO2 by the KH reads high by that, the safe side; it is not taken off.`,
    ...(hasDrop
      ? [
          "Phosphate holds the pH up, so the pH drop shows too little CO2; it is allowed for as far as the phosphate is known, and never lowers the upper end.",
        ]
      : []),
  ];
}

/** A value that a sensor may show and a formula does not cover: the method says nothing then. */
function whereItHolds<Result extends Co2Evidence | AgedColour>(
  work: () => Result,
  method: Co2Method,
  remarks: string[],
): Result | undefined {
  try {
    const result = work();
    if ("co2_mgPerL" in result) assertInRange(result.co2_mgPerL, toldRange);
    return result;
  } catch (error) {
    if (!(error instanceof OutOfValidRangeError)) throw error;
    remarks.push(`The ${method} says nothing here: ${error.message}.`);
    return undefined;
  }
}
