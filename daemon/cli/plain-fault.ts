/**
 * What is wrong with a command line, as a person would say it. The command line's own parser speaks of arguments and options;
 * what it says in a form that is not known here stays as it is.
 */
export function plainFault(text: string): string {
  const told = text.replace(/^error: /, "").trimEnd();
  const value =
    /^(?:command-argument value|option '([^']*)' argument) '(.*)' is invalid(?: for argument '([^']*)')?\. (.*)$/s;
  const [, option, given, argument, wanted] = value.exec(told) ?? [];
  if (given !== undefined && wanted !== undefined) {
    return `${argument ?? firstWord(option ?? "")} is "${given}": ${wanted}\n`;
  }
  const [, missing] = /^missing required argument '([^']*)'/.exec(told) ?? [];
  if (missing !== undefined)
    return `missing required argument: ${missing}; --help shows how the command is written\n`;
  const [, unsaid] = /^required option '([^']*)' not specified/.exec(told) ?? [];
  if (unsaid !== undefined) return `${unsaid} is missing; --help shows how the command is written\n`;
  return `${told}\n`;
}

/** "--temperature <degC>" is "--temperature". */
function firstWord(text: string): string {
  return text.split(" ")[0] ?? text;
}
