import { el, put } from "./dom.js";
import type { Mount } from "./view.js";

/** CO2, pH and temperature of each tank, and what its nights have taught. */
export const mountTank: Mount = (root, { texts, formats }) => {
  const content = el("div", { class: "stack" });
  root.append(content);
  return {
    update({ tanks }) {
      const { pH, temperature, number } = formats();
      const row = (name: string, value: string | undefined): HTMLElement =>
        el("p", {}, `${name}: ${value ?? texts.unknown}`);
      put(
        content,
        tanks.length === 0 ? el("p", {}, texts.tank.noTank) : undefined,
        tanks.map((tank) =>
          el(
            "section",
            { class: "card", "aria-label": tank.tankId },
            el("h2", {}, tank.tankId),
            row(texts.tank.pH, tank.pHReading === undefined ? undefined : pH(tank.pHReading.value)),
            row(
              texts.tank.temperature,
              tank.temperatureReading === undefined ? undefined : temperature(tank.temperatureReading.value),
            ),
            row(texts.tank.hardness, `${number(tank.hardness.kh_dKH, 1)} dKH`),
          ),
        ),
      );
    },
  };
};
