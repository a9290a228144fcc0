import { Lexer, Parser } from "yaml";
import type { ConfigFault, Position } from "./config-faults.js";

/** A configuration of a hundred tanks is half of this. */
export const maximumFile_bytes = 128 * 1024;
/** The configuration nests seven deep; the YAML parser dies, beyond catching, when brackets nest by the thousand. */
export const maximumDepth = 40;

/** A fault of the text as a whole: too long, no text, nested without end. */
export function unusableText(text: string): ConfigFault | undefined {
  if (text.length > maximumFile_bytes) {
    return {
      line: 1,
      column: 1,
      keyPath: "",
      what: `the file has ${text.length} characters`,
      allowed: `at most ${maximumFile_bytes}`,
      todo: "check that this is the configuration file and nothing else",
    };
  }
  for (let offset = 0; offset < text.length; offset += 1) {
    const code = text.charCodeAt(offset);
    const isControl = (code < 0x20 && code !== 0x09 && code !== 0x0a && code !== 0x0d) || code === 0x7f;
    if (isControl) {
      return {
        ...positionIn(text, offset),
        keyPath: "",
        what: `the file holds the control character ${code}, so it is no text file`,
        allowed: "plain text in UTF-8",
        todo: "check that this is the configuration file, and save it as UTF-8 text",
      };
    }
  }
  const tooDeepAt = offsetOfExcessiveDepth(text);
  if (tooDeepAt !== undefined) {
    return {
      ...positionIn(text, tooDeepAt),
      keyPath: "",
      what: "brackets or indentation nest too deeply",
      allowed: `${maximumDepth} levels`,
      todo: "compare the indentation with config/example.yaml",
    };
  }
  return undefined;
}

function offsetOfExcessiveDepth(text: string): number | undefined {
  const parser = new Parser();
  for (const lexeme of new Lexer().lex(text)) {
    Array.from(parser.next(lexeme));
    if (parser.stack.length > maximumDepth) return Math.min(parser.offset, text.length);
  }
  return undefined;
}

function positionIn(text: string, offset: number): Position {
  const before = text.slice(0, offset);
  const lineStart = before.lastIndexOf("\n") + 1;
  return { line: before.split("\n").length, column: offset - lineStart + 1 };
}
