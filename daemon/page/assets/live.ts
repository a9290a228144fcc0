import type { Beat, SitePicture } from "../page-contract.js";

export type Liveness =
  | { readonly kind: "connecting" }
  | { readonly kind: "live" }
  /** Nothing was heard for too long. */
  | { readonly kind: "silent"; readonly heard_epochMs: number }
  /** The daemon answers, but its control passes have stopped. */
  | { readonly kind: "no pass" };

export interface LiveListener {
  readonly onSite: (site: SitePicture) => void;
  readonly onLiveness: (liveness: Liveness) => void;
  /** The daemon refused the connection: perhaps it wants the token. */
  readonly onRefused: () => void;
}

/** The daemon says something at least each five seconds. */
const silentAfter_ms = 12_000;
const lookEvery_ms = 1000;
/** A browser gives up some connections for good; then another is begun. */
const anewAfter_ms = 4000;

/** The site as it changes, until the page is left. Reconnects for ever, and says when it hears nothing. */
export function followSite(listener: LiveListener): void {
  let source = connect();
  let heard_ms = performance.now();
  let begun_ms = heard_ms;
  let heard_epochMs: number | undefined;
  let isPassLate = false;
  let told = "";

  setInterval(look, lookEvery_ms);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") look();
  });

  function connect(): EventSource {
    const opened = new EventSource("/api/changes");
    opened.addEventListener("site", (event) => {
      const site = JSON.parse(String(event.data)) as SitePicture;
      hear(false);
      listener.onSite(site);
    });
    opened.addEventListener("beat", (event) => hear((JSON.parse(String(event.data)) as Beat).isPassLate));
    return opened;
  }

  function hear(late: boolean): void {
    heard_ms = performance.now();
    heard_epochMs = Date.now();
    isPassLate = late;
    look();
  }

  function look(): void {
    const now_ms = performance.now();
    if (source.readyState === EventSource.CLOSED && now_ms - begun_ms > anewAfter_ms) {
      begun_ms = now_ms;
      listener.onRefused();
      source = connect();
    }
    const liveness = judge(now_ms);
    const essence = JSON.stringify(liveness);
    if (essence === told) return;
    told = essence;
    listener.onLiveness(liveness);
  }

  function judge(now_ms: number): Liveness {
    if (now_ms - heard_ms > silentAfter_ms) {
      return { kind: "silent", heard_epochMs: heard_epochMs ?? Date.now() };
    }
    if (heard_epochMs === undefined) return { kind: "connecting" };
    return isPassLate ? { kind: "no pass" } : { kind: "live" };
  }
}
