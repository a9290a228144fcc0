import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { jsonRequestFrom } from "../../../../daemon/mqtt/json-request.js";
import { journalBench } from "../../../support/journal-bench.js";

const page = readFileSync("deploy/docs/for-programs.md", "utf8");
const examples = page.split("\n").filter((line) => line.startsWith('{"kind": "'));

describe("the entries by MQTT in the documentation", () => {
  it.each(examples)("are taken without a remark: %s", async (line) => {
    const bench = await journalBench();
    const { content } = jsonRequestFrom(new TextEncoder().encode(line));
    expect(await bench.journal.enter(content, "remote")).toMatchObject({ kind: "kept", remarks: [] });
  });

  it("are one of each kind that the journal takes", async () => {
    const bench = await journalBench();
    const refusal = await bench.journal.enter({ kind: "none" }, "remote");
    const [, listed = ""] = /write one of (.*)$/.exec(refusal.kind === "kept" ? "" : refusal.reason) ?? [];
    const shown = examples.map((line) => (JSON.parse(line) as { readonly kind: string }).kind);
    expect([...shown].sort()).toEqual(listed.split(", ").sort());
  });
});
