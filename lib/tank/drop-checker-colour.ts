import type { DropCheckerColour } from "../journal/journal-entry.js";
import { assertInRange } from "../quantities/valid-range.js";

/**
 * Colour of bromothymol blue. A person sees the ratio of its two forms, so the colours are bands of pH less pKa; handbooks put
 * pKa at 7.1 to 7.3, by ionic strength and by who measured.
 * @see [HorobinKiernan2002] 7.1, [CRC2016] 7.30
 */
export const indicatorPka = { value: 7.2, low: 7.1, high: 7.3 } as const;

/** Reading colour against a chart: a person is right within 0.2 pH in four of five cases. Common practice, no source. */
export const readerPh80 = 0.2;

/** Lower end of each colour in pH less pKa; green is 15 to 35 mg/L at 4 dKH. Common practice, no source. */
const lowerEnds: readonly (readonly [DropCheckerColour, number])[] = [
  ["blue", 0.08],
  ["blue-green", -0.24],
  ["green", -0.615],
  ["yellow-green", -0.76],
];

const phRange = { quantity: "pH of the drop checker", unit: "", minimum: 3, maximum: 11 };
const pkaRange = { quantity: "pKa of the indicator", unit: "", minimum: 6.5, maximum: 8 };

/**
 * The colour that a drop checker's liquid shows at a pH, in trade words.
 * @throws OutOfValidRangeError for a pH outside 3 to 11 or a pKa outside 6.5 to 8
 */
export function dropCheckerColourAt(pH: number, pKa: number = indicatorPka.value): DropCheckerColour {
  assertInRange(pH, phRange);
  assertInRange(pKa, pkaRange);
  return lowerEnds.find(([, end]) => pH - pKa >= end)?.[0] ?? "yellow";
}

/** The pH between which a colour lies; an end of the scale is open to one side. */
export interface ColourBand {
  readonly pHLow: number | undefined;
  readonly pHHigh: number | undefined;
}

/** @throws OutOfValidRangeError for a pKa outside 6.5 to 8 */
export function colourBand(colour: DropCheckerColour, pKa: number = indicatorPka.value): ColourBand {
  assertInRange(pKa, pkaRange);
  const index = lowerEnds.findIndex(([name]) => name === colour);
  const low = lowerEnds[index]?.[1];
  const high = lowerEnds[index === -1 ? lowerEnds.length - 1 : index - 1]?.[1];
  return {
    pHLow: low === undefined ? undefined : pKa + low,
    pHHigh: high === undefined ? undefined : pKa + high,
  };
}

/** An absorption band as a bell curve of two half-widths, so that tails on either side can differ. */
interface AbsorptionBand {
  readonly peak_nm: number;
  readonly below_nm: number;
  readonly above_nm: number;
  /** At the peak. */
  readonly absorptivity_LPerMolCm: number;
}

/**
 * Base form: peak and absorptivity from a teaching text's own measurement (3.66e4 at 620 nm; 3.57e4 listed). The rest from memory:
 * the acid form's peak and absorptivity, and the widths, which are set so that the forms absorb alike at 500 nm.
 */
const bands: Readonly<Record<"base" | "acid", AbsorptionBand>> = {
  base: { peak_nm: 617, below_nm: 52, above_nm: 28, absorptivity_LPerMolCm: 3.66e4 },
  acid: { peak_nm: 433, below_nm: 45, above_nm: 36, absorptivity_LPerMolCm: 1.7e4 },
};

/** A drop checker's bulb: a few drops of indicator, seen through a centimetre. Common practice, no source. */
const dye_molPerL = 5e-5;
const path_cm = 1;

function bell(at: number, peak: number, below: number, above: number): number {
  const distance = (at - peak) / (at < peak ? below : above);
  return Math.exp(-0.5 * distance * distance);
}

/**
 * Absorptivity of the indicator at a wavelength, L/(mol cm), by the share of its base form.
 * @see [HorobinKiernan2002] for the indicator; band shapes from memory
 */
export function indicatorAbsorptivity_LPerMolCm(wavelength_nm: number, base_ratio: number): number {
  const of = (band: AbsorptionBand): number =>
    band.absorptivity_LPerMolCm * bell(wavelength_nm, band.peak_nm, band.below_nm, band.above_nm);
  return base_ratio * of(bands.base) + (1 - base_ratio) * of(bands.acid);
}

/**
 * CIE 1931 colour matching functions of the 2 degree observer.
 * @see [Wyman2013] equation 4, the multi-lobe fit
 */
export function colourMatching(wavelength_nm: number): readonly [x: number, y: number, z: number] {
  const lobe = (peak_nm: number, below_nm: number, above_nm: number): number =>
    bell(wavelength_nm, peak_nm, below_nm, above_nm);
  return [
    1.056 * lobe(599.8, 37.9, 31) + 0.362 * lobe(442, 16, 26.7) - 0.065 * lobe(501.1, 20.4, 26.2),
    0.821 * lobe(568.8, 46.9, 40.5) + 0.286 * lobe(530.9, 16.3, 31.1),
    1.217 * lobe(437, 11.8, 36) + 0.681 * lobe(459, 26, 13.8),
  ];
}

/** The white of sRGB (D65), and the matrix from CIE XYZ to linear sRGB. [IEC61966] */
const white = [0.9505, 1, 1.089] as const;
const fromXyz = [
  [3.2406, -1.5372, -0.4986],
  [-0.9689, 1.8758, 0.0415],
  [0.0557, -0.204, 1.057],
] as const;

export interface Swatch {
  readonly red: number;
  readonly green: number;
  readonly blue: number;
  readonly hex: string;
}

/** Shown with every swatch. */
export const swatchCaution =
  "Screens, lamps and eyes differ: compare the liquid with a white card in daylight, not with this patch alone.";

/**
 * The colour of the liquid on a screen, 0 to 255 each: white light through the two forms of the indicator, by the law of Beer
 * and Lambert, seen by the standard observer. Fit to tell blue from green from yellow, not to read a pH off a screen.
 * @throws OutOfValidRangeError for a pH outside 3 to 11 or a pKa outside 6.5 to 8
 * @see [Wyman2013], [IEC61966], [HorobinKiernan2002]
 */
export function dropCheckerSwatch(pH: number, pKa: number = indicatorPka.value): Swatch {
  assertInRange(pH, phRange);
  assertInRange(pKa, pkaRange);
  const base_ratio = 1 / (1 + 10 ** (pKa - pH));
  let [X, Y, Z] = [0, 0, 0];
  let [X0, Y0, Z0] = [0, 0, 0];
  for (let wavelength_nm = 380; wavelength_nm <= 780; wavelength_nm += 5) {
    const [x, y, z] = colourMatching(wavelength_nm);
    const through =
      10 ** -(dye_molPerL * path_cm * indicatorAbsorptivity_LPerMolCm(wavelength_nm, base_ratio));
    [X, Y, Z] = [X + x * through, Y + y * through, Z + z * through];
    [X0, Y0, Z0] = [X0 + x, Y0 + y, Z0 + z];
  }
  // The eye takes the lamp for white: each value relative to the light without the dye.
  const seen = [(X / X0) * white[0], (Y / Y0) * white[1], (Z / Z0) * white[2]] as const;
  const [red, green, blue] = fromXyz.map(([a, b, c]) => screenValue(a * seen[0] + b * seen[1] + c * seen[2]));
  const values = [red ?? 0, green ?? 0, blue ?? 0];
  return {
    red: red ?? 0,
    green: green ?? 0,
    blue: blue ?? 0,
    hex: `#${values.map((value) => value.toString(16).padStart(2, "0")).join("")}`,
  };
}

/** Linear light to a screen's value. @see [IEC61966] */
function screenValue(linear: number): number {
  const clipped = Math.min(Math.max(linear, 0), 1);
  const encoded = clipped <= 0.0031308 ? 12.92 * clipped : 1.055 * clipped ** (1 / 2.4) - 0.055;
  return Math.round(255 * encoded);
}
