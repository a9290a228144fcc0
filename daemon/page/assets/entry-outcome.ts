import type { WriteAnswer } from "../page-contract.js";
import { careLine, sentenceCase } from "./card-parts.js";
import { button, el, put } from "./dom.js";
import { writtenSaid } from "./said.js";
import type { PageContext } from "./view.js";

/** What is sent to the journal: the keys of its entries. */
export type Entry = Readonly<Record<string, unknown>> & { readonly kind: string };

/** Where the answer to an entry is read. Nothing is believed to be kept before the daemon says so. */
export interface EntryOutcome {
  readonly element: HTMLElement;
  /** @returns whether it is on disk */
  readonly send: (entry: Entry) => Promise<boolean>;
  readonly clear: () => void;
}

/** @param onKept with what is worth knowing of an entry that was taken */
export function entryOutcome(
  context: PageContext,
  onKept: (answer: string) => void = () => undefined,
): EntryOutcome {
  const words = context.texts.entry;
  const element = el("div", { class: "outcome", role: "status" });
  const clear = (): void => put(element);

  async function send(entry: Entry): Promise<boolean> {
    put(element, el("p", {}, words.sending));
    const answer = await sent(entry);
    if (answer.accepted) {
      const { text: plain, entry: written, said } = answer;
      const { known = false, remarks = [] } = written ?? {};
      const fact = said === undefined ? (written?.fact ?? plain) : writtenSaid(said, context.formats());
      const first = known ? words.known(fact) : words.kept(fact);
      const others = remarks.map(asSentence);
      put(
        element,
        el("p", {}, first),
        others.map((remark) => careLine(remark)),
      );
      onKept([first, ...others].join(" "));
      return true;
    }
    const isUnusual = answer.needsSecondWord === true && entry["sure"] !== true;
    put(
      element,
      el("p", { class: "refusal" }, isUnusual ? words.unusual : words.refused(answer.reason)),
      isUnusual ? el("p", {}, answer.reason) : undefined,
      isUnusual
        ? button(words.sure, () => void send({ ...entry, sure: true }), { class: "main" })
        : undefined,
    );
    return false;
  }

  async function sent(entry: Entry): Promise<WriteAnswer> {
    try {
      return await context.send("/api/journal", entry);
    } catch (error) {
      return { accepted: false, reason: error instanceof Error ? error.message : String(error) };
    }
  }

  return { element, send, clear };
}

/** A remark is written to stand behind another text in a line. */
function asSentence(remark: string): string {
  return `${sentenceCase(remark)}${/[.?]$/u.test(remark) ? "" : "."}`;
}
