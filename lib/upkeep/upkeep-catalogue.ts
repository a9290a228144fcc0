import type { SubjectKind } from "../journal/journal-entry.js";
import { recordedTasks } from "./recorded-task.js";

/** The others have journal entries of their own, or a date on a plate. */
export const upkeepTasks = [
  ...recordedTasks,
  "KH test",
  "probe calibration",
  "retest",
  "relief device",
] as const;
export type UpkeepTask = (typeof upkeepTasks)[number];

/** After how many days each is due again. */
export interface UpkeepIntervals {
  readonly oRing_days: number;
  readonly vesselInspection_days: number;
  readonly checkValve_days: number;
  readonly diffuserCleaning_days: number;
  readonly dropCheckerFluid_days: number;
  readonly khTest_days: number;
  readonly probeCalibration_days: number;
  /** So long before a date on a plate one is told. */
  readonly datesToldAhead_days: number;
}

/** Common practice, no source. What the maker states comes before it. */
export const usualIntervals: UpkeepIntervals = {
  oRing_days: 365,
  vesselInspection_days: 365,
  checkValve_days: 180,
  diffuserCleaning_days: 30,
  dropCheckerFluid_days: 30,
  khTest_days: 30,
  probeCalibration_days: 30,
  datesToldAhead_days: 60,
};

export interface TaskDescription {
  readonly subjectKind: SubjectKind;
  /** What follows where it is left. */
  readonly consequence: string;
  readonly whatToDo: string;
}

const outOfPressure =
  "Only with the outlet shut, the rest let off slowly and outside, and the gauge and the open air telling the same: loosen nothing under pressure.";

/** What each is about and how it is done. Common practice, no source; makers' instructions come first. */
export const taskDescriptions: Readonly<Record<UpkeepTask, TaskDescription>> = {
  "sediment soak": {
    subjectKind: "vessel",
    consequence:
      "Crystals of sodium citrate stay in the vessel, take room from gas and water, and foul its outlet.",
    whatToDo: `${outOfPressure} Fill the open vessel with warm water, no hotter than a hand bears (about 45 degC: hotter scalds, and may harm seals and lining); let it stand open until the crystals are loose, pour it out, rinse. Never close a vessel with hot water in it, never heat it, and ventilate: warm liquor gives CO2 off.`,
  },
  "O-ring": {
    subjectKind: "vessel",
    consequence: "A dry or cut seal leaks, and may let go at full pressure.",
    whatToDo: `${outOfPressure} Look at the seal; replace one that is flat, cut or hard by the maker's own part. Test for leaks with soapy water afterwards.`,
  },
  "vessel inspection": {
    subjectKind: "vessel",
    consequence: "Rust, dents and worn threads weaken a vessel unseen.",
    whatToDo: `${outOfPressure} Look inside and outside for rust, pits, dents and worn threads. With any of them do not fill it again until someone licensed for it has looked.`,
  },
  "check valve": {
    subjectKind: "valve",
    consequence: "Water runs back into solenoid and regulator when the pressure is gone.",
    whatToDo:
      "With the vessel shut, see that no water comes back past it; replace one that leaks or is older than its maker allows.",
  },
  "diffuser cleaning": {
    subjectKind: "tank",
    consequence: "A clogged diffuser gives less gas, then lets hoses slip off under pressure.",
    whatToDo:
      "With the valve closed, soak it as its maker says, rinse it well, and look at the bubbles after.",
  },
  "drop-checker fluid": {
    subjectKind: "tank",
    consequence: "Old or diluted fluid shows another colour than the CO2 makes.",
    whatToDo: "Renew fluid and indicator with water of the known KH.",
  },
  "KH test": {
    subjectKind: "tank",
    consequence: "CO2 is reckoned from the KH: where that has changed, so has the truth behind the number.",
    whatToDo: "Test the KH and enter it: journal kh.",
  },
  "probe calibration": {
    subjectKind: "sensor",
    consequence: "The pH drifts, and the CO2 that is reckoned from it.",
    whatToDo: "Calibrate it in two fresh buffers, best 7 and 4, and enter it: journal calibration.",
  },
  retest: {
    subjectKind: "vessel",
    consequence:
      "A vessel past its test date may not hold what its plate says, nor may it be filled under most codes.",
    whatToDo:
      "Have it tested by someone licensed for it, by your local code, then write the new date into the config. Past the date do not fill it.",
  },
  "relief device": {
    subjectKind: "vessel",
    consequence: "An old relief device may open too late, or not close again: it is what protects you.",
    whatToDo:
      "Have it replaced or tested by someone licensed for it, with one of the same opening pressure or lower, then write the new date into the config. Never plug it or set it higher.",
  },
};
