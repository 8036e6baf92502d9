// What is in hand: its value to type over, and in two sentences what it is and why it does that.
import { button, by_id, h, say, set } from "./dom";
import { plain, pretty_unit, typed } from "./format";
import type { Store } from "./store";
import { t, thing_texts } from "./texts";
import { type ThingName, movable, put_within, thing } from "./things";

export class HeldPane {
  private name: ThingName | null = null;
  private readonly title = h("span", { class: "held-name", id: "held-name" });
  private readonly input = h("input", {
    type: "text",
    inputmode: "decimal",
    size: 9,
    id: "held-value",
    "aria-labelledby": "held-name",
  });
  private readonly unit = h("span", { class: "unit" });
  private readonly follow = button(
    t("follow"),
    () => this.store.settle({ "receiver.detector_tilt_deg": "scheimpflug" }),
    { class: "quiet" },
  );
  private readonly why = h("details", { class: "why" });
  private readonly empty = h("span", { class: "hint" }, t("nothing_held"));
  private readonly row = h("span", { class: "held-row" }, this.title, this.input, this.unit, this.follow);

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
    private readonly begin: () => void,
  ) {
    parent.append(this.empty, this.row, this.why);
    this.row.hidden = true;
    this.input.addEventListener("change", () => this.take());
    this.input.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.take();
      if (event.key === "Escape") this.draw(true);
      event.stopPropagation();
    });
  }

  private take(): void {
    if (!this.name) return;
    const value = typed(this.input.value);
    this.input.setAttribute("aria-invalid", value === null ? "true" : "false");
    if (value === null) return;
    this.begin();
    this.store.settle(put_within(this.store, thing(this.name), value));
  }

  pick(name: ThingName): void {
    if (name === this.name) return;
    this.name = name;
    const text = thing_texts[name];
    const more = h(
      "details",
      {},
      h("summary", {}, t("equation")),
      h("p", { class: "equation" }, text.equation),
      h("p", {}, t("more_in", { page: text.page })),
    );
    this.why.replaceChildren(
      h("summary", {}, t("what_is")),
      h("p", {}, text.what),
      h("p", {}, h("strong", {}, t("why_does")), ` ${text.why}`),
      more,
    );
    this.draw(true);
  }

  draw(force = false): void {
    const name = this.name;
    const usable = name !== null && movable(this.store, thing(name));
    this.empty.hidden = usable;
    this.row.hidden = this.why.hidden = !usable;
    if (!name || !usable) return;
    const which = thing(name);
    say(this.title, thing_texts[name].name);
    say(this.unit, pretty_unit(which.unit));
    const hidden = name === "displacement" && !this.store.settings.truth;
    if (force || document.activeElement !== this.input)
      this.input.value = hidden ? "?" : plain(Number(which.get(this.store).toFixed(4)));
    this.follow.hidden = name !== "array" || this.store.value("receiver.detector_tilt_deg") === "scheimpflug";
  }
}

/** The small compass from above: the sensor turned about its beam. */
export class Compass {
  private readonly needle: HTMLElement;
  private readonly text: HTMLElement;

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
    pick: (name: ThingName) => void,
    begin: () => void,
    listen: (element: Element) => void,
  ) {
    this.needle = h(
      "span",
      { role: "slider", tabindex: 0, class: "needle", "data-thing": "turn" },
      h("span", { class: "needle-head" }),
    );
    this.text = h("span", { class: "compass-text" });
    const face = h("span", { class: "face" }, h("span", { class: "lay-lines" }), this.needle);
    parent.append(face, this.text);
    this.needle.addEventListener("focus", () => pick("turn"));
    listen(this.needle);
    this.needle.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      this.needle.focus();
      this.needle.setPointerCapture(event.pointerId);
      begin();
      const box = face.getBoundingClientRect();
      const move = (next: PointerEvent) => {
        const angle =
          (Math.atan2(box.top + box.height / 2 - next.clientY, next.clientX - box.left - box.width / 2) * 180) /
          Math.PI;
        store.hold(put_within(store, thing("turn"), Math.round(angle)));
      };
      this.needle.addEventListener("pointermove", move);
      this.needle.addEventListener(
        "lostpointercapture",
        () => {
          this.needle.removeEventListener("pointermove", move);
          store.settle();
        },
        { once: true },
      );
    });
  }

  draw(describe: (element: Element) => void, spoken: string): void {
    const angle = thing("turn").get(this.store);
    this.needle.style.transform = `rotate(${-angle}deg)`;
    describe(this.needle);
    say(this.text, `${t("from_above")}: ${spoken}`);
    set(this.text, { "aria-hidden": "true" });
  }
}

/** Marks a chooser's buttons as pressed or not. */
export function press(id: string, on: boolean): void {
  by_id(id).setAttribute("aria-pressed", on ? "true" : "false");
}
