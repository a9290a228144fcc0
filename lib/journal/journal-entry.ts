/** Colours of bromothymol blue in trade words, from no CO2 to much. */
export const dropCheckerColours = ["blue", "blue-green", "green", "yellow-green", "yellow"] as const;
export type DropCheckerColour = (typeof dropCheckerColours)[number];

/** How the water was rid of its CO2 before the pH was read: it sets how far the baseline can be trusted. */
export const degassingMethods = [
  "aerated a day",
  "aerated an hour",
  "stood in a glass",
  "not known",
] as const;
export type DegassingMethod = (typeof degassingMethods)[number];

/** What a probe showed in one buffer. */
export interface BufferReading {
  readonly buffer: "4.01" | "6.86" | "7.00" | "9.18" | "10.01";
  readonly shown: number;
  readonly temperature_degC: number;
}

/** What a person saw, measured or did, each with the subject it concerns. */
export type JournalFact =
  | {
      readonly kind: "kh test";
      readonly tankId: string;
      readonly kh_dKH: number;
      /** Standard uncertainty of the test kit; half a drop's worth where nothing is said. */
      readonly khUncertainty_dKH?: number;
    }
  | {
      readonly kind: "degassed pH";
      readonly tankId: string;
      readonly pH: number;
      readonly how: DegassingMethod;
      /** Of the air it was degassed with, where a room monitor tells. */
      readonly roomCo2_ppm?: number;
      readonly temperature_degC?: number;
    }
  | { readonly kind: "drop checker"; readonly tankId: string; readonly colour: DropCheckerColour }
  | { readonly kind: "calibration"; readonly sensorId: string; readonly buffers: readonly BufferReading[] }
  | { readonly kind: "water change"; readonly tankId: string; readonly changed_L: number }
  | { readonly kind: "bubble count"; readonly valveId: string; readonly bubbles_perMin: number }
  | {
      readonly kind: "gauge reading";
      readonly vesselId: string;
      readonly pressureGauge_bar: number;
      readonly temperature_degC?: number;
    }
  | { readonly kind: "weighing"; readonly vesselId: string; readonly vesselMass_g: number };

/** One line of the journal. An entry is never changed: a wrong one is withdrawn by a later one. */
export interface JournalEntry {
  readonly entryId: number;
  /** When it was seen or done. */
  readonly at_epochMs: number;
  readonly enteredAt_epochMs: number;
  readonly source: "local" | "remote";
  readonly note: string;
  readonly fact: JournalFact;
  readonly withdrawn: boolean;
}
