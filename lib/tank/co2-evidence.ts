export type Co2Method = "carbonate hardness" | "pH drop" | "drop checker";

/**
 * What one method says of a tank's free CO2 at one instant, as a normal distribution of ln(CO2). Errors that methods share
 * are named apart from those of each alone, so that two readings of one probe do not count as two witnesses.
 */
export interface Co2Evidence {
  readonly method: Co2Method;
  /** Median; of "at least" and "at most" the edge, in mg/L. */
  readonly co2_mgPerL: number;
  /** Standard deviation of ln(CO2) by what only this method gets wrong: its test kit, its baseline, the reader's eye. */
  readonly ownSigma_ln: number;
  /** How far ln(CO2) moves for one pH that the tank's probe stands off: -ln 10 where the absolute pH enters, 0 where it cancels. */
  readonly probeOffset_lnPerPh: number;
  /** The same for the noise of the present reading and drift since the baseline: -ln 10 wherever the present pH enters. */
  readonly probeReading_lnPerPh: number;
  /** A colour at the end of its scale bounds the CO2 from one side only. */
  readonly reach: "about" | "at least" | "at most";
}
