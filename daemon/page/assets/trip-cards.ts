import type { SitePicture } from "../page-contract.js";
import { ageOf, sentenceCase } from "./card-parts.js";
import { el } from "./dom.js";
import { mark } from "./svg.js";
import type { PageContext } from "./view.js";

/** Safety closings that latch. The page can tell of them and nothing more: they are re-armed by a person at the machine. */
export function tripCards(
  { trips, now_epochMs }: SitePicture,
  context: PageContext,
): HTMLElement | undefined {
  const words = context.texts.trips;
  if (trips.length === 0) return undefined;
  return el(
    "section",
    { "data-key": "trips", class: "stack", "aria-labelledby": "trips-heading" },
    el("h2", { id: "trips-heading" }, words.heading),
    trips.map(({ subject, cause, reason, at_epochMs, whatToDo }) =>
      el(
        "article",
        { "data-key": `${subject.kind} ${subject.id} ${cause}`, class: "card alarm alarm-critical" },
        el("p", { class: "alarm-kind" }, mark("bad"), el("span", {}, words.kind)),
        el("h3", {}, words.shut(words.subjects[subject.kind], subject.id)),
        el("p", {}, `${sentenceCase(reason)} (${ageOf(at_epochMs, now_epochMs, context)}).`),
        el("p", { class: "alarm-do" }, whatToDo),
        el("p", {}, words.rearm, " ", el("code", {}, `fizzward rearm ${subject.kind} ${subject.id}`)),
      ),
    ),
  );
}
