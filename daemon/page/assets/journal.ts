import { el } from "./dom.js";
import { upkeepLists } from "./journal-due.js";
import { entryForm } from "./journal-entry-form.js";
import { journalList } from "./journal-list.js";
import type { Mount } from "./view.js";

/** What is due, what was entered and done, and a form for more. */
export const mountJournal: Mount = (root, context) => {
  const list = journalList(context);
  const upkeep = upkeepLists(context, () => void list.load());
  const form = entryForm(context, () => void list.load());
  root.append(el("div", { class: "stack" }, upkeep.element, form.element, list.element));
  return {
    update(site) {
      upkeep.update(site.upkeep);
      form.update(site);
      list.update(site);
    },
    end: () => list.end(),
  };
};
