import { execFileSync } from "node:child_process";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { formatFault } from "../../../../daemon/config/config-faults.js";
import type { SiteConfig } from "../../../../daemon/config/config-schema.js";
import { loadConfig, type ParsedConfig, parseConfig } from "../../../../daemon/config/load-config.js";
import { acceptWithoutAutoOffSentence } from "../../../../daemon/config/relay-schema.js";
import { edited, exampleText, unmarked } from "../../../support/marked-config.js";

/** The least that doses a tank; every default is left to the schema. */
const smallestText = `site: { id: mill, timeZone: America/New_York }
broker: { addresses: [mqtt://127.0.0.1] }
sensors:
  gauge: { measures: pressure, unit: psi, reference: gauge, topic: a/gauge }
  absolute: { measures: pressure, unit: kPa, reference: absolute, topic: a/absolute }
  water: { measures: temperature, unit: degF, topic: a/water }
  ph: { measures: pH, topic: a/ph }
vessels:
  steel: { kind: generator, volume_L: 2, workingPressureGauge_bar: 3, pressureSensor: gauge }
tanks:
  tetra:
    volume_L: 60
    kh_dKH: 4
    phSensor: ph
    photoperiods: [{ lightsOn: 10:00, lightsOff: 19:00 }]
valves:
  outlet:
    vessel: steel
    feeds: [{ tank: tetra, share: 1 }]
    guardSensors: [ph]
    relay:
      commandTopic: r/command
      payloadOn: ON
      payloadOff: OFF
      stateTopic: r/state
      stateOn: ON
      stateOff: OFF
      autoOff_s: 60
      powerOnState: off
`;

function validConfig(text: string): SiteConfig {
  const parsed = parseConfig(text, "/etc/fizzward/home.yaml");
  expect(linesOf(parsed)).toEqual([]);
  if (parsed.kind === "invalid") throw new Error("not valid");
  return parsed.config;
}

function linesOf(parsed: ParsedConfig): readonly string[] {
  return parsed.kind === "invalid" ? parsed.faults.map((fault) => formatFault("f", fault)) : [];
}

function warningsOf(text: string): readonly string[] {
  const parsed = parseConfig(text, "f");
  expect(linesOf(parsed)).toEqual([]);
  return parsed.warnings.map((fault) => formatFault("f", fault));
}

describe("a valid configuration", () => {
  it("is the example, without a warning", () => {
    const parsed = parseConfig(exampleText, "config/example.yaml");
    expect(linesOf(parsed)).toEqual([]);
    expect(parsed.warnings).toEqual([]);
  });

  it("fills in every default", () => {
    const config = validConfig(smallestText);
    expect(config.broker).toMatchObject({
      keepalive_s: 10,
      clientIdPrefix: "fizzward",
      baseTopic: "fizzward/mill",
    });
    expect(config.site.away).toEqual([]);
    expect(config.vessels["steel"]).toMatchObject({
      refill: {
        days: ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
        from: "08:00",
        until: "22:00",
        handling_min: 45,
        closedWith: "water",
        acceptedLoss_percent: 10,
        spareVessel: false,
      },
    });
    expect(config.tanks["tetra"]).toMatchObject({
      lead_min: 60,
      earlyClose_min: 30,
      datesOff: [],
      animals: [],
      limits: {
        co2TargetLow_mgPerL: 15,
        co2TargetHigh_mgPerL: 30,
        co2Alarm_mgPerL: 40,
        co2Close_mgPerL: 60,
        co2Rise_mgPerLPer30Min: 10,
        pHFloor: 5.8,
        temperatureHigh_degC: 32,
      },
    });
    expect(config.tanks["tetra"]?.photoperiods[0]?.days).toEqual([
      "mon",
      "tue",
      "wed",
      "thu",
      "fri",
      "sat",
      "sun",
    ]);
    expect(config.valves["outlet"]).toMatchObject({ longestOpen_min: 720 });
    expect(config.valves["outlet"]?.relay).toMatchObject({ qosOn: 0, qosOff: 1, confirmWithin_s: 5 });
    expect(config.control).toEqual({ clientSocket: "/run/fizzward/control.sock" });
    expect(config.store).toEqual({
      file: "/var/lib/fizzward/fizzward.db",
      batch_s: 60,
      retention: { raw_days: 14, oneMinute_days: 90, fifteenMinute_days: 1825 },
      backup: { nights: 7, whole: "monthly" },
    });
    expect(config.log).toEqual({ level: "info" });
  });

  it("converts the default spans to the sensor's own unit", () => {
    const { sensors } = validConfig(smallestText);
    // NIST SP 811, appendix B.8: 1 psi = 6.894 757 kPa; so 40 bar = 580.151 psi and 3 bar = 43.5113 psi.
    expect(sensors["gauge"]?.plausible.maximum).toBeCloseTo(580.151, 2);
    expect(sensors["gauge"]?.plausible.minimum).toBeCloseTo(-7.2519, 3);
    expect(sensors["gauge"]).toMatchObject({ spikeGate: expect.closeTo(43.5113, 3) as number });
    // The same spans against vacuum: one standard atmosphere (101.325 kPa) more.
    expect(sensors["absolute"]?.plausible.minimum).toBeCloseTo(-50 + 101.325, 9);
    expect(sensors["absolute"]?.plausible.maximum).toBeCloseTo(4000 + 101.325, 9);
    // NIST SP 811, appendix B.8: t/degC = (t/degF - 32) / 1.8.
    expect(sensors["water"]?.plausible.minimum).toBeCloseTo(50, 9);
    expect(sensors["water"]?.plausible.maximum).toBeCloseTo(100.4, 9);
    expect(sensors["water"]).toMatchObject({ spikeGate: 9, maximumAge_s: 300 });
    expect(sensors["ph"]).toMatchObject({
      plausible: { minimum: 4, maximum: 9.5 },
      spikeGate: 0.5,
      stuckAfter_min: 120,
      calibration: { kind: "linear", gain: 1, offset: 0 },
    });
    expect(sensors["water"]).not.toHaveProperty("stuckAfter_min");
  });

  const sameMeaning: readonly { readonly edit: readonly [string, string]; readonly because: string }[] = [
    {
      edit: ["powerOnState: off", 'powerOnState: "off"'],
      because: "off is a text in YAML 1.2, quoted or not",
    },
    { edit: ["lightsOn: 10:00", 'lightsOn: "10:00"'], because: "10:00 is a text in YAML 1.2, quoted or not" },
    { edit: ["payloadOn: ON", 'payloadOn: "ON"'], because: "ON is a text in YAML 1.2" },
    { edit: ["volume_L: 60", "volume_L: 6.0e+1"], because: "it is the same number" },
    { edit: ["site: {", "\uFEFFsite: {"], because: "a byte order mark is not part of the text" },
  ];
  for (const { edit, because } of sameMeaning) {
    it(`means the same when ${JSON.stringify(edit[1])} is written, because ${because}`, () => {
      expect(validConfig(edited(smallestText, [edit]))).toEqual(validConfig(smallestText));
    });
  }

  it("means the same with the line ends of another system", () => {
    expect(validConfig(smallestText.replaceAll("\n", "\r\n"))).toEqual(validConfig(smallestText));
  });

  it("may repeat a group by anchor and alias", () => {
    const twice = smallestText.replace(
      "ph: { measures: pH, topic: a/ph }",
      "ph: { measures: pH, topic: a/ph, plausible: &span { minimum: 5, maximum: 9 } }\n  ph2: { measures: pH, topic: a/ph2, plausible: *span }",
    );
    expect(validConfig(twice).sensors["ph2"]?.plausible).toEqual({ minimum: 5, maximum: 9 });
  });

  it("cannot be written to, at any depth", () => {
    const config = validConfig(smallestText);
    const limits = config.tanks["tetra"]?.limits as { pHFloor: number };
    expect(() => {
      limits.pHFloor = 1;
    }).toThrow(TypeError);
    expect(Object.isFrozen(config.valves["outlet"]?.feeds)).toBe(true);
  });

  it("looks for relative paths beside the file", () => {
    const config = validConfig(
      smallestText.replace(
        "addresses: [mqtt://127.0.0.1]",
        "addresses: [mqtt://127.0.0.1], user: u, passwordFile: secret/broker, tls: { caFile: ca.pem }",
      ) + "store: { file: ../data/home.db }\n",
    );
    expect(config.broker.passwordFile).toBe("/etc/fizzward/secret/broker");
    expect(config.broker.tls).toEqual({ acceptUnverified: false, caFile: "/etc/fizzward/ca.pem" });
    expect(config.store.file).toBe("/etc/data/home.db");
  });

  it("may light a tank past midnight", () => {
    const config = validConfig(
      edited(smallestText, [["lightsOn: 10:00, lightsOff: 19:00", "lightsOn: 18:00, lightsOff: 02:00"]]),
    );
    expect(config.tanks["tetra"]?.photoperiods[0]).toMatchObject({ lightsOn: "18:00", lightsOff: "02:00" });
  });

  it("accepts shares within a thousandth of one, and no further", () => {
    const withShares = (first: number, second: number): string =>
      edited(exampleText, [
        ["share: 0.6", `share: ${first}`],
        ["share: 0.4", `share: ${second}`],
      ]);
    expect(linesOf(parseConfig(withShares(0.333, 0.666), "f"))).toEqual([]);
    expect(linesOf(parseConfig(withShares(0.333, 0.664), "f"))).toHaveLength(1);
    expect(linesOf(parseConfig(withShares(0.5, 0.5015), "f"))).toHaveLength(1);
    expect(linesOf(parseConfig(edited(smallestText, [["share: 1 ", "share: 0.9 "]]), "f"))[0]).toContain(
      "write share: 1",
    );
  });

  it("may do without the relay's own timer, in so many words only", () => {
    const accepted = edited(smallestText, [
      ["      autoOff_s: 60\n", ""],
      [
        "powerOnState: off",
        `powerOnState: last\n      acceptWithoutAutoOff: ${acceptWithoutAutoOffSentence}`,
      ],
    ]);
    expect(validConfig(accepted).valves["outlet"]?.relay).not.toHaveProperty("autoOff_s");
    expect(warningsOf(accepted).join("\n")).toContain("this is shown for as long as it stands here");
  });
});

describe("a text that is no configuration", () => {
  const anchors = "abcdefghi";
  const aliasBomb = Array.from(anchors)
    .map(
      (name, index) =>
        `${name}: &${name} [${Array.from({ length: 9 }, () => (index === 0 ? "x" : `*${anchors[index - 1] ?? ""}`)).join(", ")}]`,
    )
    .join("\n");
  const rows: readonly {
    readonly name: string;
    readonly text: string;
    readonly at: string;
    readonly says: string;
  }[] = [
    { name: "an empty file", text: "", at: "1:1", says: "the file is empty" },
    { name: "blank lines", text: "\n \n\n", at: "1:1", says: "the file is empty" },
    { name: "comments alone", text: "# site:\n# broker:\n", at: "1:1", says: "nothing but comments" },
    { name: "an empty document", text: "---\n...\n", at: "1:1", says: "nothing but comments" },
    { name: "a single word", text: "hello\n", at: "1:1", says: "does not begin with a key" },
    { name: "a list", text: "# list\n- site\n- broker\n", at: "2:1", says: "does not begin with a key" },
    { name: "a picture", text: "\u0089PNG\n\u0000\u0001", at: "2:1", says: "control character 0" },
    {
      name: "ten megabytes",
      text: "# a\n".repeat(2_500_000),
      at: "1:1",
      says: "10000000 characters; allowed: at most 131072",
    },
    { name: "100 000 brackets", text: "a: " + "[".repeat(100_000), at: "1:43", says: "nest too deeply" },
    { name: "100 000 braces", text: "{".repeat(100_000), at: "1:41", says: "nest too deeply" },
    { name: "lists in lists in lists", text: "- ".repeat(60_000), at: "1:80", says: "nest too deeply" },
    {
      name: "aliases that unfold into millions",
      text: aliasBomb,
      at: "6:8",
      says: "unfold this file without end",
    },
    {
      name: "an alias inside its own anchor",
      text: "site: &a { id: *a }\n",
      at: "1:16",
      says: "unfold this file without end",
    },
    {
      name: "YAML 1.1",
      text: "# old\n%YAML 1.1\n---\nsite: {}\n",
      at: "2:1",
      says: "an older YAML, in which off means false",
    },
    {
      name: "an open quote",
      text: 'site:\n  id: "brook\n',
      at: "3:1",
      says: "(seen at the end of the file)",
    },
    {
      name: "an open brace",
      text: "site: { id: brook\nbroker: {}\n",
      at: "2:1",
      says: "bracket above is not closed",
    },
    {
      name: "a colon without a space",
      text: "site:\n  id:brook\n  timeZone: UTC\n",
      at: "2:3",
      says: "no key of its own",
    },
    {
      name: "a value that goes on as a group",
      text: "site: 5\n  id: brook\n",
      at: "1:7",
      says: "a second key stands where a value is expected",
    },
    { name: "two groups at odds", text: " site: 1\nbroker: 2\n", at: "2:1", says: "cannot be understood" },
    {
      name: "a wrong escape",
      text: 'site: { id: "\\q" }\n',
      at: "1:14",
      says: "a backslash in double quotes",
    },
  ];
  for (const { name, text, at, says } of rows) {
    it(`is refused with a reason: ${name}`, () => {
      const parsed = parseConfig(text, "f");
      expect(parsed).toMatchObject({ kind: "invalid", isComplete: false });
      expect(linesOf(parsed)[0]).toMatch(new RegExp(`^f:${at}: `));
      expect(linesOf(parsed)[0]).toContain(says);
    });
  }

  it("does not take long to refuse, whatever it is made of", () => {
    const pieces = ["[]\n", "{}", "\t:\n", "a: 1\n", "&a a: *a\n", "'"];
    for (const piece of pieces) {
      const started_ms = performance.now();
      expect(parseConfig(piece.repeat(Math.floor(131_072 / piece.length)), "f").kind).toBe("invalid");
      expect(performance.now() - started_ms, JSON.stringify(piece)).toBeLessThan(20_000);
    }
  }, 120_000);
});

describe("many faults", () => {
  it("are all named at once, in the order of the file", () => {
    const broken = edited(exampleText, [
      ["Europe/Berlin", "Europe/Berlni"],
      ["keepalive_s: 10", "keepalive: 10"],
      ["unit: psi", "unit: degC"],
      [
        "    measures: co2InAir\n    topic: cellar",
        "    measures: co2inAri\n    tpoic: x\n    topic: cellar",
      ],
      ["kh_dKH: 6", "kh_dKH: 66\n    volume_L: 3"],
      ["vessel: cellar\n", "vessel: celar\n"],
      ["share: 0.4", "share: 0.5"],
      ["qosOff: 1", "qosOff: 2"],
      ["level: info", "level: loud"],
    ]);
    const parsed = parseConfig(broken, "f");
    const faults = parsed.kind === "invalid" ? parsed.faults : [];
    expect(faults.map(({ keyPath }) => keyPath)).toEqual([
      "site.timeZone",
      "broker.keepalive",
      "sensors.cellar-gauge.unit",
      "sensors.cellar-air.measures",
      "sensors.cellar-air.tpoic",
      "tanks.shrimp.kh_dKH",
      "tanks.shrimp.volume_L",
      "valves.cellar-outlet.vessel",
      "valves.cellar-outlet.feeds",
      "valves.cellar-outlet.relay.qosOff",
      "log.level",
    ]);
    expect(faults.map(({ line }) => line)).toEqual(faults.map(({ line }) => line).sort((a, b) => a - b));
    expect(parsed).toMatchObject({ isComplete: true });
  });

  it("of syntax are all named, one for each line", () => {
    const parsed = parseConfig("site: @a\nbroker: `b\nlog: %c\n", "f");
    expect(linesOf(parsed).map((line) => line.slice(0, 6))).toEqual(["f:1:7:", "f:2:9:", "f:3:6:"]);
  });
});

describe("a misspelled vessel", () => {
  it("is one fault, and no warning that the vessel has no valve", () => {
    const parsed = parseConfig(edited(smallestText, [["vessel: steel", "vessel: stel"]]), "f");
    expect(linesOf(parsed)).toHaveLength(1);
    expect(parsed.warnings.filter(({ what }) => what.includes("no valve"))).toEqual([]);
  });
});

describe("a warning", () => {
  const rows: readonly {
    readonly name: string;
    readonly edits: readonly (readonly [string, string])[];
    readonly says: string;
  }[] = [
    {
      name: "a relief device that opens above the rating",
      edits: [["reliefOpeningGauge_bar: 18", "reliefOpeningGauge_bar: ‸22"]],
      says: "above the rated pressure of 20 bar",
    },
    {
      name: "a vessel whose rating is not known",
      edits: [
        ["    ratedPressureGauge_bar: 20\n", ""],
        ["  cellar:\n", "  ‸cellar:\n"],
      ],
      says: "no charge is planned",
    },
    {
      name: "a vessel without a valve",
      edits: [
        [
          "tanks:\n  loach:",
          "  ‸spare: { kind: liquid, volume_L: 1, ratedPressureGauge_bar: 200, reliefOpeningGauge_bar: 190, workingPressureGauge_bar: 2 }\ntanks:\n  loach:",
        ],
      ],
      says: "has no valve",
    },
    {
      name: "a span in bar on a gauge in psi",
      edits: [["{ minimum: -7, maximum: 580 }", "{ minimum: -0.5, maximum: ‸40 }"]],
      says: "is 40 psi, which is 2.76 bar gauge",
    },
    {
      name: "more water than leaves room for gas",
      edits: [["water_kg: 0.5", "water_kg: ‸1.5"]],
      says: "at least 30 % is needed",
    },
    {
      // 140 g of bicarbonate set 73 g of CO2 free (IUPAC 2021): above 16.2 bar in 1.4 L of gas and 0.5 L of liquor.
      name: "a charge beyond 0.9 of the relief device's opening pressure",
      edits: [
        ["    charge:\n", "    ‸charge:\n"],
        ["sodiumBicarbonate_g: 80", "sodiumBicarbonate_g: 140"],
        ["citricAcidAnhydrous_g: 66", "citricAcidAnhydrous_g: 107"],
      ],
      says: "90 % of the pressure at which the relief device opens",
    },
    {
      name: "a charge that old liquor makes too much",
      edits: [
        ["    charge:\n", "    ‸charge:\n"],
        ["residualLiquor_L: 0\n", "residualLiquor_L: 0.45\n"],
      ],
      says: "16.2 bar",
    },
    {
      name: "more old liquor than the charge makes",
      edits: [
        ["    charge:\n", "    ‸charge:\n"],
        ["residualLiquor_L: 0\n", "residualLiquor_L: 1.2\n"],
      ],
      says: "residual liquor is 1.2 L",
    },
    {
      name: "an effect of one stage for a two-stage regulator",
      edits: [
        ["kind: single-stage", "kind: two-stage"],
        ["supplyPressureEffect_ratio: 0.03", "supplyPressureEffect_ratio: ‸0.03"],
      ],
      says: "much for a two-stage regulator",
    },
    {
      name: "a valve without a guard",
      edits: [["guardSensors: [loach-ph, shrimp-ph]", "‸guardSensors: []"]],
      says: "has no guard sensor",
    },
    {
      name: "a pH sensor that does not guard",
      edits: [["guardSensors: [loach-ph, shrimp-ph]", "‸guardSensors: [loach-ph]"]],
      says: "leaves out shrimp-ph",
    },
    {
      name: "a gauge as guard",
      edits: [["[loach-ph, shrimp-ph]", "[loach-ph, shrimp-ph, ‸cellar-gauge]"]],
      says: "says nothing about the tank",
    },
    {
      name: "one pH sensor in two tanks",
      edits: [
        ["phSensor: shrimp-ph", "phSensor: ‸loach-ph"],
        ["[loach-ph, shrimp-ph]", "[loach-ph]"],
      ],
      says: "which loach has too (line",
    },
    {
      name: "a floor that the sensor cannot show",
      edits: [["pHFloor: 6.0", "pHFloor: ‸4.5"]],
      says: "not believed below 4.5",
    },
    {
      name: "a limit shorter than the window",
      edits: [["longestOpen_min: 720", "longestOpen_min: ‸60"]],
      says: "before its longest dosing window ends",
    },
    {
      name: "a calibration that runs backwards",
      edits: [
        [
          "{ raw: 7.08, true: 7.00 }, { raw: 4.11, true: 4.01 }",
          "{ raw: 7.08, true: 4.01 }, { raw: 4.11, true: 7.00 }",
        ],
        ["{ twoPoint", "{ ‸twoPoint"],
      ],
      says: "turns the sensor round",
    },
    {
      name: "a password over an open network",
      edits: [
        ["mqtt://127.0.0.1:1883", "mqtt://10.1.2.3"],
        ['"mqtt://10', '‸"mqtt://10'],
      ],
      says: "unencrypted",
    },
    {
      name: "a password in the file",
      edits: [
        ["  passwordFile: /etc/fizzward/broker-password\n", ""],
        ["# password: ", "password: ‸"],
      ],
      says: "whoever reads the file reads it",
    },
    {
      name: "any certificate taken",
      edits: [["acceptUnverified: false", "acceptUnverified: ‸true"]],
      says: "pose as the broker",
    },
    {
      name: "encryption that no address uses",
      edits: [
        ["mqtts://broker.home.arpa:8883", "mqtt://localhost"],
        ["  tls:\n", "  ‸tls:\n"],
      ],
      says: "is not used",
    },
    {
      name: "a payload that is nearly JSON",
      edits: [['payloadOnFor: \'{"on": true, ', "payloadOnFor: ‸'{on: true, "]],
      says: "looks like JSON but is none",
    },
    {
      name: "an acceptance that nobody needs",
      edits: [["# acceptWithoutAutoOff: ", "acceptWithoutAutoOff: ‸"]],
      says: "is not needed",
    },
  ];
  it("says of a charge without the pressures that nothing can tell whether it is too much", () => {
    const without = edited(exampleText, [["    reliefOpeningGauge_bar: 18\n", ""]]);
    expect(warningsOf(without)).toEqual([expect.stringContaining("whether the charge it has is too much")]);
    const charge = /^ {4}charge:\n(?: {6}.*\n)+/m.exec(without)?.[0] ?? "";
    expect(warningsOf(edited(without, [[charge, ""]]))).toEqual([
      expect.not.stringContaining("whether the charge"),
    ]);
  });

  it.each([
    ["the acid with its crystal water", "citricAcidAnhydrous_g: 66", "citricAcidMonohydrate_g: 72"],
    ["ice", "closedWith: water", "closedWith: ice"],
    ["a little old liquor", "residualLiquor_L: 0\n", "residualLiquor_L: 0.1\n"],
  ])("is not given for a charge that fits, with %s", (_name, from, to) => {
    expect(warningsOf(edited(exampleText, [[from, to]]))).toEqual([]);
  });

  for (const { name, edits, says } of rows) {
    it(`points at ${name}`, () => {
      const { text, line, column } = unmarked(edited(exampleText, edits));
      const warnings = warningsOf(text);
      expect(warnings).toHaveLength(1);
      expect(warnings[0]).toMatch(new RegExp(`^f:${line}:${column}: `));
      expect(warnings[0]).toContain(says);
    });
  }

  it("is given for a site with nothing in it", () => {
    expect(
      warningsOf("site: { id: a, timeZone: UTC }\nbroker: { addresses: [mqtt://localhost] }\n")[0],
    ).toContain("nothing to do");
  });
});

describe("a secret", () => {
  const secret = "hunter2-Zq8";
  const texts = [
    `broker: { password: [${secret}] }\n`,
    `broker: { user: a, password: { x: "${secret}" }, addresses: ["mqtt://u:${secret}@h"] }\n`,
    `broker: { addresses: ["ftp://u:${secret}@h", "mqtt://u:${secret}@h:99999"] }\n`,
    `broker:\n  password: "${secret}\n`,
    `broker:\n  password: @${secret}\n`,
    `broker:\n  password: ${secret}\n    x: 1\n`,
    `broker: { password: ${secret}, passwordFile: x, password: ${secret} }\n`,
  ];
  for (const text of texts) {
    it(`is not repeated by the faults of ${JSON.stringify(text.replaceAll(secret, "..."))}`, () => {
      const parsed = parseConfig(text, "f");
      expect(parsed.kind).toBe("invalid");
      expect(linesOf(parsed).length).toBeGreaterThan(0);
      expect(linesOf(parsed).join("\n")).not.toContain(secret);
    });
  }

  it("that is a number is not repeated either", () => {
    expect(linesOf(parseConfig("broker: { user: a, password: 90210 }\n", "f")).join("\n")).not.toContain(
      "90210",
    );
  });
});

describe("a file", () => {
  let folder = "";
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), "fizzward-config-"));
  });
  afterAll(async () => {
    await rm(folder, { recursive: true });
  });

  it("is read and parsed", async () => {
    const path = join(folder, "home.yaml");
    await writeFile(path, smallestText);
    expect((await loadConfig(path)).kind).toBe("valid");
  });

  it("that cannot be read as text is refused with the reason", async () => {
    const pipe = join(folder, "pipe");
    execFileSync("mkfifo", [pipe]);
    const utf16 = join(folder, "utf16.yaml");
    await writeFile(utf16, Buffer.from(`\uFEFF${smallestText}`, "utf16le"));
    const large = join(folder, "large.yaml");
    await writeFile(large, Buffer.alloc(10 * 1024 * 1024, "#"));
    const rows = [
      [join(folder, "absent.yaml"), "there is none with this name"],
      [folder, "this is no file"],
      [pipe, "this is no file"],
      [utf16, "no UTF-8 text"],
      [large, "the file has 10485760 bytes; allowed: at most 131072"],
    ] as const;
    for (const [path, words] of rows) expect(linesOf(await loadConfig(path)).join("\n")).toContain(words);
  });
});
