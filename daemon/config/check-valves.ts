import { checkReference, shortList } from "./check-references.js";
import { dosingMinutes } from "./check-tanks.js";
import { type KeyPath, quoted } from "./config-faults.js";
import { longestOpenDefault_min } from "./config-schema.js";
import type { CheckContext, ConfigView } from "./config-view.js";
import { longestRun_min } from "./weekly-minutes.js";

const shareTolerance = 0.001;

/** What the valves say about vessels, tanks and sensors, and whether each tank has exactly one. */
export function checkValves(context: CheckContext): void {
  const { view } = context;
  const feedOfTank = new Map<string, KeyPath>();
  for (const id of view.keys(["valves"])) {
    const path = ["valves", id];
    checkReference(context, [...path, "vessel"], "vessels");
    checkFeeds(context, path, feedOfTank);
    checkShares(context, path);
    checkGuards(context, path);
    checkWindows(context, path);
  }
  for (const tank of view.keys(["tanks"])) {
    if (feedOfTank.has(tank)) continue;
    context.faultOfKey(["tanks", tank], {
      what: "is on no valve, so it would never get gas",
      allowed: "each tank among the feeds of one valve",
      todo: "add it to the feeds of its valve, or remove the tank",
    });
  }
}

function checkFeeds(context: CheckContext, valve: KeyPath, feedOfTank: Map<string, KeyPath>): void {
  const { view } = context;
  for (let index = 0; index < view.length([...valve, "feeds"]); index += 1) {
    const path = [...valve, "feeds", index, "tank"];
    const tank = checkReference(context, path, "tanks");
    if (tank === undefined) continue;
    const first = feedOfTank.get(tank);
    if (first === undefined) {
      feedOfTank.set(tank, path);
      continue;
    }
    const isSameValve = first[1] === valve[1];
    context.fault(path, {
      what: `names ${quoted(tank)} ${isSameValve ? "a second time" : `, which valve ${String(first[1])} feeds too`} (first in line ${view.positionOfValue(first).line})`.replace(
        " ,",
        ",",
      ),
      allowed: "each tank on one valve, once",
      todo: "remove one of the two",
    });
  }
}

function checkShares(context: CheckContext, valve: KeyPath): void {
  const { view } = context;
  const count = view.length([...valve, "feeds"]);
  if (count === 0) return;
  let sum = 0;
  for (let index = 0; index < count; index += 1) {
    const share = view.number([...valve, "feeds", index, "share"]);
    if (share === undefined) return;
    sum += share;
  }
  if (Math.abs(sum - 1) <= shareTolerance + Number.EPSILON) return;
  context.faultOfKey([...valve, "feeds"], {
    what: `has shares that add up to ${Number(sum.toFixed(4))}`,
    allowed: `shares that add up to 1 (within ${shareTolerance})`,
    todo: count === 1 ? "write share: 1" : "correct the shares",
  });
}

function tanksOf(view: ConfigView, valve: KeyPath): readonly string[] {
  const named = Array.from({ length: view.length([...valve, "feeds"]) }, (_, index) =>
    view.text([...valve, "feeds", index, "tank"]),
  );
  const known = view.keys(["tanks"]);
  return named.filter((tank): tank is string => tank !== undefined && known.includes(tank));
}

function checkGuards(context: CheckContext, valve: KeyPath): void {
  const { view } = context;
  const guardsPath = [...valve, "guardSensors"];
  const guards: string[] = [];
  for (let index = 0; index < view.length(guardsPath); index += 1) {
    const path = [...guardsPath, index];
    const sensor = checkReference(context, path, "sensors");
    if (sensor === undefined) continue;
    if (guards.includes(sensor)) {
      context.fault(path, {
        what: `names ${quoted(sensor)} a second time`,
        allowed: "each sensor once",
        todo: "remove it",
      });
    }
    guards.push(sensor);
    warnOfOddGuard(context, valve, path, sensor);
  }
  const node = view.node(guardsPath);
  if (node === undefined || (node.kind === "list" && node.items.length === 0)) {
    context.warning(node === undefined ? valve : guardsPath, {
      what: "has no guard sensor: only the clock, longestOpen_min and you keep the tank from too much gas",
      allowed: "the pH sensor of each tank behind the valve",
      todo: "add guardSensors where there is such a sensor",
    });
    return;
  }
  for (const tank of tanksOf(view, valve)) {
    const phSensor = view.text(["tanks", tank, "phSensor"]);
    if (phSensor === undefined || guards.includes(phSensor) || !view.keys(["sensors"]).includes(phSensor))
      continue;
    context.warning(guardsPath, {
      what: `leaves out ${phSensor}, the pH sensor of ${tank}: the valve would stay open when it falls silent`,
      allowed: "the pH sensor of each tank behind the valve",
      todo: "add it, unless the sensor is known to drop out often",
    });
  }
}

function warnOfOddGuard(context: CheckContext, valve: KeyPath, path: KeyPath, sensor: string): void {
  const { view } = context;
  const measures = view.text(["sensors", sensor, "measures"]);
  if (measures === "pressure" || measures === "mass" || measures === "bubbleRate") {
    context.warning(path, {
      what: `makes ${sensor} a guard, which measures ${measures}: it says nothing about the tank, and its silence would close the valve`,
      allowed: "sensors of pH, temperature or CO2 in the air",
      todo: "remove it unless that is meant",
    });
    return;
  }
  const owners = view.keys(["tanks"]).filter((tank) => view.text(["tanks", tank, "phSensor"]) === sensor);
  const own = tanksOf(view, valve);
  if (owners.length === 0 || owners.some((tank) => own.includes(tank))) return;
  context.warning(path, {
    what: `makes ${sensor} a guard, which is in ${shortList(owners)}, a tank of another valve`,
    allowed: "sensors of the tanks behind this valve",
    todo: "check that this is meant",
  });
}

/** The minutes that all of them have; undefined where one cannot be read, or there is none. */
function commonMinutes(windows: readonly (Uint8Array | undefined)[]): Uint8Array | undefined {
  let common: Uint8Array | undefined;
  for (const minutes of windows) {
    if (minutes === undefined) return undefined;
    common = common === undefined ? minutes : common.map((mark, minute) => mark & (minutes[minute] ?? 0));
  }
  return common;
}

/** A valve opens only where the windows of all its tanks overlap. */
function checkWindows(context: CheckContext, valve: KeyPath): void {
  const { view } = context;
  const tanks = [...new Set(tanksOf(view, valve))];
  const windows = tanks.map((tank) => dosingMinutes(view, tank, "shortest"));
  const common = commonMinutes(windows);
  const longest = commonMinutes(tanks.map((tank) => dosingMinutes(view, tank, "longest")));
  if (common === undefined || longest === undefined) return;
  const longest_min = longestRun_min(longest);
  if (longestRun_min(common) === 0) {
    // A tank without a window of its own has its own fault.
    if (windows.some((minutes) => minutes === undefined || longestRun_min(minutes) === 0)) return;
    context.faultOfKey([...valve, "feeds"], {
      what: `joins ${shortList(tanks)}, whose dosing windows never overlap, so that the valve would never open`,
      allowed: "tanks whose windows overlap: the valve opens only where all of them do",
      todo: "bring the photoperiods together, or give the tanks valves of their own",
    });
    return;
  }
  const limitPath = [...valve, "longestOpen_min"];
  const limit_min = view.number(limitPath, longestOpenDefault_min);
  if (limit_min === undefined || limit_min >= longest_min) return;
  context.warning(view.has(limitPath) ? limitPath : valve, {
    what: `closes after longestOpen_min (${limit_min} min), before its longest dosing window ends (${longest_min} min)`,
    allowed: `at least ${longest_min} for the whole window`,
    todo: "make longestOpen_min longer, or leave it as a limit",
  });
}
