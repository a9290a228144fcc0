/** The last values that came on a topic, oldest first, believed or not: what is refused tells of a second sender too. */
export interface HeardValues {
  readonly values: readonly number[];
  readonly lastHeard_monotonicMs: number;
}

const remembered = 24;
/** Fewer lone values are the spikes of one sensor. A judgement: one sender in six is found, one bad value in ten is none. */
const visitsOfSecondSender = 4;
/** A longer stay is a step, which the median follows. */
const longestVisit = 2;

export function withValueHeard(
  heard: HeardValues | undefined,
  value: number,
  at_monotonicMs: number,
  longestSilence_ms: number,
): HeardValues {
  const isNew = heard === undefined || at_monotonicMs - heard.lastHeard_monotonicMs > longestSilence_ms;
  return {
    values: [...(isNew ? [] : heard.values.slice(1 - remembered)), value],
    lastHeard_monotonicMs: at_monotonicMs,
  };
}

/**
 * What a second sender on the topic says, where one speaks now and then between the values of another: its values lie apart from
 * the others, near to each other, and each stays for a reading or two. Which of the two is right cannot be told. Undefined where
 * nothing shows one.
 */
export function secondSender({ values }: HeardValues, gate: number): number | undefined {
  // The common case, and each reading comes through here: nothing lies apart.
  if (spanOf(values) <= gate) return undefined;
  const middle = medianOf(values);
  const visits = visitsAmong(values, (value) => Math.abs(value - middle) > gate).flat();
  if (visits.length === 0) return undefined;
  const usual = medianOf(visits);
  const alike = visitsAmong(values, (value) => Math.abs(value - usual) <= gate).filter(([value = usual]) =>
    visits.includes(value),
  );
  return alike.length >= visitsOfSecondSender ? usual : undefined;
}

/** The short runs of values apart, with values that are not apart on either side. */
function visitsAmong(
  values: readonly number[],
  isApart: (value: number) => boolean,
): readonly (readonly number[])[] {
  const visits: number[][] = [];
  let run: number[] | undefined;
  values.forEach((value, index) => {
    if (isApart(value)) {
      // What the memory begins with may have stayed for long.
      if (run === undefined && index > 0) run = [];
      run?.push(value);
    } else {
      if (run !== undefined && run.length > 0 && run.length <= longestVisit) visits.push(run);
      run = undefined;
    }
  });
  return visits;
}

function spanOf(values: readonly number[]): number {
  let [minimum, maximum] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) {
    if (value < minimum) minimum = value;
    if (value > maximum) maximum = value;
  }
  return maximum - minimum;
}

function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
}
