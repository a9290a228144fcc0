import type { PlanAnswer } from "../page-contract.js";
import { button, el, put } from "./dom.js";
import type { Formats } from "./formats.js";
import type { Texts } from "./texts.en.js";

type Words = Texts["plan"];

export interface PlanSteps {
  readonly element: HTMLElement;
  readonly update: (answer: PlanAnswer | undefined, formats: Formats) => void;
  /** The refill is told to the daemon already. */
  readonly tellBegun: (isBegun: boolean) => void;
}

interface Step {
  readonly id: string;
  readonly text: string;
}

/** The checklist beside the vessel. What is ticked outlives a phone that falls asleep. */
export function planSteps(
  words: Words,
  ticks: { readonly ticked: () => readonly string[]; readonly tick: (ids: readonly string[]) => void },
  refill: { readonly label: string; readonly begin: () => void; readonly endCommand: string },
): PlanSteps {
  const count = el("p", { class: "aside", role: "status" });
  const list = el("div", { class: "stack" });
  const begin = button(refill.label, refill.begin, { class: "main" });
  const began = el("p", {}, words.steps.began, " ", el("code", {}, refill.endCommand));
  began.hidden = true;
  let shown = "";
  let ids: readonly string[] = [];
  return {
    element: el(
      "section",
      { class: "card plan-steps", "aria-label": words.steps.heading },
      el("h2", {}, words.steps.heading),
      el("p", { class: "aside" }, words.steps.about),
      begin,
      began,
      list,
      count,
      button(words.steps.clear, () => {
        ticks.tick([]);
        for (const box of list.querySelectorAll("input")) box.checked = false;
        tell();
      }),
    ),
    tellBegun(isBegun) {
      begin.hidden = isBegun;
      began.hidden = !isBegun;
    },
    update(answer, formats) {
      const groups = groupsOf(answer, words, formats);
      const essence = JSON.stringify(groups);
      if (essence === shown) return;
      shown = essence;
      ids = groups.flatMap(({ steps }) => steps.map(({ id }) => id));
      put(
        list,
        groups.map(({ name, steps, after }) =>
          el(
            "fieldset",
            { class: "steps" },
            el("legend", {}, name),
            steps.map(stepBox),
            after === undefined ? undefined : el("p", { class: "must" }, after),
          ),
        ),
      );
      tell();
    },
  };

  function stepBox({ id, text }: Step): HTMLElement {
    const box = el("input", { type: "checkbox", checked: ticks.ticked().includes(id) });
    box.addEventListener("change", () => {
      const others = ticks.ticked().filter((one) => one !== id);
      ticks.tick(box.checked ? [...others, id] : others);
      tell();
    });
    return el("label", { class: "step" }, box, el("span", {}, text));
  }

  function tell(): void {
    const done = ids.filter((id) => ticks.ticked().includes(id)).length;
    put(count, words.steps.done(done, ids.length));
  }
}

interface Group {
  readonly name: string;
  readonly steps: readonly Step[];
  readonly after?: string;
}

function groupsOf(
  answer: PlanAnswer | undefined,
  { steps: words }: Words,
  formats: Formats,
): readonly Group[] {
  const plan = answer?.kind === "answer" && answer.plan.kind === "plan" ? answer.plan : undefined;
  const isIced = plan !== undefined && plan.amounts.filling.kind !== "water";
  const step = (id: string, text: string): Step => ({ id, text });
  return [
    {
      name: words.groups.before,
      steps: [
        step("shut", words.shut),
        step("vent", words.vent),
        step("zero-gauge", words.zeroGauge),
        step("no-hiss", words.noHiss),
      ],
      after: words.twoSigns,
    },
    {
      name: words.groups.ready,
      steps: [
        step("protect", words.protect),
        step("air", words.air),
        step("open", words.open),
        step("inspect", words.inspect),
        step("soak", words.soak),
        step("upright", words.upright),
        step("dry", words.dry),
      ],
    },
    {
      name: words.groups.fill,
      steps: [
        step("order", isIced ? words.orderIce : words.order),
        step("close", isIced ? words.closeIce : words.closeWater),
        step("stand", words.stand),
      ],
    },
    {
      name: words.groups.after,
      steps: [
        step("soap", words.soap),
        ...(plan === undefined
          ? []
          : [
              step(
                "cold",
                (isIced ? words.coldIce : words.cold)(formats.pressure(plan.pressures.cold.highGauge_bar)),
              ),
            ]),
        step("next", words.nextTime),
      ],
      ...(plan === undefined
        ? {}
        : { after: words.above(formats.pressure(plan.pressures.hottest.highGauge_bar)) }),
    },
  ];
}
