import { constants } from "node:fs";
import { open } from "node:fs/promises";
import { dirname, isAbsolute, join } from "node:path";
import { checkAlerts } from "./check-alerts.js";
import { checkAnnouncements, checkRenderedAnnouncements } from "./check-announcements.js";
import { checkBroker } from "./check-broker.js";
import { checkHub } from "./check-hub.js";
import { checkAway } from "./check-refill.js";
import { checkPage } from "./check-page.js";
import { checkRelays } from "./check-relays.js";
import { checkSensors } from "./check-sensors.js";
import { checkRetention, checkTimeZone, warnOfEmptySite } from "./check-site.js";
import { checkTanks } from "./check-tanks.js";
import { checkValves } from "./check-valves.js";
import { checkVessels } from "./check-vessels.js";
import { type ConfigFault, inFileOrder, type KeyPath, type Position } from "./config-faults.js";
import { type SiteConfig, siteSchema } from "./config-schema.js";
import { createCheckContext, createConfigView } from "./config-view.js";
import { plainValue } from "./plain-value.js";
import { reportSchemaIssues } from "./schema-faults.js";
import { maximumFile_bytes } from "./yaml-text-limits.js";
import { readYamlTree } from "./yaml-tree.js";

export type ParsedConfig = ValidConfig | InvalidConfig;

export interface ValidConfig {
  readonly kind: "valid";
  readonly config: SiteConfig;
  readonly warnings: readonly ConfigFault[];
  /** Where a key stands in the file, or the group that it would stand in. */
  readonly positionOf: (path: KeyPath) => Position;
}

export interface InvalidConfig {
  readonly kind: "invalid";
  /** In the order of the file; at least one. */
  readonly faults: readonly ConfigFault[];
  readonly warnings: readonly ConfigFault[];
  /** False where the text could not be read as YAML, so that keys and values were not looked at. */
  readonly isComplete: boolean;
}

const checks = [
  checkTimeZone,
  checkAway,
  checkBroker,
  checkSensors,
  checkVessels,
  checkTanks,
  checkValves,
  checkRelays,
  checkRetention,
  checkAlerts,
  checkHub,
  checkAnnouncements,
  checkPage,
  warnOfEmptySite,
];

/**
 * A configuration from its text, or everything that is wrong with it. Pure: opens nothing and asks no clock.
 * @param fileName  where the text came from; relative paths in it are looked for in the same folder.
 */
export function parseConfig(text: string, fileName: string): ParsedConfig {
  const tree = readYamlTree(text.startsWith("\uFEFF") ? text.slice(1) : text);
  if (tree.kind === "unreadable") {
    return { kind: "invalid", faults: tree.faults, warnings: [], isComplete: false };
  }
  const view = createConfigView(tree.root, tree.positionAt);
  const context = createCheckContext(view);
  const plain = plainValue(tree.root);
  const parsed = siteSchema.safeParse(plain);
  if (!parsed.success) reportSchemaIssues(context, plain, parsed.error.issues);
  for (const check of checks) check(context);
  if (parsed.success && tree.faults.length === 0 && context.faults().length === 0) {
    checkRenderedAnnouncements(context, parsed.data);
  }

  // A place that could not be read at all is not also missing.
  const unread = new Set(tree.faults.map((fault) => fault.keyPath));
  const faults = inFileOrder([
    ...tree.faults,
    ...context.faults().filter((fault) => fault.what !== "is missing" || !unread.has(fault.keyPath)),
  ]);
  const warnings = context.warnings();
  if (faults.length > 0 || !parsed.success) {
    return { kind: "invalid", faults, warnings, isComplete: true };
  }
  const config = deeplyFrozen(withPathsBeside(parsed.data, fileName));
  return { kind: "valid", config, warnings, positionOf: (path) => view.positionOfKey(path) };
}

/** Reads and parses a configuration file. What keeps the file from being read is a fault as well. */
export async function loadConfig(path: string): Promise<ParsedConfig> {
  const read = await readTextFile(path);
  return read.kind === "text"
    ? parseConfig(read.text, path)
    : { kind: "invalid", faults: [read.fault], warnings: [], isComplete: false };
}

type ReadFile =
  { readonly kind: "text"; readonly text: string } | { readonly kind: "fault"; readonly fault: ConfigFault };

/** The text of a configuration file, or why it cannot be read. */
export async function readTextFile(path: string): Promise<ReadFile> {
  const fault = (what: string, allowed: string, todo: string): ReadFile => ({
    kind: "fault",
    fault: { line: 1, column: 1, keyPath: "", what, allowed, todo },
  });
  let bytes: Buffer;
  try {
    // Opening a pipe would wait for its writer for ever.
    const file = await open(path, constants.O_RDONLY | constants.O_NONBLOCK);
    try {
      const status = await file.stat();
      if (!status.isFile()) {
        return fault("this is no file", "a configuration file", "give the path of the file itself");
      }
      if (status.size > maximumFile_bytes) {
        return fault(
          `the file has ${status.size} bytes`,
          `at most ${maximumFile_bytes}`,
          "check that this is the configuration file and nothing else",
        );
      }
      bytes = await file.readFile();
    } finally {
      await file.close();
    }
  } catch (error) {
    return fault(
      `the file cannot be read: ${reasonOf(error)}`,
      "a file that this user can read",
      "check path and permissions",
    );
  }
  try {
    return { kind: "text", text: new TextDecoder("utf-8", { fatal: true }).decode(bytes) };
  } catch {
    return fault("the file is no UTF-8 text", "plain text in UTF-8", "save it as UTF-8 in your editor");
  }
}

function reasonOf(error: unknown): string {
  const code = error instanceof Error && "code" in error ? String(error.code) : "";
  switch (code) {
    case "ENOENT":
      return "there is none with this name";
    case "EACCES":
    case "EPERM":
      return "this user may not";
    case "EISDIR":
      return "it is a folder";
    default:
      return code === "" ? "unknown reason" : code;
  }
}

function withPathsBeside(config: SiteConfig, fileName: string): SiteConfig {
  const beside = (path: string): string => (isAbsolute(path) ? path : join(dirname(fileName), path));
  const { passwordFile, tls, ...broker } = config.broker;
  const { caFile, certificateFile, keyFile, ...tlsRest } = tls ?? {};
  return {
    ...config,
    broker: {
      ...broker,
      ...(passwordFile === undefined ? {} : { passwordFile: beside(passwordFile) }),
      ...(tls === undefined
        ? {}
        : {
            tls: {
              acceptUnverified: false,
              ...tlsRest,
              ...(caFile === undefined ? {} : { caFile: beside(caFile) }),
              ...(certificateFile === undefined ? {} : { certificateFile: beside(certificateFile) }),
              ...(keyFile === undefined ? {} : { keyFile: beside(keyFile) }),
            },
          }),
    },
    alerts: {
      ...config.alerts,
      channels: Object.fromEntries(
        Object.entries(config.alerts.channels).map(([id, channel]) => [
          id,
          channel.kind === "mqtt"
            ? channel
            : {
                ...channel,
                ...(channel.secretFile === undefined ? {} : { secretFile: beside(channel.secretFile) }),
                ...(channel.caFile === undefined ? {} : { caFile: beside(channel.caFile) }),
              },
        ]),
      ),
    },
    ...(config.page === undefined
      ? {}
      : {
          page: {
            ...config.page,
            ...(config.page.tokenFile === undefined ? {} : { tokenFile: beside(config.page.tokenFile) }),
          },
        }),
    control: { ...config.control, clientSocket: beside(config.control.clientSocket) },
    store: { ...config.store, file: beside(config.store.file) },
  };
}

function deeplyFrozen<Value>(value: Value): Value {
  if (typeof value === "object" && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const part of Object.values(value)) deeplyFrozen(part);
  }
  return value;
}
