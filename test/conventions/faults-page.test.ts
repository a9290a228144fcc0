import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { faultGroups } from "../faults/all-faults.js";
import { missingFor } from "../faults/fault-needs.js";
import { faultLinesOf, faultPage, missesOf, promiseOf, secondsIn } from "../faults/fault-page.js";
import type { Fault, Finding } from "../faults/fault.js";

const page = readFileSync(fileURLToPath(new URL("../../deploy/docs/faults.md", import.meta.url)), "utf8");
const faults = Object.values(faultGroups).flat();
const lines = faultLinesOf(page);

describe("the page of the faults", () => {
  it("names every fault of the suite in its order, each once, and no other (npm run faults)", () => {
    const names = faults.map(({ name }) => name);
    expect(new Set(names).size).toBe(names.length);
    expect(names.length).toBeGreaterThanOrEqual(40);
    expect(lines.map(([name]) => name)).toEqual(names);
  });

  it("shows for each the limit and the verdict that the suite holds it to, and a time within the limit", () => {
    for (const [index, fault] of faults.entries()) {
      const [, valve = "", after = "", limit, , , verdict] = lines[index]!;
      expect({ name: fault.name, limit, verdict }).toEqual({
        name: fault.name,
        limit: `${fault.limit_s} s`,
        verdict: promiseOf(fault),
      });
      expect(valve).not.toBe("");
      expect({ name: fault.name, isWithin: secondsIn(after) <= fault.limit_s }).toEqual({
        name: fault.name,
        isWithin: true,
      });
    }
  });

  it("renews the rows that were driven and keeps the others", () => {
    const [first, second] = faults as [Fault, Fault];
    const group = "Some";
    const groups = { [group]: [first, second] };
    const finding = { valve: "closed", took_ms: 70, alarms: ["broker"], lost: "nothing" };
    const before = faultPage(groups, [{ group, fault: second, finding }], "");
    expect(faultLinesOf(before)[0]).toContain("not driven yet");
    const after = faultPage(groups, [{ group, fault: first, finding: { ...finding, took_ms: 900 } }], before);
    expect(faultLinesOf(after).map((cells) => cells[2])).toEqual(["0.9 s", "0.070 s"]);
  });
});

describe("a fault that does not go as promised", () => {
  const fault: Fault = {
    name: "a fault",
    verdict: "closed",
    limit_s: 3,
    alarm: "broker",
    because: "",
    run: () => Promise.reject(new Error("not run here")),
  };
  const fine: Finding = { valve: "closed", took_ms: 2900, alarms: ["broker"], lost: "nothing" };

  it.each([
    { because: "nothing was missed", finding: fine, says: [] },
    { because: "too late", finding: { ...fine, took_ms: 3001 }, says: [/not within 3 s/] },
    { because: "never", finding: { ...fine, took_ms: Number.NaN }, says: [/not within 3 s/] },
    { because: "another alarm", finding: { ...fine, alarms: ["store"] }, says: [/no alarm broker/] },
    { because: "what else was promised", finding: { ...fine, miss: "exit code 1" }, says: [/exit code 1/] },
    { because: "it could not be driven", finding: { failed: "no relay" }, says: [/no relay/] },
  ])("is a miss: $because", ({ finding, says }) => {
    const misses = missesOf({ group: "", fault, finding });
    expect(misses).toHaveLength(says.length);
    says.forEach((pattern, index) => expect(misses[index]).toMatch(pattern));
  });

  it("is one too when an alarm calls that nobody needs", () => {
    expect(missesOf({ group: "", fault: { ...fault, alarm: "none" }, finding: fine })).toHaveLength(1);
  });
});

describe("a machine on which the suite cannot run", () => {
  it("is told all that is missing at once, and what to do", () => {
    const runs = (command: string): boolean => command === "openssl" || command === "mount";
    expect(missingFor({ user: 1000, runs })).toEqual([
      expect.stringContaining("root"),
      expect.stringContaining("mosquitto is not installed (Debian: apt install mosquitto)"),
      expect.stringContaining("mosquitto_passwd"),
      expect.stringContaining("ip is not installed (Debian: apt install iproute2)"),
    ]);
    expect(missingFor({ user: 0, runs: () => true })).toEqual([]);
  });
});
