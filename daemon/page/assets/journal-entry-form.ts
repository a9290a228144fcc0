import {
  degassingMethods,
  dropCheckerColours,
  type DegassingMethod,
  type DropCheckerColour,
} from "../../../lib/journal/journal-entry.js";
import type { SitePicture, WriteAnswer } from "../page-contract.js";
import { el, labelled, put } from "./dom.js";
import { complain, listField, numberField, typedNumber } from "./fields.js";
import { writtenSaid } from "./said.js";
import type { PageContext } from "./view.js";

type Kind = keyof PageContext["texts"]["journal"]["entry"]["kinds"];
type SubjectKey = "vessel" | "valve" | "tank";

interface Form {
  readonly subject: SubjectKey;
  /** Its number, by its name in the entry. */
  readonly number?: "pressure" | "vesselMass_g" | "bubbles_perMin" | "kh_dKH" | "pH" | "changed_L";
  readonly choice?: "unit" | "how" | "colour";
}

const forms: Readonly<Record<Kind, Form>> = {
  "gauge reading": { subject: "vessel", number: "pressure", choice: "unit" },
  weighing: { subject: "vessel", number: "vesselMass_g" },
  "bubble count": { subject: "valve", number: "bubbles_perMin" },
  "regulator set": { subject: "vessel", number: "pressure", choice: "unit" },
  "kh test": { subject: "tank", number: "kh_dKH" },
  "degassed pH": { subject: "tank", number: "pH", choice: "how" },
  "drop checker": { subject: "tank", choice: "colour" },
  "water change": { subject: "tank", number: "changed_L" },
};
const kinds = Object.keys(forms) as readonly Kind[];
const units = ["bar", "kgf/cm2", "psi"] as const;

export interface EntryForm {
  readonly element: HTMLElement;
  readonly update: (site: SitePicture) => void;
}

/** What a person saw, measured or did at vessel and tank, told to the journal. */
export function entryForm(context: PageContext, onKept: () => void): EntryForm {
  const { texts, formats, send } = context;
  const words = texts.journal.entry;
  const place = el("div", { class: "plan-fields" });
  const note = el("input", { type: "text", maxlength: 500, autocomplete: "off" });
  const answer = el("p", { role: "status" });
  const sure = el("input", { type: "checkbox" });
  const sureLabel = el("label", { class: "step" }, sure, el("span", {}, words.sure));
  sureLabel.hidden = true;
  const submit = el("button", { type: "submit", class: "main" }, words.submit);
  let kind: Kind = "gauge reading";
  let ids: Readonly<Record<SubjectKey, readonly string[]>> = { vessel: [], valve: [], tank: [] };
  let known = "";
  let number: HTMLInputElement | undefined;
  let subject = "";
  let typed_L: (typed: number) => number = (typed) => typed;
  let unit: (typeof units)[number] = formats().pressureUnit;
  let how: DegassingMethod = "aerated a day";
  let colour: DropCheckerColour = "green";
  const form = el(
    "form",
    { novalidate: true, "aria-label": words.heading },
    listField(
      words.kind,
      kinds.map((one) => [one, words.kinds[one]] as const),
      kind,
      (chosen) => {
        kind = chosen;
        build();
      },
    ),
    place,
    labelled(words.note, note),
    sureLabel,
    submit,
    answer,
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void tell();
  });
  return {
    element: el("details", { class: "card" }, el("summary", {}, words.heading), form),
    update({ vessels, valves, tanks }) {
      const now = {
        vessel: vessels.map(({ vesselId }) => vesselId),
        valve: valves.map(({ valveId }) => valveId),
        tank: tanks.map(({ tankId }) => tankId),
      };
      const key = JSON.stringify(now);
      if (key === known) return;
      known = key;
      ids = now;
      build();
    },
  };

  function saidOf({ text, said, entry }: Extract<WriteAnswer, { readonly accepted: true }>): string {
    if (said === undefined) return text;
    return [writtenSaid(said, formats()), ...(entry?.remarks ?? [])].join(". ");
  }

  /** Other fields for another kind; never while its own is typed. */
  function build(): void {
    const { subject: subjectKey, number: numberKey, choice } = forms[kind];
    const [first = ""] = ids[subjectKey];
    subject = first;
    sureLabel.hidden = true;
    sure.checked = false;
    number =
      numberKey === undefined
        ? undefined
        : numberField("", () => number !== undefined && complain(number, ""));
    const plain = <Value extends string>(values: readonly Value[]) =>
      values.map((value) => [value, value] as const);
    put(
      place,
      listField(words.subject, plain(ids[subjectKey]), subject, (chosen) => (subject = chosen)),
      numberKey === undefined || number === undefined ? undefined : labelled(labelOf(numberKey), number),
      choice === "unit"
        ? listField(words.values.unit, plain(units), unit, (chosen) => (unit = chosen))
        : undefined,
      choice === "how"
        ? listField(words.values.how, plain(degassingMethods), how, (chosen) => (how = chosen))
        : undefined,
      choice === "colour"
        ? listField(words.values.colour, plain(dropCheckerColours), colour, (chosen) => (colour = chosen))
        : undefined,
    );
  }

  /** The unit belongs to what is typed, however the page is set meanwhile. */
  function labelOf(key: NonNullable<Form["number"]>): string {
    const { volumeUnit, typedVolume_L } = formats();
    typed_L = typedVolume_L;
    return key === "changed_L" ? words.changed(volumeUnit) : words.values[key];
  }

  async function tell(): Promise<void> {
    const { subject: subjectKey, number: numberKey, choice } = forms[kind];
    const value = number === undefined ? undefined : (typedNumber(number.value) ?? Number.NaN);
    if (number !== undefined && value !== undefined) {
      complain(number, Number.isNaN(value) ? texts.plan.notANumber : "");
      if (Number.isNaN(value)) {
        number.focus();
        return;
      }
    }
    submit.disabled = true;
    try {
      const told = await send("/api/journal", {
        kind,
        [subjectKey]: subject,
        ...(numberKey === undefined || value === undefined
          ? {}
          : { [numberKey]: numberKey === "changed_L" ? typed_L(value) : value }),
        ...(choice === undefined ? {} : { [choice]: { unit, how, colour }[choice] }),
        ...(note.value.trim() === "" ? {} : { note: note.value.trim() }),
        ...(sure.checked ? { sure: true } : {}),
      });
      put(answer, told.accepted ? words.kept(saidOf(told)) : words.notKept(told.reason));
      sureLabel.hidden = told.accepted || told.needsSecondWord !== true;
      if (!told.accepted) return;
      if (number !== undefined) number.value = "";
      note.value = "";
      sure.checked = false;
      onKept();
    } catch (error) {
      put(answer, words.notKept(error instanceof Error ? error.message : String(error)));
    } finally {
      submit.disabled = false;
    }
  }
}
