import { recordedTasks } from "../../../lib/upkeep/recorded-task.js";
import type { UpkeepItem } from "../../../lib/upkeep/upkeep-items.js";
import type { UpkeepPicture } from "../page-contract.js";
import { button, el, put } from "./dom.js";
import { patch } from "./patch.js";
import { mark } from "./svg.js";
import type { PageContext } from "./view.js";

export interface UpkeepLists {
  readonly element: HTMLElement;
  readonly update: (items: readonly UpkeepItem[]) => void;
}

/** What is due, with how it is done and what follows where it is left; what comes later. */
export function upkeepLists(context: PageContext, onDone: () => void): UpkeepLists {
  const { texts, ask, send, announce } = context;
  const words = texts.journal;
  const due = el("div");
  const later = el("div");
  const answer = el("p", { role: "status" });
  let told: UpkeepPicture | undefined;
  let items: readonly UpkeepItem[] = [];
  let asked = "";
  return {
    element: el(
      "div",
      { class: "stack" },
      el(
        "section",
        { class: "card", "aria-label": words.due.heading },
        el("h2", {}, words.due.heading),
        due,
        answer,
      ),
      el("details", { class: "card" }, el("summary", {}, words.later.heading), later),
    ),
    update(now) {
      items = now;
      const key = JSON.stringify(now.map(({ task, subject, state }) => [task, subject.id, state.kind]));
      if (key !== asked) {
        asked = key;
        void load();
      }
      show();
    },
  };

  async function load(): Promise<void> {
    try {
      told = await ask<UpkeepPicture>("/api/upkeep");
      show();
    } catch (error) {
      put(answer, texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function show(): void {
    const dueNow = items.filter(({ state }) => state.kind === "due" || state.kind === "due by date");
    const others = items.filter((item) => !dueNow.includes(item));
    patch(
      due,
      dueNow.length === 0
        ? el("p", {}, mark("good"), words.due.none)
        : el(
            "ul",
            { class: "plain tasks" },
            dueNow.map((item) => taskOf(item, true)),
          ),
    );
    patch(
      later,
      others.length === 0
        ? el("p", {}, words.later.none)
        : el(
            "ul",
            { class: "plain tasks" },
            others.map((item) => taskOf(item, false)),
          ),
    );
  }

  function taskOf(item: UpkeepItem, isDue: boolean): HTMLElement {
    const { task, subject } = item;
    const name = words.tasks[task];
    const how = told?.items.find((one) => one.task === task && one.subject.id === subject.id);
    const isRecorded = recordedTasks.some((recorded) => recorded === task);
    return el(
      "li",
      { "data-key": `${task}/${subject.id}` },
      el(
        "div",
        { class: "task-head" },
        el(
          "div",
          {},
          el("strong", {}, isDue ? mark("care") : undefined, `${name}: ${subject.id}`),
          el("span", { class: "range" }, stateOf(item)),
        ),
        isRecorded
          ? button(words.due.done, () => void done(item), {
              class: isDue ? "main" : "",
              "aria-label": words.due.doneName(name, subject.id),
            })
          : undefined,
      ),
      how === undefined
        ? undefined
        : el(
            "details",
            { open: isDue },
            el("summary", {}, words.due.how),
            el("p", {}, how.whatToDo),
            el("p", { class: "must" }, `${words.due.consequence}: ${how.consequence}`),
            isRecorded ? undefined : el("p", { class: "aside" }, stateNote(item)),
          ),
    );
  }

  function stateNote({ task }: UpkeepItem): string {
    return task === "retest" || task === "relief device" ? words.due.byPlate : words.due.byEntry;
  }

  function stateOf({ state, done_epochMs }: UpkeepItem): string {
    const { date, civilDate } = context.formats();
    const said = ((): string => {
      switch (state.kind) {
        case "due":
          return words.state.due;
        case "later":
          return words.state.later(date(state.due_epochMs));
        case "due by date":
          return state.isPast
            ? words.state.past(civilDate(state.date))
            : words.state.byDate(civilDate(state.date));
        case "later by date":
          return words.state.byDate(civilDate(state.date));
        case "at the next refill":
          return words.state.atRefill;
        case "never recorded":
          return words.state.never;
        case "no date in the config":
          return words.state.noDate;
      }
    })();
    return done_epochMs === undefined ? said : `${said}, ${words.later.lastDone(date(done_epochMs))}`;
  }

  async function done({ task, subject }: UpkeepItem): Promise<void> {
    const name = words.tasks[task];
    try {
      const kept = await send("/api/upkeep/done", { task, subject: subject.id });
      const said = kept.accepted ? words.due.recorded(name, subject.id) : words.due.notRecorded(kept.reason);
      put(answer, said);
      if (kept.accepted) onDone();
    } catch (error) {
      put(answer, words.due.notRecorded(error instanceof Error ? error.message : String(error)));
      announce(words.due.notRecorded(""));
    }
  }
}
