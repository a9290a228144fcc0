const entities: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
};

/** Text as it may stand between tags or inside a quoted attribute of HTML or SVG. */
export function escapedMarkup(text: string): string {
  return text.replaceAll(/[&<>"]/g, (character) => entities[character] ?? character);
}
