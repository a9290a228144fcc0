import type { PlanAnswer, PlanWish, VesselPicture } from "../page-contract.js";
import { el, put } from "./dom.js";
import { loadDraft, saveDraft, type PlanDraft } from "./plan-draft.js";
import { planForm, type PlanForm } from "./plan-form.js";
import { planRecord, type PlanRecord } from "./plan-record.js";
import { planResult, planSummary } from "./plan-result.js";
import { planSteps, type PlanSteps } from "./plan-steps.js";
import { vesselChooser, type VesselDesk } from "./vessel-chooser.js";
import type { Mount, PageContext } from "./view.js";

/** So long nothing is asked while somebody types. */
const quiet_ms = 350;
/** After a daemon that did not answer. */
const again_ms = 15_000;

/** A charge from the wish to the record of it. */
export const mountPlan: Mount = (root, context) => {
  const { texts } = context;
  const words = texts.plan;
  let draft = loadDraft();
  const change = (changed: Partial<PlanDraft>): void => {
    draft = { ...draft, ...changed };
    saveDraft(draft);
  };
  const chooser = vesselChooser(
    words,
    { read: () => draft.vesselId, change: (vesselId) => change({ vesselId }) },
    (content, vesselId) => createDesk(content, vesselId, context, { read: () => draft, change }),
  );
  root.append(...chooser.elements);
  return {
    update: (site) =>
      chooser.update(
        site.vessels.filter(({ kind }) => kind === "generator"),
        site,
      ),
    end: chooser.end,
  };
};

/** The plan of one vessel. */
function createDesk(
  content: HTMLElement,
  vesselId: string,
  context: PageContext,
  kept: { readonly read: () => PlanDraft; readonly change: (changed: Partial<PlanDraft>) => void },
): VesselDesk {
  const { texts, formats, send, plan, announce } = context;
  const words = texts.plan;
  let answer: PlanAnswer | undefined;
  let vessel: VesselPicture | undefined;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let asked = "";
  let shown = "";
  let announced = "";
  const noPressure = el("section", { class: "card alarm-medium", "aria-label": words.noPressure.heading });
  const result = el(
    "div",
    { class: "stack plan-result", "aria-busy": "false" },
    el("p", {}, words.untilThen),
  );
  const form: PlanForm = planForm(
    words,
    kept.read,
    (changed) => {
      kept.change(changed);
      askSoon();
    },
    vesselId,
    formats(),
  );
  const endCommand = `fizzward refill end ${vesselId}`;
  let isHeld = false;
  const steps: PlanSteps = planSteps(
    words,
    { ticked: () => kept.read().ticked, tick: (ticked) => kept.change({ ticked }) },
    { label: words.steps.begin(vesselId), begin: () => void beginRefill(), endCommand },
  );
  const refillNote = el("p", { class: "complaint", role: "status" });
  const record: PlanRecord = planRecord(context, vesselId, {
    heldUntil: () => (isHeld ? endCommand : undefined),
    recorded: () => kept.change({ ticked: [] }),
  });
  const planning = el("div", { class: "plan-columns" }, form.element, result);
  form.element.classList.add("card");
  put(content, noPressure, planning, steps.element, refillNote, record.element);
  return {
    update(picture, site) {
      vessel = picture;
      const missing = missingKeys(picture);
      noPressure.hidden = missing.length === 0;
      planning.hidden = missing.length > 0;
      if (missing.length > 0) {
        put(
          noPressure,
          el("h2", {}, words.noPressure.heading),
          el("p", {}, words.noPressure.why),
          el(
            "ul",
            {},
            missing.map((key) => el("li", {}, el("code", {}, key))),
          ),
        );
      }
      form.update(formats(), picture.supply?.told?.use.total_gPerDay, missing.length === 0);
      steps.update(answer, formats());
      isHeld = site.holds.some(
        ({ kind, subject }) => kind === "refill in progress" && subject.id === vesselId,
      );
      steps.tellBegun(isHeld);
      record.update(answer, kept.read());
      if (missing.length === 0) {
        show();
        if (asked === "") askSoon(0);
      }
    },
    end: () => clearTimeout(timer),
  };

  function askSoon(after_ms = quiet_ms): void {
    clearTimeout(timer);
    timer = setTimeout(() => void ask(), after_ms);
  }

  async function ask(): Promise<void> {
    const wish = form.read();
    record.update(answer, kept.read());
    if (wish === undefined) return;
    const essence = JSON.stringify(wish);
    if (essence === asked) return;
    asked = essence;
    result.setAttribute("aria-busy", "true");
    const told = await answerTo(wish);
    // What was typed meanwhile has been asked for since.
    if (essence !== asked) return;
    answer = told;
    result.setAttribute("aria-busy", "false");
    show();
    steps.update(answer, formats());
    record.update(answer, kept.read());
    const summary = planSummary(told, words, formats());
    if (summary !== announced) announce(summary);
    announced = summary;
  }

  async function answerTo(wish: PlanWish): Promise<PlanAnswer> {
    try {
      return await plan(wish);
    } catch (error) {
      clearTimeout(timer);
      timer = setTimeout(() => {
        asked = "";
        void ask();
      }, again_ms);
      return { kind: "not understood", reason: error instanceof Error ? error.message : String(error) };
    }
  }

  function show(): void {
    if (answer === undefined || vessel === undefined) return;
    const { pressureUnit, temperatureUnit } = formats();
    const essence = JSON.stringify([answer, pressureUnit, temperatureUnit]);
    if (essence === shown) return;
    shown = essence;
    put(
      result,
      ...planResult(answer, vessel, words, formats(), (sodiumBicarbonate_g) => {
        form.take(sodiumBicarbonate_g);
      }),
    );
  }

  async function beginRefill(): Promise<void> {
    try {
      const told = await send(`/api/vessels/${vesselId}/refill`, {});
      put(refillNote, told.accepted ? "" : texts.failed(told.reason));
    } catch (error) {
      put(refillNote, texts.failed(error instanceof Error ? error.message : String(error)));
    }
  }
}

function missingKeys(vessel: VesselPicture): readonly string[] {
  return (["ratedPressureGauge_bar", "reliefOpeningGauge_bar"] as const)
    .filter((key) => vessel[key] === undefined)
    .map((key) => `vessels.${vessel.vesselId}.${key}`);
}
