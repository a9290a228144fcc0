import { el, labelled } from "./dom.js";
import { themes, type Settings } from "./settings.js";
import type { Texts } from "./texts.en.js";

/** How the page is shown in this browser. */
export function settingsForm(
  { settings: words }: Texts,
  initial: Settings,
  onChange: (settings: Settings) => void,
): HTMLElement {
  let settings = initial;
  const choice = <Key extends keyof Settings>(
    key: Key,
    name: string,
    options: readonly (readonly [Settings[Key], string])[],
  ): HTMLElement => {
    const select = el(
      "select",
      {},
      options.map(([value, text]) => el("option", { value, selected: settings[key] === value }, text)),
    );
    select.addEventListener("change", () => {
      const chosen = options[select.selectedIndex];
      if (chosen === undefined) return;
      settings = { ...settings, [key]: chosen[0] };
      onChange(settings);
    });
    return labelled(name, select);
  };
  return el(
    "details",
    { class: "settings" },
    el("summary", {}, words.heading),
    choice("units", words.units, [
      ["metric", words.metric],
      ["imperial", words.imperial],
    ]),
    choice(
      "theme",
      words.light,
      themes.map((theme) => [theme, words.themes[theme]] as const),
    ),
    choice("clock", words.clock, [
      ["auto", words.clocks.auto],
      ["h12", words.clocks.h12],
      ["h23", words.clocks.h23],
    ]),
  );
}
