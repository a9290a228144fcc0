/** A value of JSON, as a template's or a message's. */
export type Json = string | number | boolean | null | readonly Json[] | { readonly [key: string]: Json };

/** "{name}" stands for a value; "{{" and "}}" are the braces themselves. */
const part = /\{\{|\}\}|\{([A-Za-z_]+)\}/g;
const alone = /^\{([A-Za-z_]+)\}$/;

/**
 * A template with its placeholders filled in. A text that is one placeholder and nothing else becomes the value with its own
 * type: a number stays a number, a list a list. Inside a longer text a value is written out. Keys are left as they are.
 * A name without a value stays as it is written: the config check has refused it before.
 */
export function filled(template: Json, values: Readonly<Record<string, Json>>): Json {
  if (typeof template === "string") return filledText(template, values);
  if (typeof template !== "object" || template === null) return template;
  if (isList(template)) return template.map((item) => filled(item, values));
  return Object.fromEntries(Object.entries(template).map(([key, value]) => [key, filled(value, values)]));
}

/** A text with its placeholders written out. */
export function filledLine(template: string, values: Readonly<Record<string, Json>>): string {
  return template.replace(part, (written, name: string | undefined) => {
    if (name === undefined) return written.slice(1);
    const value = Object.hasOwn(values, name) ? values[name] : undefined;
    if (value === undefined) return written;
    return typeof value === "string" ? value : JSON.stringify(value);
  });
}

/** The names of all placeholders, each once. */
export function placeholdersIn(template: Json): readonly string[] {
  if (typeof template === "string") {
    return [...new Set([...template.matchAll(part)].flatMap(([, name]) => name ?? []))];
  }
  if (typeof template !== "object" || template === null) return [];
  const inner = isList(template) ? template : Object.values(template);
  return [...new Set(inner.flatMap(placeholdersIn))];
}

function filledText(template: string, values: Readonly<Record<string, Json>>): Json {
  const name = alone.exec(template)?.[1];
  const value = name !== undefined && Object.hasOwn(values, name) ? values[name] : undefined;
  return value ?? filledLine(template, values);
}

function isList(json: readonly Json[] | { readonly [key: string]: Json }): json is readonly Json[] {
  return Array.isArray(json);
}
