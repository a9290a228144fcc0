import type { NextEvent, SitePicture, ValvePicture } from "../page-contract.js";
import { el } from "./dom.js";
import { mark, type MarkName } from "./svg.js";
import type { PageContext } from "./view.js";

/** Alarm states in which it calls, or has called and nobody has seen it. */
const calling = new Set([
  "unacknowledged",
  "acknowledged",
  "latched unacknowledged",
  "latched acknowledged",
  "returned to normal unacknowledged",
]);

export function isCalling({ state }: SitePicture["alarms"][number]): boolean {
  return calling.has(state);
}

/** Whether a person has still to say that they have seen it. */
export function isUnseen({ state }: SitePicture["alarms"][number]): boolean {
  return state.endsWith("unacknowledged");
}

/** The whole in a few words: is anything wrong, is gas on, what is next and when. */
export function siteVerdict(site: SitePicture, context: PageContext): HTMLElement {
  const [look, headline] = judged(site, context);
  return el(
    "section",
    { class: `verdict verdict-${look}`, "aria-label": context.texts.now.verdict },
    mark(look),
    el(
      "div",
      {},
      el("p", { class: "verdict-headline" }, headline),
      el("p", {}, [gasSentence(site, context), nextSentence(site, context)].filter(Boolean).join(" ")),
    ),
  );
}

function judged(site: SitePicture, { texts }: PageContext): readonly [MarkName, string] {
  const words = texts.now;
  const [trip] = site.trips;
  const raised = site.alarms.filter(isCalling);
  const urgent = raised.filter(({ priority }) => priority === "critical" || priority === "high");
  const danger = trip?.stands === true ? words.dangerToPeople[trip.cause] : undefined;
  if (danger !== undefined) return ["bad", danger];
  if (trip !== undefined) return ["bad", words.tripped(trip.subject.id, site.trips.length)];
  const standing = urgent.filter(({ state }) => state !== "returned to normal unacknowledged");
  const unseen = standing.filter(isUnseen);
  if (unseen.length > 0) return ["bad", words.needsYou(unseen.length)];
  if (standing.length > 0) return ["bad", words.standsSeen(standing.length)];
  if (urgent.length > 0) return ["care", words.overUnseen(urgent.length)];
  if (raised.length > 0) return ["care", words.canWait(raised.length)];
  if (site.clock.kind !== "plausible") return ["care", words.clockDoubted];
  const dark = site.tanks.filter(({ co2 }) => co2 === undefined);
  if (dark.length > 0) return ["unknown", words.co2Unknown(dark.map(({ tankId }) => tankId).join(", "))];
  return ["good", words.nothingWrong];
}

function gasSentence({ valves, now_epochMs }: SitePicture, { texts, formats }: PageContext): string {
  const words = texts.now;
  const one = ({ reported, window, override, decision }: ValvePicture): string => {
    const ends_epochMs = override?.until_epochMs;
    if (reported === "unknown") return words.gas.unknown;
    if (reported === "open") {
      const until_epochMs = window.kind === "open" ? window.closes_epochMs : ends_epochMs;
      return until_epochMs === undefined
        ? words.gas.open
        : words.gas.openUntil(formats().time(until_epochMs, now_epochMs));
    }
    const isHeld = decision.blocks.length > 0 || override !== undefined;
    const opens_epochMs = window.kind === "closed" && !isHeld ? window.opens_epochMs : undefined;
    return opens_epochMs === undefined
      ? words.gas.closed
      : words.gas.closedUntil(formats().time(opens_epochMs, now_epochMs));
  };
  const [only] = valves;
  if (only === undefined) return "";
  if (valves.length === 1) return words.gasIs(one(only));
  return valves.map((valve) => words.gasAt(valve.valveId, one(valve))).join(" ");
}

function nextSentence({ next, now_epochMs }: SitePicture, { texts, formats }: PageContext): string {
  // When a valve moves by the clock the sentence before has said.
  const event = next.find(({ kind }) => kind === "refill" || kind === "charge runs out");
  if (event === undefined) return "";
  return texts.now.nextIs(nextWords(event, texts), formats().time(event.at_epochMs, now_epochMs));
}

export function nextWords({ kind, subjectId }: NextEvent, texts: PageContext["texts"]): string {
  return texts.now.nextEvents[kind](subjectId);
}
