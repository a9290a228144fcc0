import { temperatureToCelsius } from "../../../lib/quantities/units.js";
import { bufferNames, degassingMethods, dropCheckerColours } from "../../../lib/journal/journal-entry.js";
import { dropCheckerSwatch } from "../../../lib/tank/drop-checker-colour.js";
import type { SitePicture, TankPicture } from "../page-contract.js";
import { button, el, labelled, put } from "./dom.js";
import { entryOutcome, type Entry } from "./entry-outcome.js";
import type { PageContext } from "./view.js";

/** A pH in the middle of each colour's range, for a patch beside its word. From memory: the dye turns between 6.0 and 7.6. */
const patchPh = { blue: 7.6, "blue-green": 7.1, green: 6.7, "yellow-green": 6.4, yellow: 5.8 } as const;

export interface TankEntries {
  readonly element: HTMLElement;
  readonly update: (site: SitePicture) => void;
}

/** What a person sees and measures at this tank, entered where it is read. The forms stay as they are while the site changes. */
export function tankEntries(tankId: string, context: PageContext): TankEntries {
  const { texts } = context;
  const words = texts.tank;
  let tank: TankPicture | undefined;
  const assumed = el("p", { class: "quiet" });
  return {
    element: el(
      "section",
      { class: "card stack", "aria-label": words.enter },
      el("h2", {}, words.enter),
      dropChecker(),
      folded(words.khTest, khTest),
      folded(words.calibration, calibration),
      folded(words.degassed, degassed),
      folded(words.waterChange, waterChange),
    ),
    update(site) {
      tank = site.tanks.find((one) => one.tankId === tankId);
      const text = tank?.dropChecker?.referenceIsAssumed === true ? words.fluidAssumed : "";
      if (assumed.textContent !== text) put(assumed, text);
    },
  };

  function dropChecker(): HTMLElement {
    const outcome = entryOutcome(context);
    return el(
      "div",
      { role: "group", "aria-label": words.dropCheckerSeen },
      el("h3", {}, words.dropCheckerSeen),
      el(
        "div",
        { class: "actions" },
        dropCheckerColours.map((colour) => {
          const made = button(
            texts.colours[colour],
            () => void outcome.send({ kind: "drop checker", tank: tankId, colour }),
          );
          const swatch = el("span", { class: "swatch", "aria-hidden": "true" });
          swatch.style.backgroundColor = dropCheckerSwatch(patchPh[colour]).hex;
          made.prepend(swatch);
          return made;
        }),
      ),
      assumed,
      outcome.element,
    );
  }

  function folded(heading: string, fill: (form: HTMLFormElement) => () => Entry): HTMLElement {
    const form = el("form", {});
    const entryOf = fill(form);
    const outcome = entryOutcome(context);
    form.append(el("button", { type: "submit", class: "main" }, words.writeDown), outcome.element);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      void outcome.send(entryOf());
    });
    return el("details", {}, el("summary", {}, heading), form);
  }

  function khTest(form: HTMLFormElement): () => Entry {
    const kh = figure();
    form.append(labelled(words.khValue, kh, words.khHint));
    return () => ({ kind: "kh test", tank: tankId, kh_dKH: numberIn(kh) });
  }

  function waterChange(form: HTMLFormElement): () => Entry {
    const amount = figure();
    // The unit belongs to this form as long as it stands.
    const { volumeUnit, typedVolume_L } = context.formats();
    form.append(labelled(words.changedAmount(volumeUnit), amount));
    return () => ({ kind: "water change", tank: tankId, changed_L: typedVolume_L(numberIn(amount)) });
  }

  function degassed(form: HTMLFormElement): () => Entry {
    const pH = figure();
    const how = el(
      "select",
      {},
      degassingMethods.map((one) => el("option", { value: one }, words.how[one])),
    );
    form.append(labelled(words.degassedPh, pH, words.degassedHint), labelled(words.howDegassed, how));
    return () => ({ kind: "degassed pH", tank: tankId, pH: numberIn(pH), how: how.value });
  }

  function calibration(form: HTMLFormElement): () => Entry {
    const rows = (["7.00", "4.01"] as const).map((usual) => {
      const buffer = el(
        "select",
        {},
        bufferNames.map((name) => el("option", { value: name, selected: name === usual }, name)),
      );
      const shown = figure(false);
      form.append(
        el(
          "fieldset",
          {},
          el("legend", {}, usual === "7.00" ? words.firstBuffer : words.secondBuffer),
          labelled(words.buffer, buffer),
          labelled(words.shown, shown),
        ),
      );
      return { buffer, shown };
    });
    const temperature = figure();
    form.append(
      labelled(
        words.bufferTemperature(context.formats().temperatureUnit),
        temperature,
        words.calibrationHint,
      ),
    );
    // The unit belongs to this form as long as it stands.
    const unit = context.formats().temperatureUnit;
    return () => {
      const sensor = tank?.pHReading?.sensorId;
      const given = numberIn(temperature);
      const temperature_degC = unit === "°F" ? temperatureToCelsius(given, "degF") : given;
      const buffers = rows
        .filter(({ shown }) => shown.value.trim() !== "")
        .map(({ buffer, shown }) => ({ buffer: buffer.value, shown: numberIn(shown), temperature_degC }));
      return { kind: "calibration", ...(sensor === undefined ? {} : { sensor }), buffers };
    };
  }
}

function figure(required = true): HTMLInputElement {
  return el("input", {
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    pattern: "[0-9]*[.,]?[0-9]+",
    required,
  });
}

function numberIn({ value }: HTMLInputElement): number {
  return value.trim() === "" ? Number.NaN : Number(value.replace(",", "."));
}
