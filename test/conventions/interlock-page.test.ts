import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { format, resolveConfig } from "prettier";
import { describe, expect, it } from "vitest";
import { readSnapshot, emptySnapshot } from "../../daemon/control-snapshot.js";
import { interlockPage } from "../../lib/control/interlock-page.js";
import { closingsBeside, interlockRows } from "../../lib/control/interlock-rules.js";

const root = fileURLToPath(new URL("../../", import.meta.url));
const page = join(root, "deploy/docs/interlock.md");
const rows = Object.entries(interlockRows);
const isLatched = ([, { latch }]: (typeof rows)[number]): boolean => latch.startsWith("until re-armed");
const sources = readdirSync(join(root, "lib/control"))
  .filter((name) => name.endsWith(".ts") && !name.startsWith("interlock-"))
  .map((name) => readFileSync(join(root, "lib/control", name), "utf8"))
  .join("\n");

describe("the page of the interlock", () => {
  it("is the one that the rules make (npm run -s interlock-page)", () => {
    expect(readFileSync(page, "utf8")).toBe(interlockPage());
  });

  it("is in the form of the project's formatter", async () => {
    const options = await resolveConfig(page);
    expect(await format(interlockPage(), { ...options, filepath: page })).toBe(interlockPage());
  });

  it.each(rows)("names a test of '%s' that is there and speaks of it", (id, { test }) => {
    expect(existsSync(join(root, test))).toBe(true);
    const words: Partial<Record<string, RegExp>> = {
      "maintenance lock": /a maintenance lock/,
      "relay being tried": /trial/,
      "daemon ends": /beginClosing|the daemon ends/,
      "control pass failed": /control-pass|pass fail/,
      "end of charge": /end of charge/,
      "broker lost": /broker/,
      "dead-man not armed": /dead-man|deadMan/,
      "store failing": /store/,
      "clock not plausible": /clock/,
      "relay not obeying": /does not confirm/,
      "leak test": /leak test/,
      "rests after a closing": /rests/,
      "what was known before is lost": /set aside/,
    };
    expect((words[id] ?? new RegExp(id)).test(readFileSync(join(root, test), "utf8"))).toBe(true);
  });

  it("has a row for every block and every trip that the code can give", () => {
    const given = [
      ...[...sources.matchAll(/block\(\s*"([^"]+)"/g)].map(([, id]) => id!),
      ...[...sources.matchAll(/\b(?:stand\(\s*\w+,\s*|cause = |causes\.push\()"([^"]+)"/g)].map(
        ([, id]) => id!,
      ),
    ].filter((id) => id !== "tripped");
    expect(given.length).toBeGreaterThan(15);
    expect([...new Set(given)].filter((id) => !Object.hasOwn(interlockRows, id))).toEqual([]);
  });

  it("has no row that nothing gives", () => {
    const beside: readonly string[] = closingsBeside;
    const ids = rows.map(([id]) => id).filter((id) => !beside.includes(id));
    expect(ids.filter((id) => !sources.includes(`"${id}"`))).toEqual([]);
  });

  it("calls latched exactly what the stored state keeps as a trip", () => {
    const isKept = (cause: string): boolean => {
      const trip = { subject: { kind: "valve", id: "outlet" }, cause, reason: "", at_epochMs: 0 };
      return readSnapshot({ ...emptySnapshot, trips: [trip] }).trips.length === 1;
    };
    expect(rows.filter(isLatched).map(([id]) => id)).toEqual(rows.map(([id]) => id).filter(isKept));
    expect(rows.filter(isLatched).every(([, { released }]) => released.includes("daemon's own socket"))).toBe(
      true,
    );
  });
});
