import { el, labelled } from "./dom.js";

/** A field for a number as people type it, with a point or a comma. */
export function numberField(value: string, onInput: (typed: string) => void): HTMLInputElement {
  const field = el("input", {
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    enterkeyhint: "next",
    maxlength: 12,
    value,
  });
  field.addEventListener("input", () => onInput(field.value));
  return field;
}

/** What was typed; undefined: nothing; NaN: no number. */
export function typedNumber(text: string): number | undefined {
  const plain = text.trim().replace(",", ".");
  if (plain === "") return undefined;
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : Number.NaN;
}

/** Says beside a field what is wrong with it; an empty text: nothing. */
export function complain(field: HTMLInputElement, text: string): void {
  const place = field.parentElement;
  if (place === null) return;
  const note =
    place.querySelector(".complaint") ?? el("small", { class: "complaint", id: `${field.id}-fault` });
  if (note.textContent !== text) note.textContent = text;
  if (text === "") {
    note.remove();
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-errormessage");
    return;
  }
  if (note.parentElement === null) place.append(note);
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-errormessage", note.id);
}

let groups = 0;

/** One of a few, side by side. */
export function choiceField<Value extends string>(
  legend: string,
  options: readonly (readonly [Value, string])[],
  chosen: Value,
  onChoose: (value: Value) => void,
): HTMLFieldSetElement {
  groups += 1;
  const name = `choice-${groups}`;
  return el(
    "fieldset",
    { class: "choice" },
    el("legend", {}, legend),
    el(
      "div",
      { class: "choice-row" },
      options.map(([value, text]) => {
        const radio = el("input", { type: "radio", name, value, checked: value === chosen });
        radio.addEventListener("change", () => onChoose(value));
        return el("label", {}, radio, el("span", {}, text));
      }),
    ),
  );
}

/** A list to choose from. */
export function listField<Value extends string>(
  label: string,
  options: readonly (readonly [Value, string])[],
  chosen: Value | undefined,
  onChoose: (value: Value) => void,
): HTMLElement {
  const select = el(
    "select",
    {},
    options.map(([value, text]) => el("option", { value, selected: value === chosen }, text)),
  );
  select.addEventListener("change", () => {
    const found = options[select.selectedIndex];
    if (found !== undefined) onChoose(found[0]);
  });
  return labelled(label, select);
}
