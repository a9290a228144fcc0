import { chargeTexts } from "./charge-texts.en.js";
import { journalTexts } from "./journal-texts.en.js";
import { nowTexts } from "./now-texts.en.js";
import { planTexts } from "./plan-texts.en.js";
import { tankTexts } from "./tank-texts.en.js";

/**
 * Every text of the page, in English. A translation is a file like this one with the same keys. What the daemon says (reasons,
 * causes, what to do) comes from it as it is.
 */
export const texts = {
  appName: "fizzward",
  skip: "Skip to the content",
  navigation: "Views",
  views: {
    now: "Now",
    charge: "Charge",
    plan: "Plan a charge",
    tank: "Tank",
    journal: "Journal and upkeep",
  },
  /** The same, short enough for the thumb. */
  links: { now: "Now", charge: "Charge", plan: "Plan", tank: "Tank", journal: "Journal" },
  live: {
    connecting: "Connecting to the daemon",
    live: "Live",
    stale: "Stale",
    staleSince: (time: string) =>
      `Stale: nothing was heard since ${time}. What is shown may not be so any more.`,
    passLate: "Stale: the daemon answers but makes no control pass.",
    back: "Live again",
  },
  settings: {
    heading: "Display",
    units: "Units",
    metric: "Metric (bar, °C, L)",
    imperial: "Imperial (psi, °F, gal)",
    light: "Brightness",
    themes: { auto: "As the device", light: "Light", dark: "Dark", dim: "Dim red, for the dark" },
    clock: "Time of day",
    clocks: { auto: "As the device", h12: "12 hours", h23: "24 hours" },
  },
  footer: (site: string, zone: string, version: string) => `${site}, time of ${zone}, fizzward ${version}`,
  login: {
    heading: "Enter the token",
    why: "This page is reached from other machines, so it asks for the token in the file that the config names (page.tokenFile).",
    token: "Token",
    enter: "Enter",
  },
  unknown: "not known",
  age: (span: string) => `${span} ago`,
  noData: "The daemon has not told anything yet.",
  failed: (reason: string) => `That did not work: ${reason}`,
  ...nowTexts,
  charge: chargeTexts,
  plan: planTexts,
  tank: tankTexts,
  journal: journalTexts,
} as const;

export type Texts = typeof texts;
