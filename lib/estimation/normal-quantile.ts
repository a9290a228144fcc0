import { assertInRange } from "../quantities/valid-range.js";

const coefficients = {
  middle: {
    above: [2.50662823884, -18.61500062529, 41.39119773534, -25.44106049637],
    below: [-8.4735109309, 23.08336743743, -21.06224101826, 3.13082909833],
  },
  tail: [
    0.3374754822726147, 0.9761690190917186, 0.1607979714918209, 0.0276438810333863, 0.0038405729373609,
    0.0003951896511919, 0.0000321767881768, 0.0000002888167364, 0.0000003960315187,
  ],
} as const;

/**
 * The standard normal deviate below which a share lies, 0 < share < 1, within 3e-9.
 * @see [Moro1995] (coefficients from memory, checked against standard tables in the tests)
 */
export function normalQuantile(share: number): number {
  const fromMiddle = share - 0.5;
  if (Math.abs(fromMiddle) < 0.42) {
    const square = fromMiddle * fromMiddle;
    const { above, below } = coefficients.middle;
    const numerator = above.reduceRight<number>((sum, factor) => sum * square + factor, 0);
    const denominator = below.reduceRight<number>((sum, factor) => (sum + factor) * square, 0) + 1;
    return (fromMiddle * numerator) / denominator;
  }
  const far = Math.log(-Math.log(fromMiddle > 0 ? 1 - share : share));
  const deviate = coefficients.tail.reduceRight<number>((sum, factor) => sum * far + factor, 0);
  return fromMiddle > 0 ? deviate : -deviate;
}

const bases = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61] as const;

/**
 * Point `index` of the Halton sequence in so many dimensions, as standard normal deviates. The first dimensions are spread best.
 * @throws OutOfValidRangeError for more dimensions than there are bases: a missing deviate would pass as zero
 * @see [Halton1960]
 */
export function quasiRandomNormals(index: number, dimensions: number): readonly number[] {
  assertInRange(dimensions, {
    quantity: "dimensions of a quasi-random point",
    unit: "",
    minimum: 1,
    maximum: bases.length,
  });
  return bases.slice(0, dimensions).map((base) => {
    let share = 0;
    let digit = 1 / base;
    for (let rest = index; rest > 0; rest = Math.floor(rest / base)) {
      share += digit * (rest % base);
      digit /= base;
    }
    return normalQuantile(share);
  });
}
