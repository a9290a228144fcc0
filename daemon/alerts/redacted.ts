/** A text in which a secret has no place, on one line and not long. */
export function redacted(text: string, secret: string | undefined): string {
  const oneLine = text.replaceAll(/\p{Cc}+/gu, " ").trim();
  const forms = secret === undefined || secret === "" ? [] : formsOf(secret);
  return forms.reduce((soFar, form) => soFar.replaceAll(form, "***"), oneLine).slice(0, 300);
}

/** As it is, in a URL, and in Base64, as libraries repeat what they were given. */
function formsOf(secret: string): readonly string[] {
  return [secret, encodeURIComponent(secret), Buffer.from(secret, "utf8").toString("base64")];
}

/** The message of an error and of what caused it. */
export function wordsOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const cause = error.cause === undefined ? "" : wordsOf(error.cause);
  return cause === "" || error.message.includes(cause) ? error.message : `${error.message}: ${cause}`;
}
