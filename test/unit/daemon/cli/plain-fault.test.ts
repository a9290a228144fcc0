import { Command, InvalidArgumentError } from "commander";
import { describe, expect, it } from "vitest";
import { plainFault } from "../../../../daemon/cli/plain-fault.js";

/** What the parser itself says of a command line. */
function faultOf(...argv: readonly string[]): string {
  let said = "";
  const number = (text: string): number => {
    if (text.includes(","))
      throw new InvalidArgumentError(`write it with a point: ${text.replace(",", ".")}`);
    return Number(text);
  };
  const command = new Command("gauge")
    .exitOverride()
    .configureOutput({ outputError: (text) => (said += plainFault(text)) })
    .argument("<pressure>", "", number)
    .argument("<unit>")
    .option("--accuracy <bar>", "", number)
    .requiredOption("--config <file>");
  try {
    command.parse(argv, { from: "user" });
  } catch {
    return said;
  }
  return said;
}

describe("a fault of the command line", () => {
  it.each([
    { argv: ["12,5", "bar", "--config", "f"], says: 'pressure is "12,5": write it with a point: 12.5\n' },
    {
      argv: ["12", "bar", "--accuracy", "0,1"],
      says: '--accuracy is "0,1": write it with a point: 0.1\n',
    },
    {
      argv: ["12", "--config", "f"],
      says: "missing required argument: unit; --help shows how the command is written\n",
    },
    { argv: ["12", "bar"], says: "--config <file> is missing; --help shows how the command is written\n" },
  ])("of $argv is told plainly", ({ argv, says }) => {
    expect(faultOf(...argv)).toBe(says);
  });

  it("that is not known here is told as it is", () => {
    expect(plainFault("error: unknown option '--acuracy'\n(Did you mean --accuracy?)\n")).toBe(
      "unknown option '--acuracy'\n(Did you mean --accuracy?)\n",
    );
  });
});
