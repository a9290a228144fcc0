import type { DropCheckerColour } from "../../lib/journal/journal-entry.js";
import type { Co2Band } from "../../lib/tank/co2-bands.js";
import type { TankCo2 } from "../../lib/tank/co2-from-hardness.js";
import type { Co2Agreement } from "../../lib/tank/co2-fusion.js";
import type { Co2Jump } from "../../lib/tank/co2-jump.js";
import type { DropCheckerView } from "../../lib/tank/drop-checker.js";
import type { ProbeBasis, ProbeNow } from "../../lib/tank/probe-record.js";
import type { RateOfRise } from "../../lib/tank/rate-of-rise.js";
import type { TankCaution } from "../../lib/tank/tank-cautions.js";
import type { MethodFigure } from "../../lib/tank/tank-co2.js";
import type { BaselineInUse, HardnessInUse } from "./tank-facts.js";

/** Without a thermometer in the tank. A tank stands at 22 to 28 degC; 3 K are about 4 % of the CO2. Common practice, no source. */
export const assumedTemperature = { temperature_degC: 25, uncertainty_K: 3 } as const;

export interface ProbeStatus {
  readonly basis: ProbeBasis;
  readonly verdict: ProbeNow["health"]["verdict"];
  readonly calibratedAt_epochMs: number | undefined;
  readonly calibrationDue_epochMs: number | undefined;
  readonly calibrationIsDue: boolean;
  readonly phSigma: number;
  /** False where the last calibration had one buffer: its slope is an earlier one's. */
  readonly slopeIsChecked: boolean;
  readonly remarks: readonly string[];
}

export interface DropCheckerStatus {
  /** What a person should see now; undefined while the tank's CO2 is not known. */
  readonly expected: DropCheckerView | undefined;
  /** False until the liquid has been followed for three of its time constants. */
  readonly isSettled: boolean;
  readonly referenceKh_dKH: number;
  /** True where the config says nothing of its liquid. */
  readonly referenceIsAssumed: boolean;
  readonly timeConstant_h: number;
  readonly seen: { readonly colour: DropCheckerColour; readonly at_epochMs: number } | undefined;
}

export interface TankEstimate {
  readonly tankId: string;
  readonly hardness: HardnessInUse;
  readonly baseline: BaselineInUse | undefined;
  readonly pH: number | undefined;
  /** What the floor is held against: for a day after a calibration that raised the pH, the lower of both corrections. */
  readonly pHForFloor: number | undefined;
  /** Why nothing can be said of this tank though its sensors may speak; undefined as long as all goes well. */
  readonly fault: string | undefined;
  readonly temperature_degC: number | undefined;
  readonly temperatureIsAssumed: boolean;
  readonly roomCo2_ppm: number | undefined;
  /** Undefined while the pH is not fresh, or where no formula holds. */
  readonly co2: TankCo2 | undefined;
  /** When the pH was measured that the estimate rests on. */
  readonly co2At_epochMs: number | undefined;
  readonly methods: readonly MethodFigure[];
  readonly agreement: Co2Agreement | undefined;
  readonly remarks: readonly string[];
  readonly band: Co2Band;
  /** The band that was reached last; an alarm holds while nothing newer is known. */
  readonly lastBand: Co2Band;
  readonly bandReasons: readonly string[];
  /** Why the upper end is above the close limit though the central value is not above the alarm limit. */
  readonly widthReason: string | undefined;
  readonly rise: RateOfRise | undefined;
  /** By how much the CO2 went up within the last minutes; undefined where that cannot be told. */
  readonly jump: Co2Jump | undefined;
  readonly risesTooFast: RateOfRise | Co2Jump | undefined;
  readonly cautions: readonly TankCaution[];
  readonly dropChecker: DropCheckerStatus | undefined;
  readonly probe: ProbeStatus | undefined;
}
