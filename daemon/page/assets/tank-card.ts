import type { SitePicture, TankPicture } from "../page-contract.js";
import { ageOf, careLine, colourName, facts, readingText, sentenceCase, stateLine } from "./card-parts.js";
import { co2Scale } from "./co2-scale.js";
import { el } from "./dom.js";
import type { Formats } from "./formats.js";
import { writtenText } from "./said.js";
import { mark, type MarkName } from "./svg.js";
import type { PageContext } from "./view.js";

/** One tank at a glance: CO2 first. */
export function tankCard(
  tank: TankPicture,
  site: SitePicture,
  context: PageContext,
  heading: "h2" | "h3" = "h3",
): HTMLElement {
  const { texts, formats } = context;
  const words = texts.now;
  const { co2, dropChecker, direction } = tank;
  const { now_epochMs } = site;
  const written = formats();
  const [look, sentence] = tankState(tank, site, context);
  return el(
    "article",
    { "data-key": tank.tankId, class: "card", "aria-label": words.tank(tank.tankId) },
    el(
      "div",
      { class: "card-head" },
      el(heading, {}, el("a", { href: `#tank/${encodeURIComponent(tank.tankId)}` }, tank.tankId)),
      el(
        "p",
        { class: "quiet" },
        tank.co2At_epochMs === undefined
          ? ""
          : words.measured(ageOf(tank.co2At_epochMs, now_epochMs, context)),
      ),
    ),
    stateLine(look, sentence),
    el(
      "p",
      { class: "figure" },
      co2 === undefined
        ? el("span", { class: "figure-none" }, words.co2NotKnown)
        : [el("b", {}, written.co2Figure(co2.co2_mgPerL)), el("span", {}, words.co2Unit)],
      direction === undefined || co2 === undefined
        ? undefined
        : el("span", { class: "trend" }, mark(direction), words.directions[direction]),
    ),
    el(
      "p",
      { class: "quiet" },
      co2 === undefined
        ? (silenceText(tank, context) ?? "\u00a0")
        : words.range(written.co2Figure(co2.co2Low80_mgPerL), written.co2(co2.co2High80_mgPerL)),
    ),
    co2Scale(tank, texts, written),
    facts([
      [texts.tank.pH, readingText(tank.pHReading, written.pH, now_epochMs, context)],
      [
        texts.tank.temperature,
        readingText(tank.temperatureReading, written.temperature, now_epochMs, context),
      ],
      dropChecker === undefined
        ? undefined
        : [
            words.dropChecker,
            dropChecker.expected === undefined
              ? texts.unknown
              : [colourName(dropChecker.expected.swatch.hex, texts.colours[dropChecker.expected.colour])],
          ],
    ]),
    cautionsOf(tank, written).map(careLine),
  );
}

/** What is said of the animals and of the methods; everything else is in the tank's own view. */
function cautionsOf(
  { cautions, bandReasons, agreement, fault }: TankPicture,
  written: Formats,
): readonly string[] {
  return [
    ...(fault === undefined ? [] : [sentenceCase(fault)]),
    ...bandReasons,
    ...cautions.map((caution) => writtenText(caution, written)),
    ...(agreement?.kind === "methods disagree" ? [agreement.advice.whatToDo] : []),
  ];
}

export function tankState(
  tank: TankPicture,
  { valves, now_epochMs }: SitePicture,
  { texts }: PageContext,
): readonly [MarkName, string] {
  const words = texts.now.tankStates;
  const isLit = tank.lights.some(
    ({ opens_epochMs, closes_epochMs }) => opens_epochMs <= now_epochMs && now_epochMs < closes_epochMs,
  );
  const hasGas = valves.some(({ tankIds, reported }) => reported === "open" && tankIds.includes(tank.tankId));
  switch (tank.band) {
    case "not known":
      return ["unknown", words.unknown];
    case "below target":
      if (hasGas) return ["good", isLit ? words.lowWithGas : words.lowBeforeLight];
      return isLit ? ["care", words.lowInLight] : ["good", words.lowInDark];
    case "in target":
      return ["good", words.wanted];
    case "caution":
      return ["care", words.above];
    case "alarm":
      return ["bad", words.tooMuch];
    case "close":
      return ["bad", words.farTooMuch];
  }
}

function silenceText(
  { learnt, pHReading }: TankPicture,
  { texts, formats }: PageContext,
): string | undefined {
  const bridged = learnt?.inSilence;
  if (bridged?.kind === "by balance") {
    const { co2Figure, co2 } = formats();
    return texts.now.bridged(
      co2(bridged.co2_mgPerL),
      co2Figure(bridged.co2Low80_mgPerL),
      co2(bridged.co2High80_mgPerL),
    );
  }
  if (bridged !== undefined) return sentenceCase(`${bridged.because}.`);
  return pHReading === undefined ? texts.now.noPh : undefined;
}
