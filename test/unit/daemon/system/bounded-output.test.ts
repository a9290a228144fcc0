import { spawn } from "node:child_process";
import { Writable } from "node:stream";
import { fileURLToPath } from "node:url";
import { expect, it } from "vitest";
import { createBoundedOutput } from "../../../../daemon/system/bounded-output.js";

const loggerModule = new URL("../../../../dist/daemon/system/pino-logger.js", import.meta.url).href;

/** A reader that takes the first chunk and no further one until it is let go on. */
function slowReader() {
  const taken: string[] = [];
  let goOn: (() => void) | undefined;
  const stream = new Writable({
    write: (chunk: Buffer, _encoding, done) => {
      taken.push(chunk.toString());
      goOn = done;
    },
  });
  return {
    stream,
    taken,
    readAll: async () => {
      while (stream.writableLength > 0) {
        goOn?.();
        await new Promise((resolve) => setImmediate(resolve));
      }
    },
  };
}

it("keeps no more than the bound for a reader that stands still, and says how many lines it dropped", async () => {
  const { stream, taken, readAll } = slowReader();
  const output = createBoundedOutput(stream, 40, (dropped) => `${dropped} dropped\n`);
  for (let count = 0; count < 10; count += 1) output.write("123456789\n");
  expect(stream.writableLength).toBe(40);
  await readAll();
  output.write("later\n");
  await readAll();
  expect(taken).toEqual([...Array<string>(4).fill("123456789\n"), "6 dropped\n", "later\n"]);
});

it("outlives a reader that went away", async () => {
  const stream = new Writable({ write: (_chunk, _encoding, done) => done(new Error("EPIPE")) });
  const output = createBoundedOutput(stream, 1000, () => "");
  output.write("one\n");
  await new Promise((resolve) => setImmediate(resolve));
  expect(() => output.write("two\n")).not.toThrow();
});

/** A process that logs 3 MB and then says on its error output how long that took. */
function talker(): ReturnType<typeof spawn> {
  const program = `
    const { createPinoLogger } = await import(${JSON.stringify(loggerModule)});
    const log = createPinoLogger({ level: "info", monotonic_ms: () => performance.now() });
    const from = performance.now();
    for (let count = 0; count < 3000; count += 1) log.info({ count, text: "x".repeat(1000) }, "a line");
    process.stderr.write("took " + (performance.now() - from) + "\\n");
    log.info({}, "the last line");
    setTimeout(() => process.exit(0), 500).unref();`;
  return spawn(process.execPath, ["--input-type=module", "-e", program], {
    cwd: fileURLToPath(new URL("../../../../", import.meta.url)),
  });
}

it("neither waits for a pipe that nobody reads nor stays because of it", async () => {
  const child = talker();
  let errors = "";
  child.stderr?.on("data", (chunk: Buffer) => (errors += chunk.toString()));
  const timer = setTimeout(() => child.kill("SIGKILL"), 8000);
  const exitCode = await new Promise((resolve) => child.on("exit", resolve));
  clearTimeout(timer);
  expect(exitCode).toBe(0);
  expect(errors).toMatch(/^took /);
}, 12_000);

it("writes the last line before the end when the pipe is read", async () => {
  const child = spawn(
    process.execPath,
    [
      "--input-type=module",
      "-e",
      `const { createPinoLogger } = await import(${JSON.stringify(loggerModule)});
       const log = createPinoLogger({ level: "info", monotonic_ms: () => performance.now() });
       for (let count = 0; count < 500; count += 1) log.info({ count, text: "x".repeat(1000) }, "a line");
       log.info({}, "the last line");`,
    ],
    { stdio: ["ignore", "pipe", "inherit"] },
  );
  let output = "";
  child.stdout.on("data", (chunk: Buffer) => (output += chunk.toString()));
  await new Promise((resolve) => child.on("close", resolve));
  expect(output.split("\n").filter((line) => line.includes("a line"))).toHaveLength(500);
  expect(output).toContain("the last line");
});
