import type { Command } from "commander";
import { devicesOf } from "../../lib/hub/property.js";
import { formatFault } from "../config/config-faults.js";
import { loadConfig } from "../config/load-config.js";
import { homieDevices } from "../hub/homie-device.js";
import { furtherDocuments, homiePlace } from "../hub/hub-plan.js";
import { hubTree } from "../hub/site-device.js";
import { siteModelFrom } from "../site-model.js";

interface PreviewOptions {
  readonly config: string;
  readonly ndjson?: boolean;
}

/** `fizzward hub ...`: what a hub is told. */
export function addHubCommands(program: Command, ending: (exitCode: Promise<number>) => Promise<void>): void {
  program
    .command("hub")
    .description("what a smart home's hub is told")
    .command("preview")
    .description("print every description and announcement that would be published; nothing is sent")
    .requiredOption("--config <file>", "the site's config")
    .option("--ndjson", "newline-delimited JSON: an object with topic and payload for each message")
    .action((options: PreviewOptions) =>
      ending(
        hubPreviewCommand(options, {
          write: (line) => void process.stdout.write(`${line}\n`),
          writeFault: (line) => void process.stderr.write(`${line}\n`),
        }),
      ),
    );
}

/** @returns the exit code. */
export async function hubPreviewCommand(
  { config: path, ndjson }: PreviewOptions,
  out: { readonly write: (line: string) => void; readonly writeFault: (line: string) => void },
): Promise<number> {
  const parsed = await loadConfig(path);
  if (parsed.kind === "invalid") {
    parsed.faults.forEach((fault) => out.writeFault(formatFault(path, fault)));
    return 1;
  }
  const { config } = parsed;
  const place = homiePlace(config.hub, config.site.id);
  if (place === undefined) {
    out.writeFault(`${path} has no hub.homie, so no hub is told anything`);
    return 1;
  }
  const tree = hubTree(siteModelFrom(config), place.rootId);
  const devices = homieDevices(tree, place.domain, {}, 0);
  const messages = [
    ...devices.map(({ descriptionTopic, description }) => [descriptionTopic, description] as const),
    ...furtherDocuments(config, place, tree),
  ];
  for (const [topic, payload] of messages) {
    if (ndjson === true) out.write(JSON.stringify({ topic, payload: JSON.parse(payload) as unknown }));
    else out.write(`${topic}\n${indented(payload)}\n`);
  }
  if (ndjson !== true) {
    const count = devicesOf(tree).reduce((sum, { properties }) => sum + properties.length, 0);
    out.write(
      `${messages.length} messages, and the values of ${count} properties; all retained. Nothing was sent.`,
    );
  }
  return 0;
}

function indented(payload: string): string {
  return JSON.stringify(JSON.parse(payload), undefined, 2).replaceAll(/^/gm, "  ");
}
