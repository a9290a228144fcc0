import { subjectOf } from "../../../lib/journal/journal-entry.js";
import type { JournalPicture, SitePicture } from "../page-contract.js";
import { button, el, labelled, put } from "./dom.js";
import { writtenSaid } from "./said.js";
import type { PageContext } from "./view.js";

type Entry = JournalPicture["entries"][number];

export interface JournalList {
  readonly element: HTMLElement;
  readonly update: (site: SitePicture) => void;
  /** Something was written down. */
  readonly load: () => Promise<void>;
}

const readEvery_ms = 30_000;
const step = 100;

/** What was written down, by day, newest first. Withdrawn entries stay and say so. */
export function journalList(context: PageContext): JournalList & { readonly end: () => void } {
  const { texts, formats, ask } = context;
  const words = texts.journal.list;
  const list = el("div", { class: "stack" });
  const filter = el("select");
  const more = button(words.more, () => {
    newest += step;
    void load();
  });
  more.hidden = true;
  let newest = step;
  let entries: readonly Entry[] | undefined;
  let subjects = "";
  let shown = "";
  const timer = setInterval(() => {
    if (document.visibilityState === "visible") void load();
  }, readEvery_ms);
  filter.addEventListener("change", () => show());
  void load();
  return {
    element: el(
      "section",
      { class: "card", "aria-label": words.heading },
      el("h2", {}, words.heading),
      labelled(words.filter, filter),
      list,
      more,
    ),
    update({ vessels, valves, tanks }) {
      const ids = [
        ...tanks.map(({ tankId }) => tankId),
        ...vessels.map(({ vesselId }) => vesselId),
        ...valves.map(({ valveId }) => valveId),
      ];
      const key = ids.join(" ");
      if (key !== subjects) {
        subjects = key;
        const chosen = filter.value;
        put(
          filter,
          el("option", { value: "" }, words.all),
          ids.map((id) => el("option", { value: id, selected: id === chosen }, id)),
        );
      }
      show();
    },
    load,
    end: () => clearInterval(timer),
  };

  async function load(): Promise<void> {
    try {
      ({ entries } = await ask<JournalPicture>(`/api/journal?newest=${newest}`));
      more.hidden = entries.length < newest;
      show();
    } catch (error) {
      put(list, words.failed(error instanceof Error ? error.message : String(error)));
      shown = "";
    }
  }

  function show(): void {
    if (entries === undefined) return;
    const only = filter.value;
    const { date, dateAndTime } = formats();
    const essence = JSON.stringify([
      only,
      dateAndTime(0),
      formats().pressureUnit,
      entries.map(({ entryId, withdrawn }) => [entryId, withdrawn]),
    ]);
    if (essence === shown) return;
    shown = essence;
    const kept = entries.filter(({ fact }) => only === "" || subjectOf(fact).id === only);
    const days = new Map<string, Entry[]>();
    for (const entry of kept) {
      const day = date(entry.at_epochMs);
      days.set(day, [...(days.get(day) ?? []), entry]);
    }
    put(
      list,
      kept.length === 0 ? el("p", {}, only === "" ? words.none : words.noneOf) : undefined,
      [...days].map(([day, ofDay]) =>
        el(
          "section",
          { "aria-label": day },
          el("h3", {}, day),
          el("ul", { class: "plain entries" }, ofDay.map(entryLine)),
        ),
      ),
    );
  }

  function entryLine({
    at_epochMs,
    fact,
    said,
    note,
    source,
    withdrawn,
    withdrawnAt_epochMs,
  }: Entry): HTMLElement {
    const { timeOfDay, dateAndTime } = formats();
    const text = writtenSaid(said, formats());
    return el(
      "li",
      { class: withdrawn ? "withdrawn" : "" },
      el("span", { class: "entry-time" }, timeOfDay(at_epochMs)),
      el(
        "div",
        {},
        el("strong", {}, subjectOf(fact).id),
        " ",
        withdrawn ? el("s", {}, text) : text,
        note === "" ? undefined : el("q", {}, note),
        source === "remote" ? el("span", { class: "range" }, words.remote) : undefined,
        withdrawn
          ? el(
              "span",
              { class: "range" },
              withdrawnAt_epochMs === undefined
                ? words.withdrawnOnly
                : words.withdrawn(dateAndTime(withdrawnAt_epochMs)),
            )
          : undefined,
      ),
    );
  }
}
