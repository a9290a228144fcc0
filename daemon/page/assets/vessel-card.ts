import type { SitePicture, VesselPicture } from "../page-contract.js";
import { ageOf, careLine, facts, readingText, sentenceCase, stateLine } from "./card-parts.js";
import { button, el } from "./dom.js";
import { levelBar } from "./level-bar.js";
import { writtenText } from "./said.js";
import type { MarkName } from "./svg.js";
import type { PageContext } from "./view.js";

/** One vessel at a glance: what is left, until when. */
export function vesselCard(
  vessel: VesselPicture,
  site: SitePicture,
  context: PageContext,
  enterGauge: (vesselId: string) => void,
): HTMLElement {
  const { texts, formats } = context;
  const words = texts.now;
  const { vesselId, supply, left, end } = vessel;
  const { now_epochMs } = site;
  const written = formats();
  const told = supply?.told;
  const [look, sentence, range = ""] = vesselState(vessel, site, context);
  return el(
    "article",
    { "data-key": vesselId, class: "card", "aria-label": words.vessel(vesselId) },
    el(
      "div",
      { class: "card-head" },
      el("h3", {}, el("a", { href: `#charge/${encodeURIComponent(vesselId)}` }, vesselId)),
      el("p", { class: "quiet" }, words.sources[told?.source ?? "nothing yet"]),
    ),
    stateLine(look, sentence),
    range === "" ? undefined : el("p", { class: "quiet" }, range),
    told === undefined || left === undefined
      ? undefined
      : [
          el(
            "p",
            { class: "figure" },
            el("b", {}, written.percent(left.remaining_ratio)),
            el("span", {}, words.leftOf),
          ),
          el(
            "p",
            { class: "quiet" },
            words.leftRange(
              written.mass(told.estimate.remaining.value_g),
              written.mass(told.estimate.remaining.low80_g),
              written.mass(told.estimate.remaining.high80_g),
              written.mass(told.estimate.deliverable.value_g),
            ),
          ),
          levelBar(left, texts, written),
        ],
    facts([
      [
        words.pressure,
        vessel.pressureGauge_bar === undefined && told?.pressureRead_epochMs !== undefined
          ? words.readByEye(ageOf(told.pressureRead_epochMs, now_epochMs, context))
          : readingText(vessel.pressureGauge_bar, written.pressure, now_epochMs, context),
      ],
      supply?.told?.surge === undefined ? undefined : [words.flow, surgeText(vessel, context)],
    ]),
    end?.reason === undefined
      ? undefined
      : careLine(
          sentenceCase(
            writtenText({ text: end.reason, ...(end.said === undefined ? {} : { said: end.said }) }, written),
          ),
        ),
    supply?.failure === undefined ? undefined : careLine(words.supplyFailure(supply.failure)),
    told?.estimate.warnings.map((warning) => careLine(writtenText(warning, written))),
    vessel.leakTest?.isRunning === true ? careLine(words.leakTest) : undefined,
    el(
      "div",
      { class: "actions" },
      button(words.enterGauge, () => enterGauge(vesselId), {
        "aria-label": words.enterGaugeOf(vesselId),
      }),
    ),
  );
}

function vesselState(
  { kind, supply, left, runOut }: VesselPicture,
  { now_epochMs }: SitePicture,
  { texts, formats }: PageContext,
): readonly [look: MarkName, sentence: string, range?: string] {
  const words = texts.now.vesselStates;
  const told = supply?.told;
  if (told === undefined || left === undefined) {
    return ["unknown", kind === "liquid" ? words.liquid : words.unknown];
  }
  const { phase } = told.estimate;
  const date = (at_epochMs: number): string => formats().date(at_epochMs);
  if (phase === "settling") return ["steady", words.settling];
  if (phase === "spent") return ["bad", words.spent];
  const look: MarkName = told.limits.isVeryLow ? "bad" : told.limits.isLow ? "care" : "good";
  if (runOut === undefined) return [look, words.lastsAtLeast(date(told.estimate.runOut.low80_epochMs))];
  const span = formats().span(runOut.median_epochMs - now_epochMs);
  return [
    look,
    words.lastsUntil(date(runOut.median_epochMs), span),
    words.lastsRange(date(runOut.low80_epochMs), date(runOut.high80_epochMs)),
  ];
}

function surgeText({ supply }: VesselPicture, { texts, formats }: PageContext): string {
  const words = texts.now.surge;
  const surge = supply?.told?.surge;
  if (surge === undefined) return texts.unknown;
  const { verdict, outlook } = surge;
  const times = formats().number(outlook.atEnd.value, 1);
  switch (verdict.kind) {
    case "confirmed":
      return words.confirmed(formats().number(verdict.sign.flow_ratio.value, 1));
    case "expected":
      return words.expected(formats().span(verdict.in_days * 86_400_000), times);
    case "none":
      return outlook.verdict === "steady" ? words.steady : words.later(times);
  }
}
