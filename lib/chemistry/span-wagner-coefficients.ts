/**
 * The residual Helmholtz energy of CO2: reducing point and coefficients of the reference equation of state.
 * alpha(delta, tau) with delta = density / critical density, tau = critical temperature / temperature.
 * @see [SpanWagner1996] table 31, equation 6.5
 */

export const spanWagnerReducing = {
  temperature_K: 304.1282,
  density_molPerL: 10.6249063,
  pressure_bar: 73.773,
  /** The gas constant that the fit was made with, J/(mol K). */
  gasConstant_JPerMolK: 8.31451,
} as const;

interface PowerTerm {
  readonly n: number;
  readonly d: number;
  readonly t: number;
  /** Power of delta in exp(-delta^c); 0 stands for no such factor. */
  readonly c: number;
}

export const spanWagnerPowerTerms: readonly PowerTerm[] = [
  { n: 0.388568232032, d: 1, t: 0, c: 0 },
  { n: 2.93854759427, d: 1, t: 0.75, c: 0 },
  { n: -5.5867188535, d: 1, t: 1, c: 0 },
  { n: -0.767531995925, d: 1, t: 2, c: 0 },
  { n: 0.317290055804, d: 2, t: 0.75, c: 0 },
  { n: 0.548033158978, d: 2, t: 2, c: 0 },
  { n: 0.122794112203, d: 3, t: 0.75, c: 0 },
  { n: 2.16589615432, d: 1, t: 1.5, c: 1 },
  { n: 1.58417351097, d: 2, t: 1.5, c: 1 },
  { n: -0.231327054055, d: 4, t: 2.5, c: 1 },
  { n: 0.0581169164314, d: 5, t: 0, c: 1 },
  { n: -0.553691372054, d: 5, t: 1.5, c: 1 },
  { n: 0.489466159094, d: 5, t: 2, c: 1 },
  { n: -0.0242757398435, d: 6, t: 0, c: 1 },
  { n: 0.0624947905017, d: 6, t: 1, c: 1 },
  { n: -0.121758602252, d: 6, t: 2, c: 1 },
  { n: -0.370556852701, d: 1, t: 3, c: 2 },
  { n: -0.0167758797004, d: 1, t: 6, c: 2 },
  { n: -0.11960736638, d: 4, t: 3, c: 2 },
  { n: -0.0456193625088, d: 4, t: 6, c: 2 },
  { n: 0.0356127892703, d: 4, t: 8, c: 2 },
  { n: -0.00744277271321, d: 7, t: 6, c: 2 },
  { n: -0.00173957049024, d: 8, t: 0, c: 2 },
  { n: -0.0218101212895, d: 2, t: 7, c: 3 },
  { n: 0.0243321665592, d: 3, t: 12, c: 3 },
  { n: -0.0374401334235, d: 3, t: 16, c: 3 },
  { n: 0.143387157569, d: 5, t: 22, c: 4 },
  { n: -0.134919690833, d: 5, t: 24, c: 4 },
  { n: -0.0231512250535, d: 6, t: 16, c: 4 },
  { n: 0.0123631254929, d: 7, t: 24, c: 4 },
  { n: 0.00210583219729, d: 8, t: 8, c: 4 },
  { n: -0.000339585190264, d: 10, t: 2, c: 4 },
  { n: 0.00559936517716, d: 4, t: 28, c: 5 },
  { n: -0.000303351180556, d: 8, t: 14, c: 6 },
];

/** n delta^d tau^t exp(-eta (delta - 1)^2 - beta (tau - gamma)^2) */
export const spanWagnerGaussianTerms = [
  { n: -213.654886883, d: 2, t: 1, eta: 25, beta: 325, gamma: 1.16 },
  { n: 26641.5691493, d: 2, t: 0, eta: 25, beta: 300, gamma: 1.19 },
  { n: -24027.2122046, d: 2, t: 1, eta: 25, beta: 300, gamma: 1.19 },
  { n: -283.41603424, d: 3, t: 3, eta: 15, beta: 275, gamma: 1.25 },
  { n: 212.472844002, d: 3, t: 3, eta: 20, beta: 275, gamma: 1.22 },
] as const;

/** n Delta^b delta exp(-C (delta - 1)^2 - D (tau - 1)^2), Delta = theta^2 + B ((delta - 1)^2)^a; beta is 0.3. */
export const spanWagnerCriticalTerms = [
  { n: -0.666422765408, a: 3.5, b: 0.875, A: 0.7, B: 0.3, C: 10, D: 275 },
  { n: 0.726086323499, a: 3.5, b: 0.925, A: 0.7, B: 0.3, C: 10, D: 275 },
  { n: 0.0550686686128, a: 3, b: 0.875, A: 0.7, B: 1, C: 12.5, D: 275 },
] as const;

export const spanWagnerCriticalBeta = 0.3;

/** ln(p / pc) = (Tc / T) sum of n theta^t, theta = 1 - T / Tc. [SpanWagner1996] equation 3.13 */
export const spanWagnerVapourPressure = [
  { n: -7.0602087, t: 1 },
  { n: 1.9391218, t: 1.5 },
  { n: -1.6463597, t: 2 },
  { n: -3.2995634, t: 4 },
] as const;

/** ln(density / critical density) = sum of n theta^t on the liquid side. [SpanWagner1996] equation 3.14 */
export const spanWagnerLiquidDensity = [
  { n: 1.9245108, t: 0.34 },
  { n: -0.62385555, t: 0.5 },
  { n: -0.32731127, t: 10 / 6 },
  { n: 0.39245142, t: 11 / 6 },
] as const;

/** ln(density / critical density) = sum of n theta^t on the vapour side. [SpanWagner1996] equation 3.15 */
export const spanWagnerVapourDensity = [
  { n: -1.7074879, t: 0.34 },
  { n: -0.8227467, t: 0.5 },
  { n: -4.6008549, t: 1 },
  { n: -10.111178, t: 7 / 3 },
  { n: -29.742252, t: 14 / 3 },
] as const;
