import type { SitePicture } from "../page-contract.js";
import { mountCharge } from "./charge.js";
import { askDaemon, askPlan, askSession, sendToDaemon } from "./daemon-answers.js";
import { el, put } from "./dom.js";
import { createFormats, type Formats } from "./formats.js";
import { mountJournal } from "./journal.js";
import { followSite, type Liveness } from "./live.js";
import { loginForm } from "./login-form.js";
import { mountNow } from "./now.js";
import { mountPlan } from "./plan.js";
import { loadSettings, saveSettings, showTheme, type Settings } from "./settings.js";
import { settingsForm } from "./settings-form.js";
import { mountTank } from "./tank.js";
import { texts } from "./texts.en.js";
import type { Mount, PageContext, View } from "./view.js";

const mounts = {
  now: mountNow,
  charge: mountCharge,
  plan: mountPlan,
  tank: mountTank,
  journal: mountJournal,
} as const satisfies Readonly<Record<keyof typeof texts.views, Mount>>;
type ViewName = keyof typeof mounts;
const viewNames = Object.keys(mounts) as readonly ViewName[];

let settings: Settings = loadSettings();
let site: SitePicture | undefined;
let formats: Formats = formatsFor(undefined);
let isLoggedIn = false;
let isFollowing = false;
let shown: { readonly name: ViewName; readonly view: View } | undefined;

const announcer = el("div", { class: "unseen", role: "status" });
const liveLine = el("p", { class: "live" }, texts.live.connecting);
const links = new Map(
  viewNames.map((name) => [name, el("a", { href: `#${name}` }, texts.links[name])] as const),
);
const heading = el("h1", { tabindex: "-1" });
const root = el("div", { class: "view" });
const main = el("main", { id: "content" }, heading, root);
const footerLine = el("p");

const context: PageContext = {
  texts,
  formats: () => formats,
  ask: askDaemon,
  send: sendToDaemon,
  plan: askPlan,
  announce: (text) => put(announcer, text),
};

showTheme(settings.theme);
const skip = el("a", { class: "skip", href: "#content" }, texts.skip);
skip.addEventListener("click", (event) => {
  event.preventDefault();
  heading.focus();
});
document.body.append(
  skip,
  el(
    "header",
    {},
    el("p", { class: "brand" }, texts.appName),
    el(
      "nav",
      { "aria-label": texts.navigation },
      el(
        "ul",
        {},
        [...links.values()].map((link) => el("li", {}, link)),
      ),
    ),
    liveLine,
  ),
  main,
  el(
    "footer",
    {},
    settingsForm(texts, settings, (chosen) => {
      settings = chosen;
      saveSettings(settings);
      showTheme(settings.theme);
      formats = formatsFor(site);
      refresh();
    }),
    footerLine,
  ),
  announcer,
);
addEventListener("hashchange", () => {
  if (isLoggedIn) show(namedView(), true);
});
begin().catch(() => {
  // The daemon is gone just now: the page says so, and asks again when it hears of it.
  goOn();
});

/** The views, or the form for the token first. */
async function begin(): Promise<void> {
  const { isLoggedIn: isKnown } = await askSession();
  if (isKnown) goOn();
  else askForToken();
}

function goOn(): void {
  isLoggedIn = true;
  show(namedView(), false);
  if (isFollowing) return;
  isFollowing = true;
  followSite({
    onSite(told) {
      site = told;
      formats = formatsFor(told);
      refresh();
    },
    onLiveness: tellLiveness,
    onRefused: () => void begin().catch(() => undefined),
  });
}

function askForToken(): void {
  if (!isLoggedIn && shown === undefined && root.firstChild !== null) return;
  isLoggedIn = false;
  shown?.view.end?.();
  shown = undefined;
  put(heading, texts.login.heading);
  document.title = `${texts.login.heading}, ${texts.appName}`;
  put(
    root,
    loginForm(texts, () => void begin().catch(() => undefined)),
  );
}

/** What follows a slash is for the view itself: which tank, which vessel. */
function namedView(): ViewName {
  const [named] = location.hash.slice(1).split("/");
  return viewNames.find((name) => name === named) ?? "now";
}

/** @param moveFocus so that a reader goes on at the heading of what was asked for */
function show(name: ViewName, moveFocus: boolean): void {
  if (shown?.name === name) return;
  shown?.view.end?.();
  put(heading, texts.views[name]);
  document.body.dataset["view"] = name;
  document.title = `${texts.views[name]}, ${texts.appName}`;
  for (const [other, link] of links) {
    if (other === name) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  put(root);
  shown = { name, view: mounts[name](root, context) };
  refresh();
  if (moveFocus) heading.focus();
}

function refresh(): void {
  if (site === undefined) return;
  shown?.view.update(site);
  put(footerLine, texts.footer(site.site.siteId, site.site.timeZone, site.site.version));
}

function tellLiveness(liveness: Liveness): void {
  const isStale = liveness.kind === "silent" || liveness.kind === "no pass";
  document.documentElement.classList.toggle("is-stale", isStale);
  const wasStale = liveLine.classList.contains("stale");
  liveLine.classList.toggle("stale", isStale);
  const words = {
    connecting: () => texts.live.connecting,
    live: () => texts.live.live,
    silent: (heard_epochMs: number) => texts.live.staleSince(new Date(heard_epochMs).toLocaleTimeString()),
    "no pass": () => texts.live.passLate,
  };
  const said = words[liveness.kind](liveness.kind === "silent" ? liveness.heard_epochMs : 0);
  put(liveLine, said);
  if (isStale) context.announce(said);
  else if (wasStale) context.announce(texts.live.back);
}

function formatsFor(told: SitePicture | undefined): Formats {
  return createFormats({
    locale: undefined,
    timeZone: told?.site.timeZone ?? Intl.DateTimeFormat().resolvedOptions().timeZone,
    units: settings.units,
    clock: settings.clock,
  });
}
