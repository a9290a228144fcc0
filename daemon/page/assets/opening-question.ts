import type { ValvePicture } from "../page-contract.js";
import { button, el, put } from "./dom.js";
import type { PageContext } from "./view.js";

const minute_ms = 60_000;
const lengths_min = [15, 30, 60];

export interface OpeningQuestion {
  readonly element: HTMLElement;
  readonly open: (valve: ValvePicture, now_epochMs: number) => void;
}

/** Opening gas is asked twice: somebody should be beside the tank. Whether it may open the daemon decides. */
export function openingQuestion(
  context: PageContext,
  wish: (valveId: string, until_epochMs: number) => void,
): OpeningQuestion {
  const words = context.texts.opening;
  const heading = el("h2", { id: "opening-heading" });
  const choices = el("div", { class: "actions" });
  const dialog = el(
    "dialog",
    { "aria-labelledby": "opening-heading" },
    heading,
    el("p", {}, words.caution),
    choices,
    button(words.no, () => dialog.close(), { autofocus: true }),
  );
  return {
    element: dialog,
    open({ valveId, window }, now_epochMs) {
      const closes_epochMs = window.kind === "open" ? window.closes_epochMs : now_epochMs;
      const { time } = context.formats();
      const ends = [
        ...lengths_min.map((length_min) => now_epochMs + length_min * minute_ms),
        closes_epochMs,
      ].filter((end_epochMs) => end_epochMs <= closes_epochMs && end_epochMs > now_epochMs);
      put(heading, words.heading(valveId));
      put(
        choices,
        ends.map((end_epochMs) =>
          button(words.until(time(end_epochMs, now_epochMs)), () => {
            dialog.close();
            wish(valveId, end_epochMs);
          }),
        ),
      );
      dialog.showModal();
    },
  };
}
