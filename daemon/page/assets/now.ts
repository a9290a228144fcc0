import type { SitePicture, ValvePicture } from "../page-contract.js";
import { alarmCards, causeText } from "./alarm-cards.js";
import { button, el, put } from "./dom.js";
import { gaugePad } from "./gauge-pad.js";
import { openingQuestion } from "./opening-question.js";
import { keep, patch } from "./patch.js";
import { isUnseen, nextWords, siteVerdict } from "./site-verdict.js";
import { tankCard } from "./tank-card.js";
import { tripCards } from "./trip-cards.js";
import { valveCard, type ValveActions } from "./valve-card.js";
import { vesselCard } from "./vessel-card.js";
import type { Mount, PageContext } from "./view.js";

/** The state of everything at a glance. */
export const mountNow: Mount = (root, context) => {
  const { texts } = context;
  const content = el("div", { class: "now stack" });
  /** What came of what the reader did last. */
  const told = el("div", { class: "told", role: "status" });
  const pad = gaugePad(context, tell);
  const question = openingQuestion(
    context,
    (valveId, until_epochMs) =>
      void act(`${valvePath(valveId)}/open-until`, { until_epochMs }, texts.valve.isWishedOpen(valveId)),
  );
  let site: SitePicture | undefined;
  let announced: ReadonlySet<string> | undefined;
  root.append(content, pad.element, question.element);

  const actions: ValveActions = {
    closeFor: (valveId, for_min) =>
      void act(`${valvePath(valveId)}/close-for`, { for_min }, texts.valve.isWishedClosed(valveId)),
    followSchedule: (valveId) =>
      void act(`${valvePath(valveId)}/close-for`, { for_min: 0 }, texts.valve.followsSchedule(valveId)),
    askToOpen: (valve: ValvePicture) => {
      if (site !== undefined) question.open(valve, site.now_epochMs);
    },
  };

  return {
    update(next) {
      site = next;
      announceNew(next);
      patch(
        content,
        siteVerdict(next, context),
        keep(told),
        tripCards(next, context),
        alarmCards(
          next,
          context,
          (alarm) => void act("/api/alarms/acknowledge", { alarm }, texts.alarms.isSeen),
        ),
        el(
          "div",
          { class: "columns", "data-key": "columns" },
          section(
            "tanks",
            texts.now.tanks,
            next.tanks.map((tank) => tankCard(tank, next, context)),
          ),
          el(
            "div",
            { class: "stack" },
            section(
              "valves",
              texts.now.valves,
              next.valves.map((valve) => valveCard(valve, next, context, actions)),
            ),
            section(
              "vessels",
              texts.now.vessels,
              next.vessels.map((vessel) => vesselCard(vessel, next, context, enterGauge)),
            ),
            nextEvents(next, context),
          ),
        ),
      );
    },
  };

  function enterGauge(vesselId: string): void {
    const vessel = site?.vessels.find((one) => one.vesselId === vesselId);
    if (site !== undefined && vessel !== undefined) pad.open(vessel, site.now_epochMs);
  }

  async function act(path: string, body: unknown, done: string): Promise<void> {
    try {
      const answer = await context.send(path, body);
      tell(answer.accepted ? done : texts.failed(answer.reason));
    } catch (error) {
      tell(texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }

  function tell(text: string): void {
    put(
      told,
      el("p", {}, text),
      button("×", () => put(told), { "aria-label": texts.now.dismiss }),
    );
  }

  /** A reader who does not see the page hears of each new alarm once. */
  function announceNew({ alarms }: SitePicture): void {
    const calling = alarms.filter(isUnseen);
    if (announced !== undefined) {
      const fresh = calling.find(({ id }) => announced?.has(id) === false);
      if (fresh !== undefined) context.announce(texts.alarms.announced(causeText(fresh, context.formats())));
    }
    announced = new Set(calling.map(({ id }) => id));
  }
};

function valvePath(valveId: string): string {
  return `/api/valves/${encodeURIComponent(valveId)}`;
}

function section(name: string, heading: string, cards: readonly HTMLElement[]): HTMLElement | undefined {
  if (cards.length === 0) return undefined;
  return el(
    "section",
    { class: "stack", "data-key": name, "aria-labelledby": `${name}-heading` },
    el("h2", { id: `${name}-heading` }, heading),
    el("div", { class: "cards" }, cards),
  );
}

function nextEvents(
  { next, now_epochMs }: SitePicture,
  { texts, formats }: PageContext,
): HTMLElement | undefined {
  if (next.length === 0) return undefined;
  return el(
    "section",
    { class: "stack", "data-key": "next", "aria-labelledby": "next-heading" },
    el("h2", { id: "next-heading" }, texts.now.next),
    el(
      "ul",
      { class: "card coming" },
      next.map((event) =>
        el(
          "li",
          { "data-key": `${event.kind} ${event.subjectId}` },
          el("b", {}, formats().time(event.at_epochMs, now_epochMs)),
          " ",
          nextWords(event, texts),
        ),
      ),
    ),
  );
}
