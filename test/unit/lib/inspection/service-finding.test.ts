import { expect, it } from "vitest";
import { serviceFinding, type ServiceView } from "../../../../lib/inspection/service-finding.js";

const told = { kind: "told", watchdog_s: 30, fedBefore_s: 4 } as const;

it.each<{ because: string; service: ServiceView | undefined; verdict: string; told: string }>([
  { because: "the watchdog is fed", service: told, verdict: "good", told: "a watchdog of 30 s, fed 4 s ago" },
  {
    because: "it is not fed any more",
    service: { ...told, fedBefore_s: 31 },
    verdict: "mend this first",
    told: "not fed",
  },
  {
    because: "it was never fed",
    service: { ...told, fedBefore_s: undefined },
    verdict: "mend this first",
    told: "not fed",
  },
  {
    because: "there is no watchdog",
    service: { ...told, watchdog_s: undefined },
    verdict: "look at this",
    told: "set WatchdogSec",
  },
  {
    because: "nobody watches",
    service: { kind: "none" },
    verdict: "look at this",
    told: "nothing starts it anew",
  },
  { because: "no daemon runs", service: undefined, verdict: "not known", told: "no daemon answers" },
])("is $verdict where $because", ({ service, verdict, told: text }) => {
  const finding = serviceFinding(service);
  expect(finding.verdict).toBe(verdict);
  expect(finding.told).toContain(text);
});
