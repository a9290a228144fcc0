/** What an outlet, a leak or a venting takes out of a vessel in one step. */
export interface VesselStep {
  readonly duration_s: number;
  readonly room_degC: number;
  /** Gas asked for, of the composition that the headspace has; never more than it holds is given. */
  readonly withdrawn_mol: number;
}

export interface Withdrawal {
  readonly co2_mol: number;
  readonly air_mol: number;
}

/**
 * A vessel at one instant. The site knows no more of its physics than this, so that a finer model can take its
 * place. Immutable: `advance` returns the next one, with what really left.
 */
export interface VesselModel {
  readonly pressureGauge_bar: number;
  readonly contents_degC: number;
  /** Where a sensor on the outside reads, in a model that tells it from the contents. */
  readonly steel_degC?: number;
  /** All CO2 inside that can still come out: gas and dissolved. */
  readonly co2_mol: number;
  readonly air_mol: number;
  /** Vessel and contents on a scale. */
  readonly mass_g: number;
  advance(step: VesselStep): { readonly vessel: VesselModel; readonly left: Withdrawal };
}
