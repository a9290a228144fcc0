import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import type { IncomingMessage, ServerResponse } from "node:http";
import { extname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { strictHeaders } from "./response.js";

/** The bundled page lies in dist/page, seen from the source as from what is compiled. */
export const bundledPage = fileURLToPath(
  new URL(import.meta.url.endsWith(".ts") ? "../../dist/page/" : "../../page/", import.meta.url),
);

const contentTypes: Readonly<Record<string, string>> = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml",
};

interface PageFile {
  readonly type: string;
  readonly etag: string;
  readonly plain: Buffer;
  readonly brotli: Buffer | undefined;
}

/** The files of the page, in memory: a request never becomes a path on the disk. */
export interface PageFiles {
  /** False where there is no file of that name. */
  tell(pathname: string, request: IncomingMessage, response: ServerResponse): boolean;
}

/** @throws where the folder cannot be read: the page was not bundled */
export function readPageFiles(folder: string): PageFiles {
  const names = readdirSync(folder);
  const files = new Map<string, PageFile>();
  for (const name of names) {
    const type = contentTypes[extname(name)];
    if (type === undefined) continue;
    const plain = readFileSync(join(folder, name));
    files.set(name === "index.html" ? "/" : `/${name}`, {
      type,
      plain,
      etag: `"${createHash("sha256").update(plain).digest("base64url").slice(0, 22)}"`,
      brotli: names.includes(`${name}.br`) ? readFileSync(join(folder, `${name}.br`)) : undefined,
    });
  }
  if (!files.has("/")) throw new TypeError(`there is no index.html in ${folder}`);
  return {
    tell(pathname, request, response) {
      const file = files.get(pathname);
      if (file === undefined) return false;
      const { type, etag, plain, brotli } = file;
      const headers = {
        ...strictHeaders,
        ETag: etag,
        Vary: "Accept-Encoding",
        "Cache-Control": "private, no-cache",
      };
      if (request.headers["if-none-match"] === etag) {
        response.writeHead(304, headers);
        response.end();
        return true;
      }
      const takesBrotli = request.headers["accept-encoding"]?.includes("br") === true;
      const body = brotli !== undefined && takesBrotli ? brotli : plain;
      response.writeHead(200, {
        ...headers,
        "Content-Type": type,
        "Content-Length": body.byteLength,
        ...(body === brotli ? { "Content-Encoding": "br" } : {}),
      });
      response.end(request.method === "HEAD" ? undefined : body);
      return true;
    },
  };
}
