import type { ClockForm, UnitSystem } from "./formats.js";

export const themes = ["auto", "light", "dark", "dim"] as const;
export type Theme = (typeof themes)[number];

/** What the reader has chosen for this browser. */
export interface Settings {
  readonly units: UnitSystem;
  readonly theme: Theme;
  readonly clock: ClockForm;
}

const key = "fizzward-display";
/** Regions that buy gas by the psi. Common practice, no source. */
const imperialRegions = ["US", "LR", "MM"];

export function loadSettings(): Settings {
  const region = new Intl.Locale(navigator.language).region ?? "";
  const usual: Settings = {
    units: imperialRegions.includes(region) ? "imperial" : "metric",
    theme: "auto",
    clock: "auto",
  };
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(key) ?? "{}");
    const read = (name: keyof Settings): unknown =>
      typeof kept === "object" && kept !== null
        ? (kept as Readonly<Record<string, unknown>>)[name]
        : undefined;
    const units = read("units");
    const theme = read("theme");
    const clock = read("clock");
    return {
      units: units === "metric" || units === "imperial" ? units : usual.units,
      theme: themes.find((known) => known === theme) ?? usual.theme,
      clock: clock === "h12" || clock === "h23" ? clock : usual.clock,
    };
  } catch {
    // A browser that keeps nothing, or something else in its place.
    return usual;
  }
}

export function saveSettings(settings: Settings): void {
  try {
    localStorage.setItem(key, JSON.stringify(settings));
  } catch {
    // It then holds for this visit.
  }
}

const darkDevice = matchMedia("(prefers-color-scheme: dark)");
let shownTheme: Theme = "auto";
darkDevice.addEventListener("change", () => showTheme(shownTheme));
// Paper is light, whatever the screen is.
addEventListener("beforeprint", () => (document.documentElement.dataset["theme"] = "light"));
addEventListener("afterprint", () => showTheme(shownTheme));

/** The style sheet knows the themes by this attribute alone, so that each one's colours stand in one place. */
export function showTheme(theme: Theme): void {
  shownTheme = theme;
  document.documentElement.dataset["theme"] =
    theme !== "auto" ? theme : darkDevice.matches ? "dark" : "light";
}
