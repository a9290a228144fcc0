import type { PlanAnswer, PlanWish, SitePicture, WriteAnswer } from "../page-contract.js";
import type { Formats } from "./formats.js";
import type { Texts } from "./texts.en.js";

/** What a view may use. */
export interface PageContext {
  readonly texts: Texts;
  /** As chosen now; ask it anew with each update. */
  readonly formats: () => Formats;
  /** JSON from the daemon. @throws DaemonAnswerError with its words where it refuses */
  readonly ask: <Answer>(path: string) => Promise<Answer>;
  /** Has something done by the daemon; a refusal is an answer with its reason. @throws DaemonAnswerError */
  readonly send: (path: string, body: unknown) => Promise<WriteAnswer>;
  /** What a plan would be. @throws DaemonAnswerError */
  readonly plan: (wish: PlanWish) => Promise<PlanAnswer>;
  /** Says something to a reader who does not see it. */
  readonly announce: (text: string) => void;
}

/** A view that is shown. */
export interface View {
  /** With each change of the site, and when the display was chosen anew. */
  readonly update: (site: SitePicture) => void;
  /** It is left: charts and listeners go. */
  readonly end?: () => void;
}

/** Shows a view inside `root`, whose heading stands there already. */
export type Mount = (root: HTMLElement, context: PageContext) => View;
