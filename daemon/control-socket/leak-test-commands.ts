import { z } from "zod";
import { pressureToBar, pressureUnits, type PressureUnit } from "../../lib/quantities/units.js";
import { longestTest_h } from "../../lib/supply-watch/leak-test.js";
import type { EntryOutcome } from "../journal/journal.js";
import type { LeakTestKeeper, LeakTestOutlook } from "../leak-tests/leak-test-keeper.js";
import { leakTestFields, leakTestLines } from "../leak-tests/leak-test-text.js";
import type { SiteModel } from "../site-model.js";
import { civilMinute } from "../supply/supply-events.js";
import { askForYes } from "./ask-for-yes.js";
import { commandFamily } from "./command-family.js";
import type { SocketConversation, SocketHandler } from "./control-socket.js";

const pressureUnitNames = pressureUnits as readonly [PressureUnit, ...PressureUnit[]];
const vessel = z.string().max(60).exactOptional();
const gauge = z
  .strictObject({
    pressure: z.number(),
    unit: z.enum(pressureUnitNames),
    temperature_degC: z.number().exactOptional(),
  })
  .exactOptional();
const requestSchema = z.discriminatedUnion("command", [
  z.strictObject({
    command: z.literal("leak-test-begin"),
    vessel,
    hold_h: z.number().min(1).max(longestTest_h),
    matters_gPerDay: z.number().min(0.1).max(100).default(1),
    gauge,
    /** In the unit of the gauge: half a division and its friction. */
    accuracy: z.number().positive().exactOptional(),
    agreed: z.boolean().default(false),
  }),
  z.strictObject({ command: z.literal("leak-test-status"), vessel, json: z.boolean().default(false) }),
  z.strictObject({ command: z.literal("leak-test-end"), vessel, gauge, agreed: z.boolean().default(false) }),
]);

type Command = z.output<typeof requestSchema>;
type Gauge = NonNullable<Extract<Command, { command: "leak-test-end" }>["gauge"]>;
type Possible = Extract<LeakTestOutlook, { kind: "possible" }>;

/** Leak tests for the person at this machine; every other command goes on to `others`. */
export function createLeakTestCommands(
  keeper: LeakTestKeeper,
  site: {
    readonly now_epochMs: () => number;
    readonly model: () => Pick<SiteModel, "vessels" | "timeZone">;
    readonly enter: (content: unknown) => Promise<EntryOutcome>;
  },
  others: SocketHandler,
): SocketHandler {
  const handle = async (command: Command, conversation: SocketConversation): Promise<void> => {
    if (command.command === "leak-test-status") {
      tell(command, conversation);
      return;
    }
    const vesselId = command.vessel ?? onlyGenerator(site.model());
    if (vesselId === undefined) {
      conversation.reply({ kind: "refused", text: "say which vessel is meant" });
      return;
    }
    if (command.command === "leak-test-begin") await begin(vesselId, command, conversation);
    else await end(vesselId, command, conversation);
  };

  return commandFamily("leak-test-", requestSchema, handle, others);

  async function begin(
    vesselId: string,
    command: Extract<Command, { command: "leak-test-begin" }>,
    conversation: SocketConversation,
  ): Promise<void> {
    const { hold_h, matters_gPerDay, gauge: read, accuracy } = command;
    if ((read === undefined) !== (accuracy === undefined)) {
      conversation.reply({
        kind: "refused",
        text: "a gauge read by eye needs both: --gauge, what it shows, and --accuracy, how far one look may be off from another (half a division)",
      });
      return;
    }
    const wish = {
      vesselId,
      hold_h,
      matters_gPerDay,
      gaugeAccuracy_bar:
        read === undefined || accuracy === undefined ? undefined : pressureToBar(accuracy, read.unit),
    };
    // What would be refused in any case must not first be written down.
    const possible = keeper.outlook(wish);
    const refusal =
      possible.kind === "refused" ? possible.reason : await enterLook(vesselId, read, conversation);
    const outlook = keeper.outlook(wish);
    if (refusal !== undefined || outlook.kind === "refused") {
      const text = refusal ?? (outlook.kind === "refused" ? outlook.reason : "");
      conversation.reply({ kind: "refused", text });
      return;
    }
    beforehand(outlook, matters_gPerDay).forEach((text) => conversation.reply({ kind: "progress", text }));
    if (!command.agreed) {
      const no = await askForYes(conversation, `Hold every valve of ${vesselId} closed for ${hold_h} h?`);
      if (no !== undefined) {
        conversation.reply({ kind: "refused", text: no });
        return;
      }
    }
    // The answer may have taken a while: another test may have begun, and the hold counts from now.
    const latest = keeper.outlook(wish);
    if (latest.kind === "refused") {
      conversation.reply({ kind: "refused", text: latest.reason });
      return;
    }
    const isStored = await keeper.begin(latest.test);
    const until = civilMinute(latest.test.until_epochMs, site.model().timeZone);
    conversation.reply({
      kind: "done",
      text: `leak test of ${vesselId} until ${until}: every valve of it is held closed${isStored ? "" : "; it could not be stored and will be forgotten at a restart"}. \`leak-test end\` ends it before.`,
    });
  }

  async function end(
    vesselId: string,
    command: Extract<Command, { command: "leak-test-end" }>,
    conversation: SocketConversation,
  ): Promise<void> {
    const { gauge: read } = command;
    const running = keeper.views().find(({ test, isRunning }) => isRunning && test.vesselId === vesselId);
    const byEye = running?.test.gaugeAccuracy_bar !== undefined;
    if (byEye && read === undefined && !command.agreed) {
      conversation.reply({
        kind: "refused",
        text: `this test goes by the gauge read by eye: read it now and give what it shows with --gauge and --unit; what was read before alone tells less, and --yes ends it so`,
      });
      return;
    }
    const refusal =
      running === undefined
        ? `no leak test of ${vesselId} runs`
        : await enterLook(vesselId, read, conversation);
    if (refusal !== undefined) {
      conversation.reply({ kind: "refused", text: refusal });
      return;
    }
    const found = await keeper.end(vesselId);
    conversation.reply(
      found === undefined
        ? { kind: "refused", text: `no leak test of ${vesselId} runs` }
        : {
            kind: "done",
            text: [...found.sentences, `The valves of ${vesselId} follow schedule and rules again.`].join(
              "\n",
            ),
          },
    );
  }

  /** A look at the gauge goes into the journal, and counts as any other. */
  async function enterLook(
    vesselId: string,
    read: Gauge | undefined,
    conversation: SocketConversation,
  ): Promise<string | undefined> {
    if (read === undefined) return undefined;
    const outcome = await site.enter({ kind: "gauge reading", vessel: vesselId, ...read });
    if (outcome.kind !== "kept") return outcome.reason;
    conversation.reply({
      kind: "progress",
      text: `the gauge stands in the journal as entry ${outcome.entry.entryId}`,
    });
    return undefined;
  }

  function beforehand(
    { test, missedWindows, missed_h, needed_h }: Possible,
    matters_gPerDay: number,
  ): readonly string[] {
    const missed =
      missedWindows === 0
        ? "No dosing window falls into the hold."
        : `The hold cuts into ${missedWindows} dosing ${missedWindows === 1 ? "window" : "windows"}: ${missed_h.toFixed(1)} h of gas are missed.`;
    if (test.gaugeAccuracy_bar === undefined) return [missed];
    const hold_h = (test.until_epochMs - test.from_epochMs) / 3_600_000;
    const needed =
      needed_h === undefined
        ? `With this gauge no hold of up to ten days tells ${matters_gPerDay} g a day; only a larger leak can be told.`
        : `With this gauge ${matters_gPerDay} g a day can be told after about ${needed_h} h closed${needed_h > hold_h ? `; this hold of ${hold_h} h tells only a larger leak` : ""}.`;
    return [missed, needed];
  }

  function tell(
    { vessel: vesselId, json }: Extract<Command, { command: "leak-test-status" }>,
    conversation: SocketConversation,
  ): void {
    const { timeZone } = site.model();
    const views = keeper.views().filter(({ test }) => vesselId === undefined || test.vesselId === vesselId);
    if (json) {
      const instant = (at_epochMs: number): string => new Date(at_epochMs).toISOString();
      const value = Object.fromEntries(
        views.map((view) => [view.test.vesselId, leakTestFields(view, instant)]),
      );
      conversation.reply({ kind: "done", text: "leak tests", value });
      return;
    }
    const civil = { now_epochMs: site.now_epochMs(), timeZone };
    const lines = views.flatMap((view) => [
      `vessel ${view.test.vesselId}`,
      ...leakTestLines(view, civil).map((line) => `  ${line}`),
    ]);
    conversation.reply({
      kind: "done",
      text: lines.length === 0 ? "no leak test has been made" : lines.join("\n"),
    });
  }
}

function onlyGenerator({ vessels }: Pick<SiteModel, "vessels">): string | undefined {
  const generators = [...vessels].filter(([, { kind }]) => kind === "generator").map(([id]) => id);
  return generators.length === 1 ? generators[0] : undefined;
}
