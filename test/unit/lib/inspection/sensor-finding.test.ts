import { expect, it } from "vitest";
import { sensorFinding, type SensorFacts } from "../../../../lib/inspection/sensor-finding.js";

const guard: SensorFacts = {
  sensorId: "loach-ph",
  topic: "loach/ph",
  maximumAge_s: 120,
  guards: ["outlet"],
  value: "pH 6.80",
  freshness: { kind: "fresh", age_s: 11.6 },
  refused: undefined,
  heardBy: { kind: "daemon" },
};
const kept = { reason: "retained", detail: "the broker held this value back; only live ones count" };
const never = { value: undefined, freshness: { kind: "never" } } as const;
const alone = { heardBy: { kind: "this command", listened_s: 5 } } as const;

it.each<{ because: string; changed: Partial<SensorFacts>; verdict: string; told: string }>([
  { because: "it is fresh", changed: {}, verdict: "good", told: "pH 6.80, 12 s old, 120 s are allowed" },
  {
    because: "a guard is too old",
    changed: { freshness: { kind: "stale", age_s: 300 }, refused: { reason: "spike", detail: "9.1" } },
    verdict: "mend this first",
    told: "pH 6.80, 300 s old, 120 s are allowed; since then refused: spike, 9.1; it guards outlet",
  },
  {
    because: "one that guards nothing is too old",
    changed: { freshness: { kind: "stale", age_s: 300 }, guards: [] },
    verdict: "look at this",
    told: "300 s old, 120 s are allowed",
  },
  {
    because: "the broker only kept a value",
    changed: { ...never, refused: kept },
    verdict: "mend this first",
    told: "only a value that the broker kept",
  },
  {
    because: "the broker only kept a value, and nobody listened for long",
    changed: { ...never, ...alone, refused: kept },
    verdict: "not known",
    told: "nothing live came in 5 s",
  },
  {
    because: "what it says cannot be read",
    changed: { ...never, refused: { reason: "undecodable", detail: "no number" } },
    verdict: "mend this first",
    told: "what it says is refused: undecodable, no number",
  },
  {
    because: "it never spoke",
    changed: never,
    verdict: "mend this first",
    told: "nothing was heard on loach/ph",
  },
  {
    because: "it did not speak while this command listened",
    changed: { ...never, ...alone },
    verdict: "not known",
    told: "nothing came on loach/ph in 5 s; it may be silent for longer, 120 s are allowed",
  },
])("is $verdict where $because", ({ changed, verdict, told }) => {
  const finding = sensorFinding({ ...guard, ...changed });
  expect(finding.verdict).toBe(verdict);
  expect(finding.told).toContain(told);
});
