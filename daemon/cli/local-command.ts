import { createInterface } from "node:readline/promises";
import { loadConfig } from "../config/load-config.js";
import { converse } from "../control-socket/socket-client.js";
import { formatFault } from "../config/config-faults.js";

/**
 * One command to the running daemon, for a person at a terminal.
 * @param answer  what is printed where the daemon answers with both words for people and a value for programs.
 * @returns the exit code.
 */
export async function localCommand(
  configPath: string,
  request: Readonly<Record<string, unknown>>,
  answer: "words" | "value" = "value",
): Promise<number> {
  const parsed = await loadConfig(configPath);
  if (parsed.kind === "invalid") {
    parsed.faults.forEach((fault) => process.stderr.write(`${formatFault(configPath, fault)}\n`));
    return 1;
  }
  const path = parsed.config.control.clientSocket;
  const reply = await converse(path, request, {
    hears: (text) => void process.stdout.write(`${text}\n`),
    answers: ask,
  });
  switch (reply.kind) {
    case "done":
      process.stdout.write(
        reply.value === undefined || answer === "words"
          ? `${reply.text}\n`
          : `${JSON.stringify(reply.value, undefined, 2)}\n`,
      );
      return 0;
    case "refused":
      process.stderr.write(`refused: ${reply.text}\n`);
      return 1;
    case "no answer":
      process.stderr.write(
        reply.code === undefined
          ? `${reply.reason}\n`
          : `no daemon answers at ${path} (${reply.reason}); start it, and run this as the same user\n`,
      );
      return 1;
  }
}

export async function ask(question: string): Promise<string> {
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  try {
    return await terminal.question(`${question} `);
  } finally {
    terminal.close();
  }
}
