import type { ChargePicture } from "../page-contract.js";

type Cell = string | number | undefined;

/** A column with its name, as the daemon spells its quantities. */
const columns: readonly (readonly [string, (charge: ChargePicture) => Cell])[] = [
  ["chargeId", ({ chargeId }) => chargeId],
  ["vesselId", ({ vesselId }) => vesselId],
  ["recipe", ({ recipe }) => recipe],
  ["closedAt", ({ closed_epochMs }) => instant(closed_epochMs)],
  ["closedWith", ({ closedWith }) => closedWith],
  ["ended", ({ ended }) => ended.kind],
  ["endedAt", ({ ended }) => (ended.kind === "running" ? undefined : instant(ended.at_epochMs))],
  ["plannedBicarbonate_g", ({ planned }) => planned?.sodiumBicarbonate_g],
  ["plannedAcid_g", ({ planned }) => planned?.citricAcid_g],
  ["sodiumBicarbonate_g", ({ sodiumBicarbonate_g }) => sodiumBicarbonate_g],
  ["acid", ({ acid }) => acid.kind],
  ["citricAcid_g", ({ acid }) => acid.mass_g],
  ["water_kg", ({ water_kg }) => water_kg],
  ["theoretical_g", ({ theoretical_g }) => theoretical_g.value],
  ["delivered_g", ({ delivered_g }) => delivered_g.value],
  ["deliveredLow95_g", ({ delivered_g }) => delivered_g.low],
  ["deliveredHigh95_g", ({ delivered_g }) => delivered_g.high],
  ["yield_ratio", ({ yield_ratio }) => yield_ratio.value],
  ["yieldLow95_ratio", ({ yield_ratio }) => yield_ratio.low],
  ["yieldHigh95_ratio", ({ yield_ratio }) => yield_ratio.high],
  ["leak_gPerDay", ({ leak_gPerDay }) => leak_gPerDay?.value],
  ["leakLow95_gPerDay", ({ leak_gPerDay }) => leak_gPerDay?.low],
  ["leakHigh95_gPerDay", ({ leak_gPerDay }) => leak_gPerDay?.high],
  ["left_g", ({ left_g }) => left_g?.value],
  ["ready_h", ({ actualReady_h }) => actualReady_h],
  ["life_days", ({ life_days }) => life_days],
  ["dosing_days", ({ dosing_days }) => dosing_days],
  ["costTotal", ({ cost }) => cost?.total],
  ["costPerDay", ({ cost }) => cost?.perDay],
  ["costPerGram", ({ cost }) => cost?.perGram?.value],
  ["costPerGramLow95", ({ cost }) => cost?.perGram?.low],
  ["costPerGramHigh95", ({ cost }) => cost?.perGram?.high],
  ["currency", ({ cost }) => cost?.currency],
];

/** The charges as a table that any spreadsheet reads: RFC 4180, a line each, values and bounds in the units of their names. */
export function chargesCsv(charges: readonly ChargePicture[]): string {
  const lines = [
    columns.map(([name]) => name),
    ...charges.map((charge) => columns.map(([, cell]) => written(cell(charge)))),
  ];
  return lines.map((cells) => `${cells.join(",")}\r\n`).join("");
}

function instant(at_epochMs: number): string {
  return new Date(at_epochMs).toISOString();
}

function written(cell: Cell): string {
  if (cell === undefined) return "";
  if (typeof cell === "number") return Number.isFinite(cell) ? String(Number(cell.toPrecision(6))) : "";
  // A spreadsheet takes a text that begins so for a formula.
  const plain = /^[=+@-]/.test(cell) ? `'${cell}` : cell;
  return /[",\r\n]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}
