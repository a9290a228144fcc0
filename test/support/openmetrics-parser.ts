export interface MetricSample {
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number;
}

export interface MetricFamily {
  readonly name: string;
  readonly type: string;
  readonly help: string;
  readonly samples: readonly MetricSample[];
}

const name = "[a-zA-Z_:][a-zA-Z0-9_:]*";
const descriptor = new RegExp(`^# (TYPE|HELP|UNIT) (${name}) (.+)$`);
const sampleLine = new RegExp(`^(${name})(?:\\{(.*)\\})? (\\S+)$`);
const label = /([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\["\\n])*)"/y;
const number = /^(?:[+-]?\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|[+-]?Inf|NaN)$/;

/**
 * Text of OpenMetrics 1.0 with gauges and counters, read as strictly as the specification writes it (RFC-style draft, "Text Format"):
 * families do not interleave, their descriptors come first and once, each sample stands once, nothing follows "# EOF".
 * @throws Error naming the line.
 */
export function parseOpenMetrics(text: string): ReadonlyMap<string, MetricFamily> {
  if (!text.endsWith("# EOF\n")) throw new Error("does not end with # EOF and a line feed");
  const lines = text.slice(0, -"# EOF\n".length).split("\n");
  if (lines.pop() !== "") throw new Error("the last line has no line feed");
  const families = new Map<string, { type: string; help: string; samples: MetricSample[] }>();
  const seen = new Set<string>();
  let current: string | undefined;
  for (const [index, line] of lines.entries()) {
    const fail = (what: string): never => {
      throw new Error(`line ${index + 1}: ${what}: ${line}`);
    };
    const described = descriptor.exec(line);
    if (described !== null) {
      const [, kind, family = "", rest = ""] = described;
      if (family !== current) {
        if (families.has(family)) fail("the family is interleaved");
        families.set(family, { type: "unknown", help: "", samples: [] });
        current = family;
      }
      const entry = families.get(family)!;
      if (entry.samples.length > 0) fail("a descriptor after a sample");
      if (seen.has(`${kind ?? ""} ${family}`)) fail("a descriptor twice");
      seen.add(`${kind ?? ""} ${family}`);
      if (kind === "TYPE") entry.type = rest;
      if (kind === "HELP") entry.help = rest;
      if (kind === "UNIT" && !family.endsWith(`_${rest}`)) fail("the unit is no suffix of the name");
      continue;
    }
    const [, sampleName = "", labelText, valueText = ""] =
      sampleLine.exec(line) ?? fail("no line of the format");
    const entry = current === undefined ? undefined : families.get(current);
    if (entry === undefined) return fail("a sample of no family");
    if (entry.type !== "gauge" && entry.type !== "counter") fail(`the type ${entry.type}`);
    // "Counter": the only sample here is the total, whose name has the suffix that the family's has not.
    const expected = `${current ?? ""}${entry.type === "counter" ? "_total" : ""}`;
    if (sampleName !== expected) fail("a sample of another family than the one at hand");
    if (!number.test(valueText)) fail("no number");
    if (entry.type === "counter" && !(Number(valueText) >= 0)) fail("a counter below zero");
    const labels = labelText === undefined ? {} : labelsFrom(labelText, fail);
    const key = `${sampleName}${JSON.stringify(Object.entries(labels).sort())}`;
    if (seen.has(key)) fail("the sample stands twice");
    seen.add(key);
    entry.samples.push({ labels, value: Number(valueText) });
  }
  return new Map([...families].map(([family, entry]) => [family, { name: family, ...entry }]));
}

function labelsFrom(text: string, fail: (what: string) => never): Readonly<Record<string, string>> {
  const labels: Record<string, string> = {};
  let at = 0;
  while (at < text.length) {
    label.lastIndex = at;
    const [whole = "", key = "", value = ""] = label.exec(text) ?? fail("no label");
    if (Object.hasOwn(labels, key)) fail("a label twice");
    labels[key] = value.replaceAll(/\\(.)/g, (_, escaped: string) => (escaped === "n" ? "\n" : escaped));
    at += whole.length;
    if (at === text.length) break;
    if (text[at] !== ",") fail("no comma between labels");
    at += 1;
  }
  return labels;
}
