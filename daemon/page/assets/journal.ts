import { el, put } from "./dom.js";
import type { Mount } from "./view.js";

/** What was entered and done, and what is due. */
export const mountJournal: Mount = (root, { texts }) => {
  const content = el("div", { class: "stack" });
  root.append(content);
  return {
    update({ upkeep }) {
      put(
        content,
        el("h2", {}, texts.journal.upkeep),
        upkeep.length === 0 ? el("p", {}, texts.journal.noUpkeep) : undefined,
        el(
          "ul",
          { class: "plain" },
          upkeep.map(({ task, subject, state }) =>
            el("li", {}, `${subject.id}, ${task}: ${texts.journal.states[state.kind]}`),
          ),
        ),
      );
    },
  };
};
