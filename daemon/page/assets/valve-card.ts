import type { SitePicture, ValvePicture } from "../page-contract.js";
import { sentenceCase, stateLine } from "./card-parts.js";
import { button, el } from "./dom.js";
import type { MarkName } from "./svg.js";
import type { PageContext } from "./view.js";

export interface ValveActions {
  readonly closeFor: (valveId: string, for_min: number) => void;
  readonly followSchedule: (valveId: string) => void;
  /** Opening asks first. */
  readonly askToOpen: (valve: ValvePicture) => void;
}

/** Long enough for a look at the tank, and until the next day. */
const closings_min = [60, 720];

/** Whether gas flows, why, and what changes that next. */
export function valveCard(
  valve: ValvePicture,
  site: SitePicture,
  context: PageContext,
  actions: ValveActions,
): HTMLElement {
  const { texts, formats } = context;
  const words = texts.valve;
  const { valveId, decision, tankIds } = valve;
  const [look, sentence] = stateOf(valve, context);
  const isTripped = decision.blocks.some(({ rule }) => rule === "tripped");
  return el(
    "article",
    { "data-key": valveId, class: "card", "aria-label": words.valve(valveId) },
    el(
      "div",
      { class: "card-head" },
      el("h3", {}, valveId),
      el("p", { class: "quiet" }, words.feeds(tankIds.join(", "))),
    ),
    stateLine(look, sentence),
    el("p", {}, whyText(valve, context)),
    el("p", { class: "quiet" }, nextText(valve, site, context)),
    decision.blocks.length < 2
      ? undefined
      : el(
          "details",
          {},
          el("summary", {}, words.allBlocks(decision.blocks.length)),
          el(
            "ul",
            {},
            decision.blocks.map(({ reason }) => el("li", {}, sentenceCase(reason))),
          ),
        ),
    el(
      "div",
      { class: "actions" },
      closings_min.map((for_min) =>
        button(words.closeFor(formats().span(for_min * 60_000)), () => actions.closeFor(valveId, for_min), {
          "data-key": `close ${for_min}`,
          "aria-label": words.closeOf(valveId, formats().span(for_min * 60_000)),
        }),
      ),
      valve.override === undefined
        ? undefined
        : button(words.follow, () => actions.followSchedule(valveId), {
            "data-key": "follow",
            "aria-label": words.followOf(valveId),
          }),
      // After a trip nothing from afar opens; outside its window neither.
      isTripped || valve.window.kind !== "open"
        ? undefined
        : button(words.open, () => actions.askToOpen(valve), {
            "data-key": "open",
            "aria-label": words.openOf(valveId),
          }),
    ),
  );
}

function stateOf({ reported, decision }: ValvePicture, { texts }: PageContext): readonly [MarkName, string] {
  const words = texts.valve;
  if (reported === "unknown") return ["unknown", words.unknown];
  if (reported === "open") return decision.action === "open" ? ["good", words.on] : ["bad", words.notObeying];
  return ["steady", decision.action === "closed" ? words.off : words.opening];
}

function whyText({ decision }: ValvePicture, { texts }: PageContext): string {
  const [block] = decision.blocks;
  if (decision.wish.action === "open" && block !== undefined) return sentenceCase(block.reason);
  const known: Readonly<Record<string, string>> = texts.valve.wishes;
  return known[decision.wish.reason] ?? sentenceCase(decision.reason);
}

function nextText(
  { decision, override, window, reported }: ValvePicture,
  { now_epochMs }: SitePicture,
  { texts, formats }: PageContext,
): string {
  const words = texts.valve;
  const time = (at_epochMs: number): string => formats().time(at_epochMs, now_epochMs);
  if (decision.blocks.some(({ rule }) => rule === "tripped")) return words.afterRearming;
  if (decision.blocks.length > 0) return words.afterBlocks;
  if (override?.action === "closed") return words.afterOverride(time(override.until_epochMs));
  if (window.kind === "open") {
    return reported === "open" || decision.action === "open" ? words.closes(time(window.closes_epochMs)) : "";
  }
  if (override !== undefined) return words.closes(time(override.until_epochMs));
  return window.opens_epochMs === undefined ? words.noWindow : words.opens(time(window.opens_epochMs));
}
