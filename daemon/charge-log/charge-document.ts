import type { Bounded } from "../../lib/charge-plan/plan-request.js";
import type { ChargeReport } from "../../lib/charge-log/charge-report.js";

/** A charge that has ended, in its vessel's document; null before the first one. */
export function lastChargeFields(
  report: ChargeReport | undefined,
  instant: (at_epochMs: number) => string,
): unknown {
  if (report === undefined) return null;
  const { ended, cost } = report;
  return {
    charge: report.chargeId,
    recipe: report.recipe,
    closedWith: report.closedWith,
    closedAt: instant(report.closed_epochMs),
    ended: ended.kind,
    endedAt: ended.kind === "running" ? null : instant(ended.at_epochMs),
    theoretical_g: rounded(report.theoretical_g.value, 1),
    ...amount("delivered", report.delivered_g, "_g", 1),
    deliveredByTank_g: Object.fromEntries(
      report.byTank.map(({ name, co2_g }) => [name, rounded(co2_g.value, 1)]),
    ),
    ...amount("yield", report.yield_ratio, "_ratio", 2),
    leak_gPerDay: report.leak_gPerDay === undefined ? null : rounded(report.leak_gPerDay.value, 2),
    ready_h: report.actualReady_h === undefined ? null : rounded(report.actualReady_h, 1),
    life_days: report.life_days === undefined ? null : rounded(report.life_days, 1),
    dosing_days: report.dosing_days,
    costPerDay: cost?.perDay === undefined ? null : rounded(cost.perDay, 3),
    currency: cost?.currency ?? null,
    remarks: report.remarks.map(({ kind, text }) => ({ id: kind, text })),
  };
}

function amount(name: string, { value, low, high }: Bounded, unit: string, digits: number): object {
  return {
    [`${name}${unit}`]: rounded(value, digits),
    [`${name}95${unit}`]: [rounded(low, digits), rounded(high, digits)],
  };
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
