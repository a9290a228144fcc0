/** What may stand inside an element. Text is always text: nothing here reads markup. */
export type Child = Node | string | number | undefined | false;

type Attributes = Readonly<Record<string, string | number | boolean | undefined>>;

/** An element with attributes (`class`, `aria-label`, `type` ...; true: present, false or undefined: absent) and children. */
export function el<Tag extends keyof HTMLElementTagNameMap>(
  tag: Tag,
  attributes: Attributes = {},
  ...children: readonly (Child | readonly Child[])[]
): HTMLElementTagNameMap[Tag] {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false) continue;
    made.setAttribute(name, value === true ? "" : String(value));
  }
  put(made, ...children);
  return made;
}

/** Replaces what is inside. */
export function put(parent: Element, ...children: readonly (Child | readonly Child[])[]): void {
  const kept = children.flat().filter((child) => child !== undefined && child !== false);
  parent.replaceChildren(...kept.map((child) => (typeof child === "number" ? String(child) : child)));
}

const presses = new WeakMap<Element, () => void>();

/** A button that does something; `type` is never left to chance. */
export function button(text: string, onPress: () => void, attributes: Attributes = {}): HTMLButtonElement {
  const made = el("button", { type: "button", ...attributes }, text);
  presses.set(made, onPress);
  made.addEventListener("click", () => presses.get(made)?.());
  return made;
}

/** A button goes on under the reader's finger and does from now on what another one would. */
export function takePress(button: Element, from: Element): void {
  const press = presses.get(from);
  if (press !== undefined) presses.set(button, press);
}

let ids = 0;

/** A label and its control, tied together. */
export function labelled(text: string, control: HTMLElement, hint?: string): HTMLElement {
  ids += 1;
  control.id ||= `field-${ids}`;
  if (hint !== undefined) control.setAttribute("aria-describedby", `${control.id}-hint`);
  return el(
    "div",
    { class: "field" },
    el("label", { for: control.id }, text),
    control,
    hint === undefined ? undefined : el("small", { id: `${control.id}-hint` }, hint),
  );
}
