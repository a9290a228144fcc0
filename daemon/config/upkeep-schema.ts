import { z } from "zod";
import { usualIntervals, type UpkeepIntervals } from "../../lib/upkeep/upkeep-catalogue.js";
import { wholeNumberValue } from "./config-values.js";

function every(key: keyof UpkeepIntervals, about: string) {
  const usual = usualIntervals[key];
  return wholeNumberValue({ from: 1, to: 3650, unit: "days", about: `${about} Default ${usual}.` }).default(
    usual,
  );
}

/** After how many days what wears is due again. */
export const upkeepSchema = z.strictObject(
  {
    oRing_days: every("oRing_days", "The vessel's seal is looked at each so many days."),
    vesselInspection_days: every("vesselInspection_days", "The vessel is looked at for rust and dents."),
    checkValve_days: every("checkValve_days", "The check valve behind each valve is tried."),
    diffuserCleaning_days: every("diffuserCleaning_days", "Each tank's diffuser is cleaned."),
    dropCheckerFluid_days: every("dropCheckerFluid_days", "The fluid of a drop checker is renewed."),
    khTest_days: every("khTest_days", "The KH of each tank is tested."),
    probeCalibration_days: every(
      "probeCalibration_days",
      "Each pH probe is calibrated; its alarm goes by how far it may be off.",
    ),
    datesToldAhead_days: every(
      "datesToldAhead_days",
      "retestBy and reliefDeviceBy of a vessel are told so long before.",
    ),
  },
  { error: "the keys oRing_days, checkValve_days and so on" },
);
