import type { TankPicture } from "../page-contract.js";
import { ageOf, careLine, facts, sentenceCase } from "./card-parts.js";
import { el } from "./dom.js";
import type { PageContext } from "./view.js";

/** What the nights and mornings of a tank have taught. */
export function learntSection(
  { learnt }: TankPicture,
  { texts, formats }: PageContext,
): HTMLElement | undefined {
  const words = texts.tank;
  if (learnt === undefined) return undefined;
  const { number, temperature } = formats();
  const { exchange, lead, usedLead_min, configuredLead_min, useLearntLead } = learnt;
  const minutes = (value_min: number): string => formats().span(value_min * 60_000);
  const rate =
    exchange.kind === "estimate"
      ? words.rate(
          number(exchange.k_perH, 2),
          number(exchange.kLow80_perH, 2),
          number(exchange.kHigh80_perH, 2),
          exchange.nights,
          temperature(exchange.temperature_degC),
        )
      : exchange.kind === "bounded"
        ? words.rateAtMost(number(exchange.kAtMost_perH, 2), exchange.nights)
        : words.noRate;
  return el(
    "section",
    { class: "card", "data-key": "learnt", "aria-label": words.learnt },
    el("h2", {}, words.learnt),
    el("p", {}, rate),
    exchange.kind === "estimate" && exchange.change !== undefined
      ? careLine(words.changed[exchange.change.kind](exchange.change.usualCauses))
      : undefined,
    facts([
      [words.leadUsed, minutes(usedLead_min)],
      [
        words.leadOffered,
        lead.kind === "reached"
          ? words.leadRange(
              minutes(lead.lead_min),
              minutes(lead.leadLow80_min),
              typeof lead.leadHigh80_min === "number" ? minutes(lead.leadHigh80_min) : undefined,
            )
          : texts.unknown,
      ],
    ]),
    lead.kind === "out of reach" ? careLine(words.outOfReach(formats().co2(lead.target_mgPerL))) : undefined,
    lead.kind === "not known" ? el("p", { class: "quiet" }, sentenceCase(`${lead.because}.`)) : undefined,
    el(
      "p",
      { class: "quiet" },
      useLearntLead === undefined ? words.leadByConfig(minutes(configuredLead_min)) : words.leadLearns,
    ),
  );
}

/** How far the measuring itself can be trusted, and by what the CO2 is known. */
export function probeSection(
  { probe, methods, remarks, agreement, hardness, widthReason, temperatureIsAssumed }: TankPicture,
  now_epochMs: number,
  context: PageContext,
): HTMLElement {
  const { texts, formats } = context;
  const words = texts.tank;
  const { number, co2, date } = formats();
  const doubts = [
    ...(probe?.remarks ?? []),
    ...remarks,
    ...(widthReason === undefined ? [] : [widthReason]),
    ...(agreement?.kind === "methods disagree" ? [agreement.advice.why, agreement.advice.whatToDo] : []),
    ...(temperatureIsAssumed ? [words.temperatureAssumed] : []),
  ];
  return el(
    "section",
    { class: "card", "data-key": "probe", "aria-label": words.trust },
    el("h2", {}, words.trust),
    [...new Set(doubts)].map((doubt) => careLine(sentenceCase(doubt))),
    facts([
      probe === undefined ? undefined : [words.probe, words.verdicts[probe.verdict]],
      probe === undefined ? undefined : [words.probeDoubt, words.plusMinus(number(probe.phSigma, 2))],
      probe?.calibratedAt_epochMs === undefined
        ? undefined
        : [words.calibrated, ageOf(probe.calibratedAt_epochMs, now_epochMs, context)],
      probe?.calibrationDue_epochMs === undefined
        ? undefined
        : [words.calibrationDue, date(probe.calibrationDue_epochMs)],
      [
        words.hardness,
        `${number(hardness.kh_dKH, 1)} dKH, ${
          hardness.testedAt_epochMs === undefined
            ? words.fromConfig
            : ageOf(hardness.testedAt_epochMs, now_epochMs, context)
        }`,
      ],
      ...methods.map(
        ({ method, co2_mgPerL, weight_ratio }) =>
          [words.methods[method], words.weight(co2(co2_mgPerL), formats().percent(weight_ratio))] as const,
      ),
    ]),
  );
}
