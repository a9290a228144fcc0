import type { SitePicture, TankPicture, VesselPicture } from "../page-contract.js";
import { el, put } from "./dom.js";
import type { Mount, PageContext } from "./view.js";

/** The state of everything at a glance. */
export const mountNow: Mount = (root, context) => {
  const content = el("div", { class: "stack" });
  root.append(content);
  return {
    update(site) {
      put(
        content,
        alarmsOf(site, context),
        tanksOf(site, context),
        vesselsOf(site, context),
        valvesOf(site, context),
        nextOf(site, context),
      );
    },
  };
};

function alarmsOf({ alarms }: SitePicture, { texts }: PageContext): HTMLElement {
  return el(
    "section",
    { "aria-labelledby": "alarms-heading" },
    el("h2", { id: "alarms-heading" }, texts.now.alarms),
    alarms.length === 0
      ? el("p", {}, texts.now.noAlarms)
      : el(
          "ul",
          { class: "plain" },
          alarms.map(({ priority, cause, whatToDo }) =>
            el(
              "li",
              { class: `card alarm-${priority}` },
              el("strong", {}, cause),
              el("p", {}, `${texts.now.whatToDo}: ${whatToDo}`),
            ),
          ),
        ),
  );
}

function tanksOf(site: SitePicture, { texts, formats }: PageContext): HTMLElement {
  const words = texts.now;
  const { co2 } = formats();
  const card = (tank: TankPicture): HTMLElement => {
    const { limits, dropChecker } = tank;
    return el(
      "li",
      { class: "card" },
      el("h3", {}, tank.tankId),
      el(
        "p",
        {},
        `${words.co2}: `,
        tank.co2 === undefined
          ? texts.unknown
          : words.co2Range(
              co2(tank.co2.co2_mgPerL),
              co2(tank.co2.co2Low80_mgPerL),
              co2(tank.co2.co2High80_mgPerL),
            ),
      ),
      el(
        "p",
        {},
        `${words.bands[tank.band] ?? tank.band}, ${words.target(co2(limits.co2TargetLow_mgPerL), co2(limits.co2TargetHigh_mgPerL))}`,
      ),
      dropChecker?.expected === undefined
        ? undefined
        : el(
            "p",
            {},
            swatch(dropChecker.expected.swatch.hex),
            words.dropChecker(dropChecker.expected.colour),
          ),
    );
  };
  return el(
    "section",
    { "aria-labelledby": "tanks-heading" },
    el("h2", { id: "tanks-heading" }, words.tanks),
    el("ul", { class: "plain cards" }, site.tanks.map(card)),
  );
}

function swatch(hex: string): HTMLElement {
  const made = el("span", { class: "swatch", "aria-hidden": "true" });
  made.style.backgroundColor = hex;
  return made;
}

function vesselsOf(site: SitePicture, { texts, formats }: PageContext): HTMLElement {
  const words = texts.now;
  const { mass, pressure, time } = formats();
  const card = ({ vesselId, supply, runOut, pressureGauge_bar }: VesselPicture): HTMLElement => {
    const estimate = supply?.told?.estimate;
    return el(
      "li",
      { class: "card" },
      el("h3", {}, vesselId),
      pressureGauge_bar === undefined ? undefined : el("p", {}, pressure(pressureGauge_bar.value)),
      estimate === undefined
        ? el("p", {}, texts.unknown)
        : [
            el(
              "p",
              {},
              words.left(
                mass(estimate.deliverable.value_g),
                mass(estimate.deliverable.low80_g),
                mass(estimate.deliverable.high80_g),
              ),
            ),
            runOut === undefined
              ? el("p", {}, words.lastsUnknown)
              : el("p", {}, words.lastsUntil(time(runOut.median_epochMs, site.now_epochMs))),
          ],
    );
  };
  return el(
    "section",
    { "aria-labelledby": "vessels-heading" },
    el("h2", { id: "vessels-heading" }, words.vessels),
    el("ul", { class: "plain cards" }, site.vessels.map(card)),
  );
}

function valvesOf({ valves }: SitePicture, { texts }: PageContext): HTMLElement {
  return el(
    "section",
    { "aria-labelledby": "valves-heading" },
    el("h2", { id: "valves-heading" }, texts.now.valves),
    el(
      "ul",
      { class: "plain cards" },
      valves.map(({ valveId, reported, decision }) =>
        el(
          "li",
          { class: "card" },
          el("h3", {}, valveId),
          el("p", {}, `${texts.now.states[reported]}: ${decision.reason}`),
        ),
      ),
    ),
  );
}

function nextOf({ next, now_epochMs }: SitePicture, { texts, formats }: PageContext): HTMLElement {
  return el(
    "section",
    { "aria-labelledby": "next-heading" },
    el("h2", { id: "next-heading" }, texts.now.next),
    el(
      "ul",
      { class: "plain" },
      next.map(({ kind, subjectId, at_epochMs }) =>
        el("li", {}, `${formats().time(at_epochMs, now_epochMs)}: ${texts.now.nextEvents[kind](subjectId)}`),
      ),
    ),
  );
}
