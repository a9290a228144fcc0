import type { PressurisingKind } from "../../../lib/supply-watch/pressurising-verdict.js";
import type { VesselPicture } from "../page-contract.js";
import { el, type Child } from "./dom.js";
import { writtenSaid } from "./said.js";
import { mark, type MarkName } from "./svg.js";
import type { PageContext } from "./view.js";

const marks: Readonly<Record<PressurisingKind, MarkName>> = {
  "too-early": "unknown",
  "on-plan": "good",
  slow: "care",
  stalled: "care",
  "too-weak": "care",
  "too-strong": "bad",
};
const cards: Readonly<Record<PressurisingKind, string>> = {
  "too-early": "",
  "on-plan": "",
  slow: "alarm-low",
  stalled: "alarm-low",
  "too-weak": "alarm-low",
  "too-strong": "alarm-high",
};

/** How a fresh charge comes on against what was planned; undefined where none does. */
export function chargeComing(
  vessel: VesselPicture,
  now_epochMs: number,
  { texts, formats }: Pick<PageContext, "texts" | "formats">,
): { readonly card: string; readonly children: readonly Child[] } | undefined {
  const verdict = vessel.supply?.told?.pressurising;
  const { restsAt } = vessel;
  if (verdict === undefined || restsAt === undefined || !isTold(vessel, verdict.kind)) return undefined;
  const words = texts.charge.coming;
  const { pressure, percent, time } = formats();
  const { kind, plannedGauge_bar, ready_epochMs, plannedReady_epochMs } = verdict;
  const planned =
    plannedReady_epochMs === undefined
      ? ""
      : `; ${words.plannedReady(time(plannedReady_epochMs, now_epochMs))}`;
  return {
    card: cards[kind],
    children: [
      el("p", { class: "pressurising-verdict" }, mark(marks[kind]), el("strong", {}, words.verdicts[kind])),
      kind === "too-early"
        ? undefined
        : el("p", {}, words.shown(percent(Math.min(1, verdict.shownOfWarm_ratio)))),
      el(
        "p",
        {},
        ready_epochMs === undefined
          ? `${words.notReady.slice(0, -1)}${planned}.`
          : `${words.ready(time(ready_epochMs, now_epochMs))}${planned}.`,
      ),
      el(
        "p",
        {},
        `${words.plateau(
          pressure(restsAt.value_bar),
          pressure(restsAt.low95_bar),
          pressure(restsAt.high95_bar),
          pressure(plannedGauge_bar),
        )}.`,
      ),
      el("p", { class: "aside" }, `${words.evidence}: ${writtenSaid(verdict.said.evidence, formats())}.`),
      el("h3", {}, words.advice),
      el(
        "ul",
        { class: "cautions" },
        [...verdict.said.advice.map((sentence) => writtenSaid(sentence, formats())), ...words.always].map(
          (text) => el("li", {}, text),
        ),
      ),
    ],
  };
}

/** Of a charge that is in use nothing is said but what is odd. */
function isTold({ supply }: VesselPicture, kind: PressurisingKind): boolean {
  return supply?.told?.estimate.phase === "settling" || (kind !== "too-early" && kind !== "on-plan");
}
