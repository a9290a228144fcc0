import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { mainFile } from "./daemon-process.js";

/** The page's files as they are served, made anew from their sources. */
export function bundlePage(): void {
  const bundled = spawnSync(process.execPath, [join(mainFile, "../../../deploy/bundle-page.mjs")], {
    encoding: "utf8",
  });
  if (bundled.status !== 0) throw new Error(bundled.stderr);
}
