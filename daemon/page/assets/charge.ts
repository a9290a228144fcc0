import type { SitePicture, VesselPicture } from "../page-contract.js";
import { chargeChart, type ChargeChart } from "./charge-chart.js";
import { chargeComing } from "./charge-coming.js";
import { chargeLeft } from "./charge-left.js";
import { chargesSoFar } from "./charge-past.js";
import { el, put } from "./dom.js";
import { listField } from "./fields.js";
import { gaugeForm } from "./gauge-form.js";
import { patch } from "./patch.js";
import type { Mount, PageContext } from "./view.js";

/** The charge in each vessel, and those before it. */
export const mountCharge: Mount = (root, context) => {
  const { texts } = context;
  const words = texts.charge;
  const chooser = el("div");
  const content = el("div", { class: "stack" });
  const past = chargesSoFar(context);
  root.append(chooser, content, past.element);
  let chosenId: string | undefined;
  let known = "";
  let desk: VesselDesk | undefined;
  return {
    update(site) {
      const ids = site.vessels.map(({ vesselId }) => vesselId);
      const chosen = site.vessels.find(({ vesselId }) => vesselId === chosenId) ?? site.vessels[0];
      const essence = JSON.stringify([ids, chosen?.vesselId]);
      if (essence !== known) {
        known = essence;
        desk?.end();
        desk = undefined;
        put(
          chooser,
          ids.length < 2
            ? undefined
            : listField(
                words.vessel,
                ids.map((id) => [id, id] as const),
                chosen?.vesselId,
                (vesselId) => {
                  chosenId = vesselId;
                  this.update(site);
                },
              ),
        );
        if (chosen === undefined) put(content, el("p", {}, words.noVessel));
        else desk = createDesk(content, chosen.vesselId, context);
      }
      if (chosen !== undefined) desk?.update(chosen, site);
      past.update(
        JSON.stringify(
          site.vessels.map(({ supply, endedCharge }) => [
            supply?.charge?.closedAt_epochMs,
            endedCharge?.chargeId,
          ]),
        ),
        site.site.siteId,
      );
    },
    end: () => desk?.end(),
  };
};

interface VesselDesk {
  readonly update: (vessel: VesselPicture, site: SitePicture) => void;
  readonly end: () => void;
}

function createDesk(content: HTMLElement, vesselId: string, context: PageContext): VesselDesk {
  const words = context.texts.charge;
  const left = el("div");
  const coming = el("div");
  const comingCard = el(
    "section",
    { class: "card", "aria-label": words.coming.heading },
    el("h2", {}, words.coming.heading),
    coming,
  );
  const chart: ChargeChart = chargeChart(context, vesselId);
  put(
    content,
    el(
      "div",
      { class: "charge-columns" },
      el(
        "section",
        { class: "card", "aria-label": words.left.heading },
        el("h2", {}, words.left.heading),
        left,
      ),
      comingCard,
    ),
    chart.element,
    gaugeForm(context, vesselId),
  );
  return {
    update(vessel, site) {
      patch(left, chargeLeft(vessel, site, context));
      const comes = chargeComing(vessel, site.now_epochMs, context);
      comingCard.hidden = comes === undefined;
      if (comes !== undefined) {
        comingCard.className = `card ${comes.card}`.trimEnd();
        patch(coming, comes.children);
      }
      chart.update(vessel, site.now_epochMs);
    },
    end: () => chart.end(),
  };
}
