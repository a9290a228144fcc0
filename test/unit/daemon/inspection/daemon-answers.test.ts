import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { createControlSocket, type SocketHandler } from "../../../../daemon/control-socket/control-socket.js";
import { askDaemon, askForClick } from "../../../../daemon/inspection/daemon-answers.js";
import { CollectingLogger } from "../../../support/collecting-logger.js";

let folder: string;
let path: string;
let end: () => Promise<void>;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "fizzward-answers-"));
  path = join(folder, "control.sock");
  end = () => Promise.resolve();
});
afterEach(async () => {
  await end();
  rmSync(folder, { recursive: true, force: true });
});

async function listening(handle: SocketHandler): Promise<void> {
  const socket = createControlSocket({ path, logger: new CollectingLogger(), handle });
  await socket.start();
  end = () => socket.stop();
}

const block = (rule: string) => ({ rule, reason: "because" });
const valve = (action: "open" | "closed", blocks: readonly object[]) => ({
  valveId: "outlet",
  window: { kind: "closed" },
  reported: "closed",
  decision: { action: "closed", reason: "as told", wish: { action, reason: "" }, blocks },
});

describe("what the daemon says of itself", () => {
  it("is that none runs where nothing listens", async () => {
    expect((await askDaemon(path)).kind).toBe("does not run");
  });

  it("is that no pass has run where the status is refused", async () => {
    await listening((_request, conversation) => {
      conversation.reply({ kind: "refused", text: "no control pass has run yet" });
      return Promise.resolve();
    });
    expect(await askDaemon(path)).toEqual({ kind: "no pass", reason: "no control pass has run yet" });
  });

  it("is not known where it speaks in another form", async () => {
    await listening((_request, conversation) => {
      conversation.reply({ kind: "done", text: "", value: { valves: "all closed" } });
      return Promise.resolve();
    });
    expect((await askDaemon(path)).kind).toBe("not known");
  });

  it.each([
    { wish: "open", rules: ["end of charge", "tripped"], told: ["end of charge", "tripped"] },
    // Nobody wishes it open: what comes and goes by itself is no fault then.
    { wish: "closed", rules: ["guard sensor silent", "tripped"], told: ["tripped"] },
  ] as const)("names of a valve that is wished $wish what holds it: $told", async ({ wish, rules, told }) => {
    await listening((request, conversation) => {
      conversation.reply(
        request.command === "status"
          ? {
              kind: "done",
              text: "",
              value: { clock: { kind: "plausible" }, sensors: [], valves: [valve(wish, rules.map(block))] },
            }
          : { kind: "done", text: "", value: { kind: "told", watchdog_s: 30 } },
      );
      return Promise.resolve();
    });
    const answers = await askDaemon(path);
    if (answers.kind !== "runs") throw new Error(answers.kind);
    expect(answers.valves.get("outlet")?.blocks.map(({ rule }) => rule)).toEqual(told);
    expect(answers.service).toEqual({ kind: "told", watchdog_s: 30, fedBefore_s: undefined });
  });
});

describe("a round trip that is asked for", () => {
  /** As the daemon does: asks for the name, and does it where that is given. */
  const asking: SocketHandler = async (request, conversation) => {
    let name = request["atTheTank"];
    if (name === undefined) {
      conversation.reply({ kind: "question", text: "Type the valve's name:" });
      name = await conversation.nextLine();
    }
    conversation.reply(
      name === "outlet" ? { kind: "refused", text: "it tripped" } : { kind: "refused", text: "not done" },
    );
  };

  it.each<{ because: string; atTheTank?: string; typed?: string; kind: string }>([
    { because: "its name was given beforehand", atTheTank: "outlet", kind: "failed" },
    { because: "its name was typed", typed: "outlet", kind: "failed" },
    { because: "another word was typed", typed: "yes", kind: "nobody agreed" },
    { because: "nobody answers", kind: "nobody agreed" },
  ])("and refused is $kind where $because", async ({ atTheTank, typed, kind }) => {
    await listening(asking);
    const person = { hears: () => undefined, answers: () => Promise.resolve(typed) };
    expect((await askForClick(path, "outlet", atTheTank, person)).kind).toBe(kind);
  });

  it("has passed where the daemon says that it is done", async () => {
    await listening((_request, conversation) => {
      conversation.reply({ kind: "done", text: "outlet went off, on and off" });
      return Promise.resolve();
    });
    const person = { hears: () => undefined, answers: () => Promise.resolve(undefined) };
    expect(await askForClick(path, "outlet", "outlet", person)).toEqual({
      kind: "passed",
      text: "outlet went off, on and off",
    });
  });
});
