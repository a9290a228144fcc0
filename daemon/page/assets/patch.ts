import { el, put, takePress, type Child } from "./dom.js";

/** Stands for an element that is on the page already and must not be taken off it. */
const keptBy = new WeakMap<Node, Element>();
const kept = new WeakSet<Node>();

/** An element that lives on through every patch as it is: a form that somebody fills in, a chart. */
export function keep(element: Element): Element {
  const place = el("span");
  keptBy.set(place, element);
  kept.add(element);
  return place;
}

/**
 * Makes the inside of an element like what is given and leaves alone what is so already: focus, an opened `details`, a selection
 * and the place in the page stay. Elements with the same `data-key` are taken for the same one.
 */
export function patch(parent: Element, ...children: readonly (Child | readonly Child[])[]): void {
  const wanted = el("div");
  put(wanted, ...children);
  patchInside(parent, [...wanted.childNodes]);
}

function patchInside(parent: Element, wanted: readonly Node[]): void {
  const names = new Set(wanted.map((node) => (keyOf(node) === undefined ? "" : nameOf(node))));
  for (const old of [...parent.childNodes]) {
    if (keyOf(old) !== undefined && !names.has(nameOf(old))) old.remove();
  }
  let at = parent.firstChild;
  for (const next of wanted) {
    const stays = keptBy.get(next);
    const same = stays ?? sameAs(next, at);
    if (same === undefined) {
      parent.insertBefore(next, at);
      withKept(next);
      continue;
    }
    // What is taken out and put back loses the focus: rather goes what stands before it.
    while (at !== null && at !== same && follows(at, same) && keyOf(at) === undefined && !kept.has(at)) {
      const gone: ChildNode = at;
      at = at.nextSibling;
      gone.remove();
    }
    if (same === at) at = at.nextSibling;
    else parent.insertBefore(same, at);
    if (stays === undefined) patchNode(same, next);
  }
  while (at !== null) {
    const gone = at;
    at = at.nextSibling;
    gone.remove();
  }
}

/** Whether it is a later one of the same parent. */
function follows(one: Node, other: Node): boolean {
  return (
    one.parentNode === other.parentNode &&
    (one.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0
  );
}

function nameOf(node: Node): string {
  return `${node.nodeName} ${keyOf(node) ?? ""}`;
}

/** What stands on the page for it, from this place on. */
function sameAs(next: Node, from: ChildNode | null): ChildNode | undefined {
  const key = keyOf(next);
  if (key === undefined) {
    const isSame = from?.nodeName === next.nodeName && keyOf(from) === undefined && !kept.has(from);
    return isSame ? from : undefined;
  }
  for (let at = from; at !== null; at = at.nextSibling) {
    if (at.nodeName === next.nodeName && keyOf(at) === key) return at;
  }
  return undefined;
}

function keyOf(node: Node): string | undefined {
  return node instanceof HTMLElement ? node.dataset["key"] : undefined;
}

function patchNode(old: Node, next: Node): void {
  if (!(old instanceof Element) || !(next instanceof Element)) {
    if (old.nodeValue !== next.nodeValue) old.nodeValue = next.nodeValue;
    return;
  }
  for (const { name } of [...old.attributes]) {
    if (!next.hasAttribute(name) && !isOwn(old, name)) old.removeAttribute(name);
  }
  for (const { name, value } of next.attributes) {
    if (name !== "style" && old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  if (old instanceof HTMLElement && next instanceof HTMLElement) {
    // As an attribute the page's policy would refuse it.
    if (old.style.cssText !== next.style.cssText) old.style.cssText = next.style.cssText;
    takePress(old, next);
  }
  patchInside(old, [...next.childNodes]);
}

/** What the reader has done to it. */
function isOwn(element: Element, attribute: string): boolean {
  return attribute === "style" || (attribute === "open" && element instanceof HTMLDetailsElement);
}

function withKept(node: Node): void {
  for (const child of [...node.childNodes]) {
    const stays = keptBy.get(child);
    if (stays === undefined) withKept(child);
    else node.replaceChild(stays, child);
  }
}
