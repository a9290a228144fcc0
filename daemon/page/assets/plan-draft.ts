import type { UnitSystem } from "./formats.js";

/** What was typed into the form, word for word, and which steps are ticked: kept in this browser, since a phone is put down. */
export interface PlanDraft {
  readonly vesselId: string;
  readonly by: "days" | "grams";
  readonly days: string;
  readonly grams: string;
  readonly use: string;
  readonly acid: "anhydrous" | "monohydrate";
  readonly filling: "water" | "ice" | "water-and-ice";
  readonly water: string;
  readonly ice: string;
  readonly icePiece: string;
  /** In the temperature unit of `units`. */
  readonly hottest: string;
  readonly room: string;
  readonly residual: string;
  readonly excess: string;
  readonly units: UnitSystem;
  readonly ticked: readonly string[];
}

const emptyDraft: PlanDraft = {
  vesselId: "",
  by: "days",
  days: "14",
  grams: "",
  use: "",
  acid: "anhydrous",
  filling: "water",
  water: "",
  ice: "500",
  icePiece: "",
  hottest: "",
  room: "",
  residual: "",
  excess: "",
  units: "metric",
  ticked: [],
};
const key = "fizzward-plan";

export function loadDraft(): PlanDraft {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(key) ?? "{}");
    if (typeof kept !== "object" || kept === null) return emptyDraft;
    const known = Object.entries(kept).filter(([name, value]) => isLike(name, value));
    return { ...emptyDraft, ...Object.fromEntries(known) };
  } catch {
    return emptyDraft;
  }
}

export function saveDraft(draft: PlanDraft): void {
  try {
    localStorage.setItem(key, JSON.stringify(draft));
  } catch {
    // It then holds until the page is left.
  }
}

const choices: Readonly<Record<string, readonly string[]>> = {
  by: ["days", "grams"],
  acid: ["anhydrous", "monohydrate"],
  filling: ["water", "ice", "water-and-ice"],
  units: ["metric", "imperial"],
};

function isLike(name: string, value: unknown): boolean {
  if (!(name in emptyDraft)) return false;
  if (name === "ticked") return Array.isArray(value) && value.every((one) => typeof one === "string");
  return typeof value === "string" && (choices[name]?.includes(value) ?? true);
}
