/** The classical fourth-order method for one quantity, as a witness independent of the closed solutions in lib/. */
export function integrate(
  start: number,
  hours: number,
  rate: (value: number, hour: number) => number,
  steps = 2000,
): number {
  const h = hours / steps;
  let value = start;
  for (let step = 0; step < steps; step += 1) {
    const t = step * h;
    const k1 = rate(value, t);
    const k2 = rate(value + (k1 * h) / 2, t + h / 2);
    const k3 = rate(value + (k2 * h) / 2, t + h / 2);
    const k4 = rate(value + k3 * h, t + h);
    value += ((k1 + 2 * k2 + 2 * k3 + k4) * h) / 6;
  }
  return value;
}
