// Holding a thing by key or by pointer: the slider practice of the ARIA guide, the same for every handle of the page.
import { set } from "./dom";
import { fixed, significant, with_unit } from "./format";
import type { Store } from "./store";
import { t, thing_texts } from "./texts";
import { type Thing, put_within } from "./things";

/** A thing's value as a person reads it; the truth may be hidden. */
export function spoken(store: Store, which: Thing): string {
  if (which.name === "displacement" && !store.settings.truth) return t("hidden_truth");
  const value = which.get(store);
  const text = which.ratio ? significant(value, 3) : fixed(value, Math.min(which.places, 2));
  return with_unit(text, which.unit);
}

export function describe(element: Element, store: Store, which: Thing): void {
  const [low, high] = which.range(store);
  const hidden = which.name === "displacement" && !store.settings.truth;
  const value = which.get(store);
  const unit =
    which.unit === "deg"
      ? t("degrees")
      : which.unit === "um"
        ? t("micrometres")
        : which.unit === "mm"
          ? t("millimetres")
          : "";
  const words = hidden ? t("hidden_truth") : `${fixed(value, which.places > 2 ? 3 : 2)} ${unit}`.trim();
  set(element, {
    "aria-label": thing_texts[which.name].name,
    "aria-valuemin": low,
    "aria-valuemax": high,
    "aria-valuenow": hidden ? 0 : Number(value.toFixed(which.places)),
    "aria-valuetext": words,
  });
}

/** The value after a key, or null for a key that moves nothing. */
export function after_key(event: KeyboardEvent, store: Store, which: Thing): number | null {
  if (event.ctrlKey || event.metaKey) return null;
  const [low, high] = which.range(store);
  const value = which.get(store);
  const times = event.shiftKey ? 0.1 : event.altKey ? 10 : 1;
  const step = (direction: number, more: number) =>
    which.ratio ? value * Math.pow(which.step, direction * more) : value + direction * more * which.step;
  switch (event.key) {
    case "ArrowUp":
    case "ArrowRight":
      return step(1, times);
    case "ArrowDown":
    case "ArrowLeft":
      return step(-1, times);
    case "PageUp":
      return step(1, 10);
    case "PageDown":
      return step(-1, 10);
    case "Home":
      return low;
    case "End":
      return high;
    default:
      return null;
  }
}

/** Lets keys move a thing. What keys moved becomes one step of the history when the key is let go. */
export function listen_to_keys(element: Element, store: Store, which: Thing, begin: () => void): void {
  let holding = false;
  element.addEventListener("keydown", (given) => {
    const event = given as KeyboardEvent;
    const value = after_key(event, store, which);
    if (value === null) return;
    event.preventDefault();
    event.stopPropagation();
    if (!holding) begin();
    holding = true;
    store.hold(put_within(store, which, value));
  });
  const end = () => {
    if (holding) store.settle();
    holding = false;
  };
  element.addEventListener("keyup", end);
  element.addEventListener("blur", end);
}
