/**
 * Makes a checkout ready to run: installs the locked packages where the lock file, the Node version or the processor changed
 * since the last time, and compiles. Runs before `npm start` and `npm test`; quick when nothing changed.
 */
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const stampFile = join(root, "node_modules", ".fizzward-stamp");
const stamp = createHash("sha256")
  .update(readFileSync(join(root, "package-lock.json")))
  .update(`${process.version} ${process.platform} ${process.arch}`)
  .digest("hex");

/** Runs quietly; what a step printed is shown only when it failed. */
function step(name, command, args) {
  const done = spawnSync(command, args, {
    cwd: root,
    env: environment(),
    encoding: "utf8",
    maxBuffer: 64 * 1024 * 1024,
  });
  if (done.status === 0) return;
  process.stderr.write(
    `${done.stdout ?? ""}${done.stderr ?? ""}\n${name} failed${done.error ? `: ${done.error.message}` : ""}\n`,
  );
  process.exit(1);
}

/** Node's own headers, where they lie beside the binary, spare the native build a download. */
function environment() {
  const prefix = join(dirname(process.execPath), "..");
  const headers = existsSync(join(prefix, "include", "node", "node.h"));
  return { ...process.env, ...(headers ? { npm_config_nodedir: prefix } : {}) };
}

const known = existsSync(stampFile) ? readFileSync(stampFile, "utf8") : "";
if (known !== stamp && process.argv[2] !== "build-only") {
  process.stderr.write(
    "installing packages and building the database driver (once; one to three minutes, without a word until it is done)\n",
  );
  step("npm ci", "npm", ["ci", "--include=dev", "--no-audit", "--no-fund"]);
  mkdirSync(dirname(stampFile), { recursive: true });
  writeFileSync(stampFile, stamp);
}
const compiler = join(root, "node_modules", "typescript", "bin", "tsc");
if (existsSync(compiler)) {
  // The tests run helpers of theirs as processes of their own, which have to be compiled too.
  const projects = process.argv[2] === "with-tests" ? ["lib", "daemon", "test"] : ["lib", "daemon"];
  step("compiling", process.execPath, [compiler, "-b", ...projects]);
  step("bundling the page", process.execPath, [join(root, "deploy", "bundle-page.mjs")]);
} else if (!existsSync(join(root, "dist", "daemon", "main.js"))) {
  process.stderr.write("nothing is compiled and there is no compiler; run npm install without --omit=dev\n");
  process.exit(1);
}
