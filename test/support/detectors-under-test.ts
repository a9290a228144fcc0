import type { SupplyDetectorMaker, SupplyFinding } from "./charge-experiments.js";

/** The detectors that exist: what they can find, and how to make one. None so far. */
export const detectorsUnderTest:
  { readonly maker: SupplyDetectorMaker; readonly finds: readonly SupplyFinding[] } | undefined = undefined;
