import { expect, it } from "vitest";
import { configChanges } from "../../../../daemon/config/config-changes.js";
import type { SiteConfig } from "../../../../daemon/config/config-schema.js";
import { parseConfig } from "../../../../daemon/config/load-config.js";
import { edited, exampleText } from "../../../support/marked-config.js";

function configOf(text: string): SiteConfig {
  const parsed = parseConfig(text, "/x/home.yaml");
  if (parsed.kind === "invalid") throw new Error(parsed.faults.map(({ what }) => what).join("; "));
  return parsed.config;
}
const changesBy = (...edits: readonly (readonly [string, string])[]): readonly string[] =>
  configChanges(configOf(exampleText), configOf(edited(exampleText, edits)));

it("a config that was only written differently has no changes", () => {
  expect(changesBy(["level: info", 'level: "info" # as before'])).toEqual([]);
});

it.each<{ edits: readonly (readonly [string, string])[]; changes: readonly string[]; because: string }>([
  {
    edits: [['lightsOn: "10:30", lightsOff: "19:30"', 'lightsOn: "10:30", lightsOff: "20:00"']],
    changes: ["tanks.shrimp.photoperiods[0].lightsOff: 19:30 -> 20:00"],
    because: "a place in a list has its number",
  },
  {
    edits: [["  level: info", "  level: warn"]],
    changes: ["log.level: info -> warn"],
    because: "both values are shown",
  },
  {
    edits: [["guardSensors: [loach-ph, shrimp-ph]", "guardSensors: [loach-ph]"]],
    changes: ["valves.cellar-outlet.guardSensors[1]: removed, was shrimp-ph"],
    because: "a guard that is gone is what a keeper must see",
  },
])("$edits is told as $changes: $because", ({ edits, changes }) => {
  expect(changesBy(...edits)).toEqual(changes);
});

it("never shows a password", () => {
  const base = configOf(exampleText);
  const withPassword = (password: string): SiteConfig => ({ ...base, broker: { ...base.broker, password } });
  expect(configChanges(withPassword("tide"), withPassword("stone"))).toEqual(["broker.password: changed"]);
  expect(configChanges(base, withPassword("stone"))).toEqual(["broker.password: changed"]);
});

it("keeps a long value short and on one line", () => {
  const base = configOf(exampleText);
  const [line = ""] = configChanges(base, { ...base, site: { ...base.site, id: `a\n${"b".repeat(500)}` } });
  expect(line).toMatch(/^site\.id: .* -> a\?b+\.\.\.$/);
  expect(line.length).toBeLessThan(150);
});
