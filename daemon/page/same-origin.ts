import type { IncomingHttpHeaders } from "node:http";

/** The header that a page writes its session's word into; a form from elsewhere cannot write any header. */
export const wordHeader = "x-fizzward-word";

/** Whether a write may come from the page itself, by what the browser says. A program that says nothing still needs the word. */
export function isFromThisPage(headers: IncomingHttpHeaders): boolean {
  const { origin, host } = headers;
  const site = headers["sec-fetch-site"];
  if (site !== undefined && site !== "same-origin") return false;
  if (origin === undefined) return true;
  return host !== undefined && (origin === `http://${host}` || origin === `https://${host}`);
}
