import type { ConfigFault } from "./config-faults.js";
import { type SiteConfig, siteSchema } from "./config-schema.js";
import { parseConfig, readTextFile } from "./load-config.js";
import { plainValue } from "./plain-value.js";
import { readYamlTree } from "./yaml-tree.js";

/** What a charge is planned from: the vessels, and where they can be read the tanks behind them. */
export type PlanningConfig = Pick<SiteConfig, "vessels" | "valves" | "tanks">;

export type ParsedPlanning =
  | {
      readonly kind: "valid";
      readonly config: PlanningConfig;
      /** Faults of the rest of the file, which keep the daemon from running but no charge from being planned. */
      readonly elsewhere: readonly ConfigFault[];
    }
  | { readonly kind: "invalid"; readonly faults: readonly ConfigFault[] };

const sections = siteSchema.in.shape;

/** A configuration for planning: a file without fault, or one whose vessels at least are whole. Pure. */
export function parsePlanningConfig(text: string, fileName: string): ParsedPlanning {
  const whole = parseConfig(text, fileName);
  if (whole.kind === "valid") return { kind: "valid", config: whole.config, elsewhere: [] };
  const ofVessels = whole.faults.filter(isOfVessels);
  if (!whole.isComplete || ofVessels.length > 0) {
    return { kind: "invalid", faults: whole.isComplete ? ofVessels : whole.faults };
  }
  const tree = readYamlTree(text.startsWith("\uFEFF") ? text.slice(1) : text);
  const plain: unknown = tree.kind === "unreadable" ? {} : plainValue(tree.root);
  const sectionOf = (name: "vessels" | "valves" | "tanks"): unknown =>
    typeof plain === "object" && plain !== null
      ? Object.entries(plain).find(([key]) => key === name)?.[1]
      : {};
  const vessels = sections.vessels.safeParse(sectionOf("vessels"));
  if (!vessels.success) return { kind: "invalid", faults: whole.faults };
  const valves = sections.valves.safeParse(sectionOf("valves"));
  const tanks = sections.tanks.safeParse(sectionOf("tanks"));
  return {
    kind: "valid",
    config: {
      vessels: vessels.data,
      valves: valves.success ? valves.data : {},
      tanks: tanks.success ? tanks.data : {},
    },
    elsewhere: whole.faults.filter((fault) => !isAbsentSection(fault)),
  };
}

/** Reads and parses a configuration file for planning. */
export async function loadPlanningConfig(path: string): Promise<ParsedPlanning> {
  const read = await readTextFile(path);
  return read.kind === "text"
    ? parsePlanningConfig(read.text, path)
    : { kind: "invalid", faults: [read.fault] };
}

/** A fault of the whole file may hide anything. A sensor of a vessel bears on no plan. */
function isOfVessels({ keyPath }: ConfigFault): boolean {
  if (/^vessels\..*Sensor$/.test(keyPath)) return false;
  return keyPath === "" || /^vessels(\.|$)/.test(keyPath);
}

/** A file that was made for planning alone has no more than its vessels. */
function isAbsentSection({ keyPath, what }: ConfigFault): boolean {
  return what === "is missing" && /^(site|broker)$/.test(keyPath);
}
