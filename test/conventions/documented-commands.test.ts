import { execFile, spawnSync } from "node:child_process";
import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { CommanderError, type Command } from "commander";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createProgram } from "../../daemon/cli/command-line.js";
import { parseConfig } from "../../daemon/config/load-config.js";
import { allMigrations } from "../../daemon/store/migrations/all-migrations.js";
import { seriesPerInstant } from "../../daemon/store/history-key.js";
import { openDatabase } from "../../daemon/store/open-database.js";
import { mainFile } from "../support/daemon-process.js";
import {
  blocksOf,
  commandsOf,
  documentationPages,
  root,
  spansOf,
  textOf,
  wordsOf,
  type DocumentedCommand,
} from "../support/documented-commands.js";

/** Commands of ours that end by themselves with nothing but files: these are run as they stand. */
const runHere = ["plan", "equilibrium", "replay", "tank-co2", "check", "charges", "hub"];
/** Commands of ours that need a daemon that runs; the tests of the daemon run them. Here their words are checked. */
const needTheDaemon = [
  ["demo", "run"],
  ["status", "commission", "rearm", "override", "end-override", "accept-clock", "backup", "inspect"],
  ["alarms", "alerts", "journal", "leak-test", "maintenance", "refill", "branches", "upkeep"],
].flat();
/** Everything else that our pages ask a person to type, and why no test does. */
const notRun: Readonly<Record<string, string>> = {
  apt: "needs root and a package archive",
  useradd: "needs root and makes a user of the machine",
  git: "needs the place from which the reader has the repository",
  npm: "the gate runs the scripts; its words are checked against package.json",
  install: "needs root; the restore and the unit are tried by their own tests",
  systemctl: "needs a service manager",
  journalctl: "needs a service manager",
  cd: "a folder of the reader's machine",
  mosquitto_passwd: "asks for passwords; the tests of the access lists make some",
  chmod: "needs root",
  mkdir: "a folder of the reader's machine; the restore is tried by daemon-restore",
  mv: "as mkdir",
  cp: "as mkdir",
  chown: "needs root",
  node: "deploy/prepare.mjs, which npm runs before each start and each test",
  docker: "needs an image registry; container.md says what was tried",
  podman: "as docker",
  echo: "feeds the command behind it, which is run with what it says",
  alias: "gives the command line its name in the reader's own shell",
};
/** Files that are the reader's own: each page says how they come about. */
const readersOwn = [
  /^my\.yaml$/,
  /^charge\.json$/,
  /^trace\.csv$/,
  /^site\.db$/,
  /^\/etc\/fizzward\/site\.yaml$/,
  /^deploy\/container\/(?:broker|site)(?:\/|$)/,
  /^\/etc\/mosquitto\/fizzward\.acl$/,
  /^(?:backup\/night|whole)-2026-05-01\.db$/,
  /^(?:\/var\/lib\/fizzward\/)?fizzward\.db\*?$/,
];

const guide = "deploy/docs/user-guide.md";
const pages = documentationPages();
const blocks = pages.flatMap((page) => blocksOf(page));
const commands = blocks.flatMap(commandsOf);

/** The words behind `fizzward`, however it is called; undefined where it is another program. */
function oursIn(words: readonly string[]): readonly string[] | undefined {
  const [program, ...rest] = words;
  // The name that the user guide gives it.
  if (program === "fizzward") return rest;
  if (program === "runuser") return oursIn(words.slice(words.indexOf("--") + 1));
  if (program === "npm" && rest[0] === "start") {
    const separator = rest.indexOf("--");
    return separator < 0 ? [] : rest.slice(separator + 1);
  }
  if (program === "npx") return rest.slice(rest.indexOf("fizzward") + 1);
  if (program === "docker" && rest.includes("exec")) return oursIn(rest.slice(rest.indexOf("fizzward") + 1));
  const file = program === "node" ? rest[0] : undefined;
  return file?.endsWith("dist/daemon/main.js") === true ? rest.slice(1) : undefined;
}

/**
 * What the command line itself says against it; undefined where it takes it. Nothing is run.
 * @param completeness  "a part": what must be given may be left out, as in a sentence.
 */
async function refusalOf(
  words: readonly string[],
  completeness: "whole" | "a part" = "whole",
): Promise<CommanderError | undefined> {
  const program = createProgram(() => Promise.resolve());
  const silence = (command: Command): void => {
    command.configureOutput({ writeOut: () => undefined, writeErr: () => undefined });
    if (command.commands.length === 0) command.action(() => undefined);
    if (completeness === "a part") for (const option of command.options) option.mandatory = false;
    command.commands.forEach(silence);
  };
  silence(program);
  try {
    await program.parseAsync(words, { from: "user" });
    return undefined;
  } catch (error) {
    if (error instanceof CommanderError) return error;
    throw error;
  }
}

const placeOf = ({ page, line, words }: DocumentedCommand): string => `${page}:${line}: ${words.join(" ")}`;

describe("the commands of the documentation", () => {
  it("are there, on every page that had some", () => {
    expect(blocks.length).toBeGreaterThanOrEqual(16);
    expect(commands.length).toBeGreaterThanOrEqual(50);
    expect(new Set(commands.map(({ page }) => page))).toEqual(
      new Set([
        "README.md",
        "DEVELOPERS.md",
        ...["backup", "container", "for-programs", "install", "user-guide"].map(
          (name) => `deploy/docs/${name}.md`,
        ),
      ]),
    );
  });

  it("are each run here, checked word by word, or listed with the reason why they are not run", () => {
    const strays = commands.filter(({ words }) => {
      const ours = oursIn(words);
      if (ours !== undefined) {
        return ours.length > 0 && ![...runHere, ...needTheDaemon].includes(ours[0] ?? "");
      }
      const [program = ""] = words;
      return !(program in notRun);
    });
    expect(strays.map(placeOf)).toEqual([]);
  });

  it("are all that the list of reasons speaks of", () => {
    const named = commands.filter(({ words }) => oursIn(words) === undefined).map(({ words }) => words[0]);
    expect(Object.keys(notRun).filter((program) => !named.includes(program))).toEqual([]);
    const ours = commands.map(({ words }) => oursIn(words)?.[0]);
    expect(Object.keys(notRun).filter((program) => ours.includes(program))).toEqual([]);
  });

  it.each(
    commands
      .filter(({ words }) => oursIn(words) !== undefined)
      .map((command) => [placeOf(command), command] as const),
  )("%s is taken by the command line", async (_place, { words }) => {
    expect((await refusalOf(oursIn(words) ?? []))?.message).toBeUndefined();
  });

  it("name npm's own scripts and programs that package.json has", () => {
    const { scripts } = JSON.parse(readFileSync(join(root, "package.json"), "utf8")) as {
      readonly scripts: Readonly<Record<string, string>>;
    };
    const known = (words: readonly string[]): boolean => {
      const [, verb = "", name = ""] = words;
      if (verb === "run") return (name === "-s" ? words[3] : name)! in scripts;
      return ["ci", "install", "prune"].includes(verb) || verb in scripts || verb === "audit";
    };
    const asked = [
      ...commands.map(({ words }) => words),
      ...pages.flatMap(spansOf).map(({ span }) => wordsOf(span)),
    ].filter(([program, verb]) => program === "npm" && verb !== undefined && !verb.startsWith("-"));
    expect(asked.length).toBeGreaterThan(10);
    expect(asked.filter((words) => !known(words))).toEqual([]);
  });

  it("name only files that are in the repository, or the reader's own", () => {
    const looksLikeFile = (word: string): boolean =>
      /^(?:\/opt\/fizzward\/)?(?:config|deploy|dist|lib|daemon|test)\//.test(word) ||
      /\.(?:ya?ml|json|csv|db\*?|mjs|js|conf|acl|service|md|sql)$/.test(word);
    const missing = commands.flatMap((command) =>
      command.words
        .filter(looksLikeFile)
        .filter((word) => !readersOwn.some((own) => own.test(word)))
        .filter(
          (word) => !existsSync(join(root, word.replace(/^\/opt\/fizzward\/|^fizzward=node \$PWD\//, ""))),
        )
        .map((word) => `${placeOf(command)}: ${word}`),
    );
    expect(missing).toEqual([]);
  });

  it("call the program by its whole path where a reader may stand in any folder", () => {
    const relative = commands.filter(
      ({ page, words }) => page.startsWith("deploy/") && words.some((word) => word.startsWith("dist/")),
    );
    expect(relative.map(placeOf)).toEqual([]);
  });

  it("are shell, block by block", () => {
    for (const { page, line, text } of blocks) {
      // What the reader has to fill in stands in angle brackets.
      const { status, stderr } = spawnSync("bash", ["-n"], {
        input: text.replace(/<[^>\n]+>/g, "FILLED-IN"),
        encoding: "utf8",
      });
      expect(`${page}:${line} ${status} ${stderr}`).toBe(`${page}:${line} 0 `);
    }
  });

  it.each<{ page: string; section: string; order: readonly string[] }>([
    {
      page: "deploy/docs/backup.md",
      section: "Put a copy back",
      order: ["systemctl stop", "mv fizzward.db*", "cp backup/", "systemctl start"],
    },
    {
      page: "deploy/docs/install.md",
      section: "Install",
      order: [
        "apt install",
        "useradd",
        "git clone",
        "npm ci",
        "mosquitto_passwd -c",
        "chown mosquitto:",
        "systemctl restart mosquitto",
        "config/example.yaml",
        "main.js check",
        "systemctl enable --now fizzward",
        "main.js inspect",
      ],
    },
    {
      page: "deploy/docs/install.md",
      section: "Upgrade",
      order: ["main.js backup", "systemctl stop", "git pull", "npm ci", "main.js check", "systemctl start"],
    },
    {
      page: "deploy/docs/install.md",
      section: "Move to another machine",
      order: ["install -d", "whole-2026-05-01.db", "systemctl enable --now fizzward"],
    },
  ])("of $section in $page stand in an order that holds", ({ page, section, order }) => {
    const text =
      textOf(page)
        .split(/^## /m)
        .find((part) => part.startsWith(`${section}\n`)) ?? "";
    const typed = [...text.matchAll(/^ *```sh\n([\s\S]*?)^ *```$/gm)].map(([, block]) => block).join("");
    const places = order.map((step) => typed.indexOf(step));
    expect(places.every((place) => place >= 0)).toBe(true);
    expect(places).toEqual([...places].sort((one, other) => one - other));
  });
});

describe("a command named within the text", () => {
  const program = createProgram(() => Promise.resolve());
  const names = program.commands.map((command) => command.name());
  const wrong = ["commander.unknownOption", "commander.unknownCommand", "commander.excessArguments"];

  it("has no option and no argument that the command line does not know", async () => {
    const spans = pages.flatMap(spansOf).flatMap(({ page, span }) => {
      const words = wordsOf(span.split("...")[0] ?? "");
      const ours = oursIn(words) ?? words;
      return names.includes(ours[0] ?? "") ? [{ page, span, ours }] : [];
    });
    expect(spans.length).toBeGreaterThan(60);
    const refused: string[] = [];
    for (const { page, span, ours } of spans) {
      // "tank|valve" stands for either, "begin|end" for both.
      const first = ours.map((word) => word.split("|")[0] ?? "");
      const refusal = await refusalOf(first, "a part");
      if (refusal !== undefined && wrong.includes(refusal.code))
        refused.push(`${page}: ${span}: ${refusal.message}`);
    }
    expect(refused).toEqual([]);
  });

  it("stands in the README's table, every command of the command line", () => {
    const listed = spansOf("README.md").map(({ span }) => span.split(" ")[0]);
    expect(names.filter((name) => !listed.includes(name))).toEqual([]);
  });
});

describe("the config of the user guide", () => {
  const [whole = "", ...parts] = blocksOf(guide, ["yaml"])
    .map(({ text }) => text)
    .filter((text) => !text.startsWith("vessels:"));

  it.each([
    ["as it stands", whole],
    ["with each part that the guide adds later", [whole, ...parts].join("\n")],
  ])("has no fault and nothing odd %s", (_which, text) => {
    expect(parseConfig(text, "my.yaml")).toMatchObject({ kind: "valid", warnings: [] });
  });

  it("is followed by the parts for hub and alerts", () => {
    expect(parts.map((text) => text.split("\n")[0])).toEqual(["hub:", "alerts:"]);
  });
});

describe("run as they stand, with the files of the pages,", () => {
  let folder: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), "fizzward-documented-"));
    const example = readFileSync(join(root, "config", "example.yaml"), "utf8");
    const vessel = blocksOf(guide, ["yaml"]).find(({ text }) => text.startsWith("vessels:"));
    const charge = blocksOf("deploy/docs/for-programs.md", ["json"]).find(({ text }) =>
      text.includes("closedAt"),
    );
    writeFileSync(join(folder, "vessel.yaml"), vessel?.text ?? "");
    writeFileSync(join(folder, "charge.json"), charge?.text ?? "");
    writeFileSync(
      join(folder, "example.yaml"),
      example.replace(/^( *file:) \/var\/lib\/fizzward\/fizzward\.db$/m, "$1 site.db"),
    );
    writeFileSync(
      join(folder, "trace.csv"),
      [
        "at,pressureGauge_bar,temperature_degC,valveOpen",
        "2026-03-02T09:00:00+01:00,11.0,20.0,0",
        "2026-03-02T12:00:00+01:00,10.9,20.1,1",
        "2026-03-02T15:00:00+01:00,10.8,20.0,1",
        "2026-03-03T09:00:00+01:00,10.7,19.9,0",
        "",
      ].join("\n"),
    );
    const { database } = await openDatabase({
      file: join(folder, "site.db"),
      busyTimeout_ms: 100,
      migrations: allMigrations,
      now_epochMs: Date.UTC(2026, 2, 1),
    });
    // Two days of a gauge and a thermometer, of the charge that stands in the example.
    const series = database.prepare("INSERT INTO series (seriesId, sensorId, quantity) VALUES (?, ?, ?)");
    series.run(1, "cellar-gauge", "pressureGauge_bar");
    series.run(2, "cellar-temperature", "temperature_degC");
    const reading = database.prepare("INSERT INTO readings (timeAndSeries, value) VALUES (?, ?)");
    for (let hour = 1; hour <= 48; hour += 1) {
      const at_epochMs = Date.parse("2026-03-01T19:30:00+01:00") + hour * 3_600_000;
      reading.run(at_epochMs * seriesPerInstant + 1, 11 - hour / 100);
      reading.run(at_epochMs * seriesPerInstant + 2, 20);
    }
    database.close();
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  const inText = pages
    .flatMap(spansOf)
    .filter(({ span }) => /^(?:npm start|npx|fizzward) /.test(span))
    .map(({ page, span }): DocumentedCommand => ({
      page,
      line: 0,
      words: wordsOf(span),
      pipedFrom: undefined,
    }));
  const asked = [...commands, ...inText].filter(({ words }) => {
    const [name] = oursIn(words) ?? [];
    return name !== undefined && runHere.includes(name) && !words.includes("...");
  });
  // What several pages say is run once.
  const runnable = [
    ...new Map(
      asked.map((command) => [JSON.stringify([oursIn(command.words), command.pipedFrom]), command]),
    ).values(),
  ];

  it("are enough of them", () => {
    expect(runnable.length).toBeGreaterThanOrEqual(9);
  });

  it.concurrent.each(runnable.map((command) => [placeOf(command), command] as const))(
    "%s does what the page says",
    async (_place, { words, pipedFrom }) => {
      const ours = (oursIn(words) ?? []).map((word) => word.replace(/^.*site\.yaml$/, "my.yaml"));
      const own = mkdtempSync(join(folder, "run-"));
      for (const file of ["charge.json", "trace.csv", "site.db"])
        copyFileSync(join(folder, file), join(own, file));
      // `plan` needs the vessel and no more; the others take a whole site.
      copyFileSync(join(folder, ours[0] === "plan" ? "vessel.yaml" : "example.yaml"), join(own, "my.yaml"));
      const input = pipedFrom?.[0] === "echo" ? `${pipedFrom.slice(1).join(" ")}\n` : "";
      const { exitCode, output } = await runIn(own, ours, input);
      if (ours[0] === "check") {
        // The example as it is copied: the reader's own files and variables are all that it lacks.
        const faults = output.trimEnd().split("\n").slice(0, -1);
        expect(faults.filter((fault) => !/cannot be read \(ENOENT\)|which is not set/.test(fault))).toEqual(
          [],
        );
        expect(exitCode).toBe(1);
      } else {
        expect(`${exitCode} ${output}`).toMatch(/^0 [^]/);
      }
    },
  );
});

function runIn(
  folder: string,
  args: readonly string[],
  input: string,
): Promise<{ readonly exitCode: number; readonly output: string }> {
  return new Promise((resolve) => {
    const child = execFile(
      process.execPath,
      [mainFile, ...args],
      { cwd: folder, encoding: "utf8" },
      (error, stdout, stderr) =>
        resolve({ exitCode: error === null ? 0 : Number(error.code ?? 1), output: stdout + stderr }),
    );
    child.stdin?.end(input);
  });
}
