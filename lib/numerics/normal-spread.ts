export interface NormalSpread {
  /** The value below which this share lies; infinite where so much of it is out of reach. */
  quantile(share: number): number;
  /** Share of the finite values. */
  readonly finiteShare: number;
}

const pairs = 1024;
/** A memo of a pure function: it never changes an answer, only its cost. */
const knownPoints = new Map<number, readonly (readonly number[])[]>();

/** The root of x^(count + 1) = x + 1: the golden ratio for one variable. */
function generalisedGolden(count: number): number {
  let x = 1.5;
  for (let round = 0; round < 60; round += 1) x = (1 + x) ** (1 / (count + 1));
  return x;
}

/**
 * Evenly spread points for some standard normal variables, each with its mirror image: multiples of the powers of the
 * generalised golden ratio, from memory, turned into normal values.
 * @see [BoxMuller1958]
 */
function normalPoints(variables: number): readonly (readonly number[])[] {
  const known = knownPoints.get(variables);
  if (known !== undefined) return known;
  const points = pointsFor(variables);
  knownPoints.set(variables, points);
  return points;
}

function pointsFor(variables: number): readonly (readonly number[])[] {
  const uniforms = 2 * Math.ceil(variables / 2);
  const golden = generalisedGolden(uniforms);
  const points: number[][] = [];
  for (let index = 0; index < pairs; index += 1) {
    const uniform = (k: number): number => (0.5 + (index + 1) / golden ** (k + 1)) % 1;
    const point = Array.from({ length: variables }, (_, k) => {
      const even = k - (k % 2);
      const radius = Math.sqrt(-2 * Math.log(1 - uniform(even)));
      const angle = 2 * Math.PI * uniform(even + 1);
      return k % 2 === 0 ? radius * Math.cos(angle) : radius * Math.sin(angle);
    });
    points.push(
      point,
      point.map((value) => -value),
    );
  }
  return points;
}

/**
 * How a result scatters when some independent standard normal variables go into it, without chance. An infinite result
 * counts as larger than all others. Quantiles from 0.05 to 0.95 are good to a twentieth of a standard deviation.
 * @param variables 1 to 6
 */
export function normalSpread(variables: number, resultOf: (z: readonly number[]) => number): NormalSpread {
  const sorted = normalPoints(variables)
    .map(resultOf)
    .sort((a, b) => (a === b ? 0 : a - b));
  return {
    finiteShare: sorted.filter((value) => Number.isFinite(value)).length / sorted.length,
    quantile(share) {
      const place = Math.min(sorted.length - 1, Math.max(0, share * sorted.length - 0.5));
      const below = sorted[Math.floor(place)] ?? NaN;
      const above = sorted[Math.ceil(place)] ?? NaN;
      return Number.isFinite(above) ? below + (above - below) * (place % 1) : above;
    },
  };
}
