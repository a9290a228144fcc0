import { el, put } from "./dom.js";
import type { Mount } from "./view.js";

/** What to weigh for the next charge. */
export const mountPlan: Mount = (root, { texts, formats }) => {
  const content = el("div", { class: "stack" });
  root.append(content);
  return {
    update({ vessels, now_epochMs }) {
      put(
        content,
        vessels.map(({ vesselId, supply }) => {
          const next_epochMs = supply?.told?.refill?.usual.next?.begins_epochMs;
          return el(
            "section",
            { class: "card", "aria-label": vesselId },
            el("h2", {}, vesselId),
            next_epochMs === undefined
              ? el("p", {}, texts.unknown)
              : el(
                  "p",
                  {},
                  `${formats().time(next_epochMs, now_epochMs)}: ${texts.now.nextEvents.refill(vesselId)}`,
                ),
            (supply?.told?.refill?.sentences ?? []).map((sentence) => el("p", {}, sentence)),
          );
        }),
      );
    },
  };
};
