import type { PlanAnswer, WriteAnswer } from "../page-contract.js";
import { el, labelled, put } from "./dom.js";
import { complain, numberField, typedNumber } from "./fields.js";
import type { PlanDraft } from "./plan-draft.js";
import type { PageContext } from "./view.js";

export interface PlanRecord {
  readonly element: HTMLElement;
  readonly update: (answer: PlanAnswer | undefined, draft: PlanDraft) => void;
}

/**
 * What was really weighed, told to the daemon as the journal's entry of a closed charge.
 * @param refill  by which command the valves are let go that it holds, where it does; and what to do after the record
 */
export function planRecord(
  context: PageContext,
  vesselId: string,
  refill: { readonly heldUntil: () => string | undefined; readonly recorded: () => void },
): PlanRecord {
  const { texts, formats, send } = context;
  const words = texts.plan.record;
  const typed = { bicarbonate: "", acid: "", water: "", temperature: "" };
  const field = (key: keyof typeof typed): HTMLInputElement =>
    numberField("", (text) => {
      typed[key] = text;
      complain(fields[key], "");
    });
  const fields = {
    bicarbonate: field("bicarbonate"),
    acid: field("acid"),
    water: field("water"),
    temperature: field("temperature"),
  };
  const at = el("input", { type: "datetime-local" });
  const note = el("input", { type: "text", maxlength: 500, autocomplete: "off" });
  const rows = {
    bicarbonate: labelled(words.bicarbonate, fields.bicarbonate, " "),
    acid: labelled(" ", fields.acid, " "),
    water: labelled(" ", fields.water, " "),
    temperature: labelled(" ", fields.temperature, " "),
  };
  const submit = el("button", { type: "submit", class: "main" }, words.submit);
  const answerPlace = el("div", { role: "status" });
  const form = el(
    "form",
    { class: "card plan-record", novalidate: true, "aria-label": words.heading },
    el("h2", {}, words.heading),
    el("p", { class: "aside" }, words.about),
    el(
      "div",
      { class: "plan-fields" },
      Object.values(rows),
      labelled(words.at, at, words.atHint),
      labelled(words.note, note),
    ),
    submit,
    answerPlace,
  );
  let draft: PlanDraft | undefined;
  let answer: PlanAnswer | undefined;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void record();
  });
  return {
    element: form,
    update(told, now) {
      draft = now;
      answer = told;
      const plan = told?.kind === "answer" && told.plan.kind === "plan" ? told.plan : undefined;
      const { weighed, temperatureUnit } = formats();
      const planned = (mass_g: number | undefined): string =>
        mass_g === undefined ? "" : words.planned(weighed(mass_g));
      say(rows.bicarbonate, words.bicarbonate, planned(plan?.amounts.sodiumBicarbonate_g));
      say(rows.acid, words.acid(texts.plan.acids[now.acid]), planned(plan?.amounts.citricAcid_g));
      say(
        rows.water,
        words.water[now.filling],
        planned(plan === undefined ? undefined : 1000 * plan.amounts.filling.mass_kg),
      );
      say(
        rows.temperature,
        words.temperature(temperatureUnit),
        now.filling === "water" ? words.temperatureHint.water : words.temperatureHint.ice,
      );
    },
  };

  async function record(): Promise<void> {
    if (draft === undefined) return;
    const number = (key: keyof typeof typed): number => {
      const value = typedNumber(typed[key]) ?? Number.NaN;
      complain(fields[key], Number.isNaN(value) ? texts.plan.notANumber : "");
      return value;
    };
    const weighed = {
      bicarbonate: number("bicarbonate"),
      acid: number("acid"),
      water: number("water"),
      temperature: number("temperature"),
    };
    if (Object.values(weighed).some(Number.isNaN)) {
      put(answerPlace, el("p", { class: "complaint" }, words.missing));
      form.querySelector<HTMLInputElement>('[aria-invalid="true"]')?.focus();
      return;
    }
    const plan = answer?.kind === "answer" && answer.plan.kind === "plan" ? answer.plan : undefined;
    submit.disabled = true;
    put(answerPlace, words.recording);
    try {
      const told = await send("/api/journal", {
        kind: "charge closed",
        vessel: vesselId,
        sodiumBicarbonate_g: weighed.bicarbonate,
        [draft.acid === "anhydrous" ? "citricAcidAnhydrous_g" : "citricAcidMonohydrate_g"]: weighed.acid,
        water_kg: weighed.water / 1000,
        closedWith: draft.filling === "water" ? "water" : "ice",
        sealedAt_degC: formats().typedTemperature_degC(weighed.temperature),
        ...(plan?.amounts.residualLiquor_L === undefined
          ? {}
          : { residualLiquor_L: plan.amounts.residualLiquor_L }),
        ...(plan === undefined || plan.amounts.acidForm !== `citric-acid-${draft.acid}`
          ? {}
          : {
              plannedBicarbonate_g: plan.amounts.sodiumBicarbonate_g,
              // As it was shown, to the tenth of a gram.
              plannedAcid_g: Math.round(10 * plan.amounts.citricAcid_g) / 10,
            }),
        ...(at.value === "" ? {} : { at: at.value }),
        ...(note.value.trim() === "" ? {} : { note: note.value.trim() }),
      });
      tell(told);
    } catch (error) {
      put(
        answerPlace,
        el(
          "p",
          { class: "complaint" },
          words.notKept(error instanceof Error ? error.message : String(error)),
        ),
      );
    } finally {
      submit.disabled = false;
    }
  }

  function tell(told: WriteAnswer): void {
    if (!told.accepted) {
      put(answerPlace, el("p", { class: "complaint" }, words.notKept(told.reason)));
      return;
    }
    const { entry } = told;
    const endCommand = refill.heldUntil();
    put(
      answerPlace,
      el(
        "div",
        { class: "card recorded" },
        el(
          "strong",
          {},
          entry === undefined
            ? told.text
            : entry.known
              ? words.known(String(entry.entryId))
              : words.kept(String(entry.entryId), entry.fact),
        ),
        entry?.remarks.map((remark) => el("p", { class: "must" }, remark)),
        endCommand === undefined
          ? undefined
          : el("p", { class: "must" }, words.stillHeld, " ", el("code", {}, endCommand)),
        el("p", {}, words.next, " ", el("a", { href: "#charge" }, words.toCharge)),
      ),
    );
    refill.recorded();
  }
}

function say(row: HTMLElement, label: string, hint: string): void {
  const [name, note] = [row.querySelector("label"), row.querySelector("small")];
  if (name !== null && name.textContent !== label) name.textContent = label;
  if (note !== null && note.textContent !== hint) note.textContent = hint;
}
