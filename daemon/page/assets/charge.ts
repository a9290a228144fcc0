import type { SitePicture, VesselPicture } from "../page-contract.js";
import { chargeChart, type ChargeChart } from "./charge-chart.js";
import { chargeComing } from "./charge-coming.js";
import { chargeLeft } from "./charge-left.js";
import { chargesSoFar } from "./charge-past.js";
import { button, el, put } from "./dom.js";
import { gaugePad } from "./gauge-pad.js";
import { patch } from "./patch.js";
import { vesselChooser, type VesselDesk } from "./vessel-chooser.js";
import type { Mount, PageContext } from "./view.js";

/** The charge in each vessel, and those before it. */
export const mountCharge: Mount = (root, context) => {
  const { texts } = context;
  const words = texts.charge;
  const past = chargesSoFar(context);
  let chosenId: string | undefined;
  const chooser = vesselChooser(
    words,
    { read: () => chosenId, change: (vesselId) => (chosenId = vesselId) },
    (content, vesselId) => createDesk(content, vesselId, context),
  );
  root.append(...chooser.elements, past.element);
  return {
    update(site) {
      chooser.update(site.vessels, site);
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
    end: chooser.end,
  };
};

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
  const said = el("p", { role: "status" });
  const pad = gaugePad(context, (text) => put(said, text));
  let shown: { readonly vessel: VesselPicture; readonly site: SitePicture } | undefined;
  const { enterGauge, enterGaugeOf } = context.texts.now;
  const enter = button(
    enterGauge,
    () => {
      if (shown !== undefined) pad.open(shown.vessel, shown.site.now_epochMs);
    },
    { "aria-label": enterGaugeOf(vesselId) },
  );
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
        el("div", { class: "actions" }, enter),
        said,
      ),
      comingCard,
    ),
    chart.element,
    pad.element,
  );
  return {
    update(vessel, site) {
      shown = { vessel, site };
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
