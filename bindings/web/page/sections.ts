// The panels around the bench.
import type { Asker } from "./asker";
import { button, by_id, h, say } from "./dom";
import type { Look } from "./engine";
import { fixed } from "./format";
import { NumberField } from "./choosers";
import type { SignalPane } from "./signal";
import type { Stage } from "./stage";
import type { Store } from "./store";
import { type TextName, t } from "./texts";
import { next_patch } from "./things";
import { TimingLine } from "./timing";

export interface Sections {
  held: HTMLElement;
  compass: HTMLElement;
  signal: HTMLElement;
  flight: HTMLElement;
  strips: HTMLElement;
  verdict: HTMLElement;
  exposure: HTMLElement;
  account: HTMLElement;
  light_title: HTMLElement;
  light_note: HTMLElement;
  timing: TimingLine | null;
  show_reading(look: Look, truth: boolean): void;
  connect(stage: Stage, signal: SignalPane, store: Store, asker: Asker): void;
  draw(): void;
}

/** Averages go 1, 2, 4 ... 4096. */
const most_doublings = 12;

function averages(store: Store): { box: HTMLElement; draw(): void } {
  const output = h("output", { for: "averages" });
  const slider = h("input", { type: "range", id: "averages", min: 0, max: most_doublings, step: 1 });
  slider.addEventListener("input", () => store.adjust({ averages: 2 ** Number(slider.value) }));
  const draw = () => {
    slider.value = String(Math.log2(store.settings.averages));
    slider.setAttribute("aria-valuetext", String(store.settings.averages));
    say(output, String(store.settings.averages));
  };
  return { box: h("label", { class: "averages" }, h("span", {}, t("averages")), slider, output), draw };
}

function titled(id: string, name: TextName, ...beside: HTMLElement[]): { section: HTMLElement; title: HTMLElement } {
  const section = by_id(id);
  const title = h("h2", { id: `${id}-title` }, t(name));
  section.setAttribute("aria-labelledby", `${id}-title`);
  section.append(h("div", { class: "head" }, title, ...beside));
  return { section, title };
}

export function build_sections(): Sections {
  const bench = by_id("bench");
  bench.setAttribute("aria-label", t("bench"));
  say(document.querySelector(".skip") as HTMLElement, t("skip"));
  const held = h("div", { class: "held" });
  const compass = h("div", { class: "compass" });
  const account = h("p", { class: "note" });
  const buttons = h("div", { class: "row" });
  by_id("below").append(
    held,
    compass,
    buttons,
    h("details", { class: "why" }, h("summary", {}, t("account")), account),
  );

  const reading = h("strong", { class: "reading" });
  const note = h("span", { class: "note" });
  const near_place = h("span", {});
  const moving = h("span", { class: "moving" });
  const light = titled("light", "signal", near_place, note);
  const signal = h("div", { class: "pane-body" });
  const flight = h("div", { class: "plot", hidden: true });
  const exposure = h("div", { class: "fields" });
  light.section.append(signal, flight, exposure);

  const slider_place = h("div", { class: "averaging" });
  const strips = h("div", { class: "plot" });
  titled("readings", "readings", reading).section.append(strips, slider_place);

  const verdict = h("div", {});
  const tolerance_place = h("div", {});
  titled("verdict", "verdict", tolerance_place).section.append(verdict);

  let slider: ReturnType<typeof averages> | null = null;
  let tolerance: NumberField | null = null;

  return {
    held,
    compass,
    signal,
    flight,
    strips,
    verdict,
    exposure,
    account,
    light_title: light.title,
    light_note: note,
    timing: null,
    show_reading(look, truth) {
      const why = t(`validity_${look.validity}` as TextName);
      const places = look.kind === "array" ? 4 : 2;
      const text =
        look.reading_mm === null
          ? t("no_reading_why", { why })
          : `${t("reading_now")} ${fixed(look.reading_mm, places)}\u202fmm`;
      const true_text = truth ? ` (${t("truth")} ${fixed(look.true_mm, places)})` : "";
      say(reading, text + true_text);
      moving.hidden = near_place.hidden = look.kind !== "array";
    },
    connect(stage, pane, store, asker) {
      slider = averages(store);
      const line = h("div", { class: "plot timing" });
      slider_place.append(slider.box, line);
      this.timing = new TimingLine(store, line);
      tolerance = new NumberField(store, "requirement.tolerance_um", t("tolerance"), "um");
      tolerance_place.append(tolerance.box);
      const loupe = (name: "spot" | "array") =>
        button(t(name === "spot" ? "loupe_spot" : "loupe_array"), () => stage.enlarge(name), {
          id: `loupe-${name}`,
          "aria-pressed": "false",
          title: t("bigger"),
        });
      buttons.append(loupe("spot"), " ", loupe("array"));
      const near = button(
        t("around_spot"),
        () => {
          pane.near = !pane.near;
          near.setAttribute("aria-pressed", String(pane.near));
          pane.draw();
        },
        { "aria-pressed": "false" },
      );
      near_place.append(near);
      moving.append(
        button(t("another_patch"), () => store.settle(next_patch(store))),
        " ",
        stream_button(asker),
      );
      exposure.append(moving);
    },
    draw() {
      slider?.draw();
      tolerance?.draw();
    },
  };
}

/** The part moves on under the beam: each frame meets another patch, and the grains of speckle stream. */
function stream_button(asker: Asker): HTMLElement {
  let on = false;
  const press = button(
    t("streaming"),
    () => {
      on = !on;
      press.setAttribute("aria-pressed", String(on));
      if (on) void run();
    },
    { "aria-pressed": "false" },
  );
  const run = async (): Promise<void> => {
    while (on) {
      await asker.stream();
      await new Promise((done) => setTimeout(done, 120));
    }
  };
  return press;
}
