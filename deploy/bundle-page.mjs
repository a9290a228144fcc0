/** Bundles the page for the browser into dist/page, each file beside itself compressed. Quick when nothing changed. */
import {
  copyFileSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmdirSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { brotliCompressSync } from "node:zlib";
import { build } from "esbuild";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const from = join(root, "daemon", "page", "assets");
const to = join(root, "dist", "page");

const newest = (files) =>
  Math.max(0, ...files.map((file) => statSync(file, { throwIfNoEntry: false })?.mtimeMs ?? 0));
const sources = ["daemon/page/assets", "lib", "package-lock.json", "deploy/bundle-page.mjs"].flatMap(
  (path) => {
    const full = join(root, path);
    return statSync(full).isDirectory()
      ? readdirSync(full, { recursive: true, withFileTypes: true }).map((entry) =>
          join(entry.parentPath ?? entry.path, entry.name),
        )
      : [full];
  },
);
const stamp = join(to, ".bundled");
if (newest([stamp]) > newest(sources)) process.exit(0);

// Whoever reads meanwhile, or bundles too, finds whole files.
const made = join(root, "dist", `page-made-by-${process.pid}`);
mkdirSync(made, { recursive: true });
mkdirSync(to, { recursive: true });
await build({
  entryPoints: { page: join(from, "main.ts") },
  outdir: made,
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  charset: "utf8",
  logLevel: "warning",
});
await build({
  entryPoints: { page: join(from, "style.css") },
  outdir: made,
  bundle: true,
  minify: true,
  logLevel: "warning",
});
for (const name of ["index.html", "icon.svg"]) copyFileSync(join(from, name), join(made, name));
for (const name of ["index.html", "icon.svg", "page.js", "page.css"]) {
  writeFileSync(join(made, `${name}.br`), brotliCompressSync(readFileSync(join(made, name))));
}
for (const name of readdirSync(made)) renameSync(join(made, name), join(to, name));
rmdirSync(made);
writeFileSync(stamp, "");
