import type { SitePicture } from "../page-contract.js";
import { el } from "./dom.js";
import { keep, patch } from "./patch.js";
import { tankCard } from "./tank-card.js";
import { tankCharts } from "./tank-charts.js";
import { daySection } from "./tank-day.js";
import { tankEntries } from "./tank-entries.js";
import { learntSection, probeSection } from "./tank-learnt.js";
import type { Mount, PageContext } from "./view.js";

/** CO2, pH and temperature of one tank over time, what its nights have taught, and what is entered about it. */
export const mountTank: Mount = (root, context) => {
  const content = el("div", { class: "now stack" });
  let site: SitePicture | undefined;
  let shown: ReturnType<typeof partsOf> | undefined;
  root.append(content);
  const onHash = (): void => {
    if (site !== undefined) update(site);
  };
  addEventListener("hashchange", onHash);
  return {
    update,
    end() {
      removeEventListener("hashchange", onHash);
      shown?.end();
    },
  };

  function update(next: SitePicture): void {
    site = next;
    const asked = decodeURIComponent(location.hash.split("/")[1] ?? "");
    const tank = next.tanks.find(({ tankId }) => tankId === asked) ?? next.tanks[0];
    if (tank === undefined) {
      patch(content, el("p", {}, context.texts.tank.noTank));
      return;
    }
    if (shown?.tankId !== tank.tankId) {
      shown?.end();
      shown = partsOf(tank.tankId, context);
    }
    shown.update(next);
    patch(
      content,
      next.tanks.length < 2
        ? undefined
        : el(
            "nav",
            { class: "tank-choice", "data-key": "choice", "aria-label": context.texts.tank.which },
            next.tanks.map(({ tankId }) =>
              el(
                "a",
                {
                  href: `#tank/${encodeURIComponent(tankId)}`,
                  "aria-current": tankId === tank.tankId ? "true" : undefined,
                },
                tankId,
              ),
            ),
          ),
      el(
        "div",
        { class: "columns", "data-key": tank.tankId },
        el("div", { class: "stack" }, tankCard(tank, next, context, "h2"), keep(shown.charts)),
        el(
          "div",
          { class: "stack" },
          daySection(tank, next, context),
          keep(shown.entries),
          learntSection(tank, context),
          probeSection(tank, next.now_epochMs, context),
        ),
      ),
    );
  }
};

function partsOf(tankId: string, context: PageContext) {
  const charts = tankCharts(tankId, context);
  const entries = tankEntries(tankId, context);
  return {
    tankId,
    charts: charts.element,
    entries: entries.element,
    update(site: SitePicture): void {
      charts.update(site);
      entries.update(site);
    },
    end: () => charts.end(),
  };
}
