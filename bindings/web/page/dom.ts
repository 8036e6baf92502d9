// Elements without innerHTML: text that a file or a link brings can only ever become text.

export type Child = Node | string | null | undefined | false;
type Listener = (event: never) => void;
export type Attributes = Record<string, string | number | boolean | Listener | null | undefined>;

const svg_namespace = "http://www.w3.org/2000/svg";

function fill(element: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name, value as EventListener);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) if (child || child === "") element.append(child as Node | string);
}

/** An HTML element. A function as attribute listens to the event of that name. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

/** An SVG element. */
export function s<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS(svg_namespace, tag) as SVGElementTagNameMap[K];
  fill(element, attributes, children);
  return element;
}

export function set(element: Element, attributes: Record<string, string | number | null>): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null) element.removeAttribute(name);
    else if (element.getAttribute(name) !== String(value)) element.setAttribute(name, String(value));
  }
}

/** Changes a text only where it differs, so that a screen reader does not say it again. */
export function say(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}

export function by_id(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (!element) throw new Error(`the page has no element "${id}"`);
  return element;
}

export function button(text: string, press: () => void, attributes: Attributes = {}): HTMLButtonElement {
  return h("button", { type: "button", click: press, ...attributes }, text);
}

export function calm(): boolean {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}
