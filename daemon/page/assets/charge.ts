import { el, put } from "./dom.js";
import type { Mount } from "./view.js";

/** The charge in each vessel, and those before it. */
export const mountCharge: Mount = (root, { texts, formats }) => {
  const content = el("div", { class: "stack" });
  root.append(content);
  return {
    update({ vessels }) {
      const { pressure } = formats();
      put(
        content,
        vessels.length === 0 ? el("p", {}, texts.charge.noVessel) : undefined,
        vessels.map(({ vesselId, supply, pressureGauge_bar }) => {
          const phase = supply?.told?.estimate.phase;
          return el(
            "section",
            { class: "card", "aria-label": vesselId },
            el("h2", {}, vesselId),
            el(
              "p",
              {},
              `${texts.charge.pressure}: ${pressureGauge_bar === undefined ? texts.unknown : pressure(pressureGauge_bar.value)}`,
            ),
            el(
              "p",
              {},
              `${texts.charge.phase}: ${phase === undefined ? texts.unknown : texts.charge.phases[phase]}`,
            ),
          );
        }),
      );
    },
  };
};
