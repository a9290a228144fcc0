/**
 * Repeatable chance for the simulation: the generator xoshiro128** 1.1, its state filled from one seed by
 * splitmix64, as its authors advise. Not for secrets.
 * @see [BlackmanVigna2021] [Steele2014]
 */

/** Four 32-bit words, not all zero. */
export type RandomWords = readonly [number, number, number, number];

const mask64 = 0xffffffffffffffffn;

function rotateLeft(word: number, by: number): number {
  return (word << by) | (word >>> (32 - by));
}

/** The state that follows from a seed: two outputs of splitmix64, each cut in two words. @see [Steele2014] */
export function randomWordsFromSeed(seed: number): RandomWords {
  let counter = BigInt(Math.trunc(seed)) & mask64;
  const next = (): bigint => {
    counter = (counter + 0x9e3779b97f4a7c15n) & mask64;
    let mixed = counter;
    mixed = ((mixed ^ (mixed >> 30n)) * 0xbf58476d1ce4e5b9n) & mask64;
    mixed = ((mixed ^ (mixed >> 27n)) * 0x94d049bb133111ebn) & mask64;
    return mixed ^ (mixed >> 31n);
  };
  const first = next();
  const second = next();
  return [
    Number(first & 0xffffffffn),
    Number(first >> 32n),
    Number(second & 0xffffffffn),
    Number(second >> 32n),
  ];
}

/** Whole numbers from 0 to 2^32 - 1. @see [BlackmanVigna2021] */
export function createRandomWordSource(words: RandomWords): () => number {
  let [s0, s1, s2, s3] = words;
  return () => {
    const result = Math.imul(rotateLeft(Math.imul(s1, 5), 7), 9) >>> 0;
    const shifted = s1 << 9;
    s2 ^= s0;
    s3 ^= s1;
    s1 ^= s2;
    s0 ^= s3;
    s2 ^= shifted;
    s3 = rotateLeft(s3, 11);
    return result;
  };
}

/** Numbers from 0 (included) to 1 (not included), the same row for the same seed. @see [BlackmanVigna2021] */
export function createRandomSource(seed: number): () => number {
  const nextWord = createRandomWordSource(randomWordsFromSeed(seed));
  return () => nextWord() / 4294967296;
}

/** A normal deviate with mean 0 and standard deviation 1, from two uniform ones. @see [BoxMuller1958] */
export function drawNormal(random: () => number): number {
  const radius = Math.sqrt(-2 * Math.log(1 - random()));
  return radius * Math.cos(2 * Math.PI * random());
}
