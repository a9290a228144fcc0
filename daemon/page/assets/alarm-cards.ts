import type { SitePicture } from "../page-contract.js";
import { ageOf, sentenceCase } from "./card-parts.js";
import { button, el } from "./dom.js";
import { isCalling, isUnseen } from "./site-verdict.js";
import type { Formats } from "./formats.js";
import { writtenSaid } from "./said.js";
import { mark } from "./svg.js";
import type { PageContext } from "./view.js";

type Alarm = SitePicture["alarms"][number];

/** What a person is called for, with what to do and how long there is; what is silenced or over stays folded below. */
export function alarmCards(
  { alarms, now_epochMs }: SitePicture,
  context: PageContext,
  acknowledge: (alarmId: string) => void,
): HTMLElement | undefined {
  const words = context.texts.alarms;
  const loud = alarms.filter(isCalling);
  const quiet = alarms.filter((alarm) => !isCalling(alarm));
  if (alarms.length === 0) return undefined;
  return el(
    "section",
    { "data-key": "alarms", class: "stack", "aria-labelledby": "alarms-heading" },
    el("h2", { id: "alarms-heading" }, words.heading),
    loud.length === 0
      ? undefined
      : el(
          "ul",
          { class: "plain cards" },
          loud.map((alarm) => alarmCard(alarm, now_epochMs, context, acknowledge)),
        ),
    quiet.length === 0
      ? undefined
      : el(
          "details",
          { "data-key": "quiet" },
          el("summary", {}, words.quiet(quiet.length)),
          el(
            "ul",
            {},
            quiet.map(({ id, state, suppressedBy, ...alarm }) =>
              el(
                "li",
                { "data-key": id },
                `${sentenceCase(causeText(alarm, context.formats()))} (${suppressedBy === null ? state : words.suppressedBy(suppressedBy)})`,
              ),
            ),
          ),
        ),
  );
}

/** In the reader's units and dates. */
export function causeText(
  { cause, causeSaid }: Pick<Alarm, "cause" | "causeSaid">,
  formats: Formats,
): string {
  return causeSaid === undefined ? cause : writtenSaid(causeSaid, formats);
}

function alarmCard(
  alarm: Alarm,
  now_epochMs: number,
  context: PageContext,
  acknowledge: (alarmId: string) => void,
): HTMLElement {
  const words = context.texts.alarms;
  const { id, state, priority, consequence, whatToDo } = alarm;
  const cause = causeText(alarm, context.formats());
  const isGrave = priority === "critical" || priority === "high";
  const isOver = state === "returned to normal unacknowledged";
  return el(
    "li",
    { "data-key": id, class: `card alarm alarm-${priority}` },
    el(
      "p",
      { class: "alarm-kind" },
      mark(isGrave ? "bad" : "care"),
      el("span", {}, `${words.priorities[priority] ?? priority}${isOver ? `, ${words.over}` : ""}`),
    ),
    el("h3", {}, sentenceCase(cause)),
    el("p", { class: "alarm-do" }, el("b", {}, words.whatToDo), " ", whatToDo),
    isOver ? undefined : el("p", {}, timeLeft(alarm, now_epochMs, context)),
    isUnseen(alarm)
      ? button(words.seen, () => acknowledge(id), { class: "main", "aria-label": words.seenOf(cause) })
      : el("p", { class: "quiet" }, words.isSeen),
    el(
      "details",
      {},
      el("summary", {}, words.more),
      el("p", {}, `${words.otherwise} ${consequence}`),
      el("p", {}, words.since(ageOf(Date.parse(alarm.since), now_epochMs, context))),
    ),
  );
}

function timeLeft({ actBy }: Alarm, now_epochMs: number, { texts, formats }: PageContext): string {
  const until_epochMs = Date.parse(actBy);
  const time = formats().time(until_epochMs, now_epochMs);
  return until_epochMs > now_epochMs
    ? texts.alarms.timeLeft(formats().span(until_epochMs - now_epochMs), time)
    : texts.alarms.timeIsUp(time);
}
