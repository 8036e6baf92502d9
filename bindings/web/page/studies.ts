// What takes time: exposure on a line of black and shiny parts, and the drift of a day.
import type { Asker } from "./asker";
import { type Area, Plot } from "./canvas";
import { button, by_id, calm, h, say } from "./dom";
import type { Example } from "./engine";
import { fixed, significant } from "./format";
import { type Drift, drift_of, with_zero } from "./drift";
import type { Store } from "./store";
import { type Series, series_of, worst_gap } from "./series";
import { t } from "./texts";

const resets = [0, 12, 2, 0.5]; // hours between zeros; 0: never

export class Studies {
  private readonly line_box: HTMLElement;
  private readonly drift_box: HTMLElement;
  private readonly line_text = h("p", { role: "status" });
  private readonly drift_text = h("p", { role: "status" });
  private readonly line_plot: Plot;
  private readonly drift_plot: Plot;
  private readonly reset = h("select", { "aria-label": t("drift_reset") });
  private series: Series | null = null;
  private drift: Drift | null = null;
  private shown = 1; // share of the curve that has passed

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
    private readonly list: Example[],
  ) {
    for (const each of resets)
      this.reset.append(h("option", { value: each }, each ? t("drift_hours", { hours: each }) : t("drift_never")));
    this.reset.addEventListener("change", () => this.draw_drift());
    const line = h("div", { class: "plot" });
    const drift = h("div", { class: "plot" });
    const head = (name: string, ...more: HTMLElement[]) => h("div", { class: "head" }, h("h2", {}, name), ...more);
    this.line_box = h(
      "section",
      { hidden: true, id: "line" },
      head(
        t("line_title"),
        button(t("line_load"), () => this.load_line()),
        button(t("line_run"), () => void this.run_line(), { class: "main" }),
      ),
      line,
      this.line_text,
    );
    const zero = h("label", { class: "choice" }, h("span", {}, t("drift_reset")), this.reset);
    this.drift_box = h(
      "section",
      { hidden: true, id: "drift" },
      head(
        t("drift_title"),
        zero,
        button(t("drift_run"), () => void this.run_drift(), { class: "main" }),
      ),
      drift,
      this.drift_text,
      h("p", { class: "note" }, t("drift_note", { kelvin: 8, hours: 0.5 })),
    );
    by_id("studies").setAttribute("aria-label", t("time_studies"));
    by_id("studies").append(this.line_box, this.drift_box);
    this.line_plot = new Plot(line, () => this.draw_line());
    this.drift_plot = new Plot(drift, () => this.draw_drift());
    const open = (box: HTMLElement, name: string) => button(name, () => (box.hidden = !box.hidden));
    by_id("studies").prepend(
      h(
        "div",
        { class: "head" },
        h("h2", {}, t("time_studies")),
        h("span", {}, open(this.line_box, t("line_title")), " ", open(this.drift_box, t("drift_title"))),
      ),
    );
  }

  show(which: "line" | "drift"): void {
    const box = which === "line" ? this.line_box : this.drift_box;
    box.hidden = false;
    document.documentElement.dataset["study"] = which;
    requestAnimationFrame(() => box.scrollIntoView({ block: "end", behavior: calm() ? "auto" : "smooth" }));
    void (which === "line" ? this.run_line() : this.run_drift());
  }

  /** Folds away what a lesson had opened. */
  hide(): void {
    this.line_box.hidden = this.drift_box.hidden = true;
    delete document.documentElement.dataset["study"];
    scrollTo({ top: 0 });
  }

  /** Lets a curve grow from the left in some seconds. */
  private play(seconds: number, draw: () => void): void {
    if (calm()) {
      this.shown = 1;
      draw();
      return;
    }
    const begun = performance.now();
    const step = (now: number) => {
      this.shown = Math.min(1, (now - begun) / (1000 * seconds));
      draw();
      if (this.shown < 1) requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  /** The demonstration's line, for whoever has none of his own. */
  private load_line(): void {
    const found = this.list.find((each) => each.name === "25-black-and-shiny-line");
    if (!found) return;
    this.store.replace({ toml: found.toml, set: {} });
    void this.run_line();
  }

  async run_line(): Promise<void> {
    say(this.line_text, t("working"));
    const scenario = this.store.now();
    try {
      const text = await this.asker.side.series(
        { toml: scenario.toml, set: { ...scenario.set, "run.readings": 2600 } },
        new Date(0).toISOString(),
      );
      if (!text) return;
      this.series = series_of(text, Math.abs(this.store.number("motion.across_mm_per_s")));
      this.play(6, () => this.draw_line());
    } catch (error) {
      say(this.line_text, error instanceof Error ? error.message : String(error));
    }
  }

  private area(plot: Plot, top: number, height: number): Area {
    return { left: 4 * plot.type, top, width: plot.width - 4.6 * plot.type, height };
  }

  /** Above: exposure of each reading. Below: brightest pixel as a share, lost readings crossed. */
  private draw_line(): void {
    const it = this.series;
    const pen = it && this.line_plot.begin();
    if (!it || !pen) return;
    const plot = this.line_plot;
    const { ink, type } = plot;
    const end = Math.max(1, Math.floor(this.shown * it.place_mm.length));
    const last = it.place_mm[it.place_mm.length - 1] ?? 1;
    const half = (plot.height - 3.4 * type) / 2;
    const upper = this.area(plot, 8, half - 8);
    const lower = this.area(plot, half + 1.2 * type, half - 8);
    const exposures = it.exposure_us.map((each) => Math.log10(each));
    const [low, high] = [Math.min(...exposures) - 0.1, Math.max(...exposures) + 0.1];
    const y1 = (value: number) => upper.top + upper.height - ((Math.log10(value) - low) / (high - low)) * upper.height;
    plot.line(
      [
        [upper.left, upper.top],
        [upper.left, upper.top + upper.height],
      ],
      ink.grey,
    );
    for (const value of [0.1, 1, 10, 100, 1000]) {
      if (Math.log10(value) < low || Math.log10(value) > high) continue;
      plot.line(
        [
          [upper.left, y1(value)],
          [upper.left + upper.width, y1(value)],
        ],
        ink.pale,
        0.5,
      );
      plot.text(significant(value, 1), upper.left - 5, y1(value) + 0.35 * type, ink.grey, "right");
    }
    const x = plot.axis_x(lower, 0, last, t("line_axis"));
    plot.line(
      it.exposure_us.slice(0, end).map((each, i): [number, number] => [x(it.place_mm[i] ?? 0), y1(each)]),
      ink.light,
      1.5,
    );
    plot.text(`${t("exposure")}, \u00b5s`, upper.left + 4, upper.top + type, ink.ink, "left", true);
    const shown = it.output_mm.slice(0, end);
    const valid = it.output_mm.filter((each) => !Number.isNaN(each));
    const [down, up] = [Math.min(...valid) - 0.05, Math.max(...valid) + 0.05];
    const y2 = plot.axis_y(lower, down, up, "");
    plot.line(
      shown.map((each, i): [number, number] => [x(it.place_mm[i] ?? 0), y2(each)]),
      ink.ink,
      1.2,
    );
    plot.text(`${t("reading_now")}, mm`, lower.left + 4, lower.top + type, ink.ink, "left", true);
    for (let i = 0; i < end; ++i)
      if (!it.valid[i]) plot.text("\u00d7", x(it.place_mm[i] ?? 0), lower.top + lower.height - 2, ink.light, "center");
    const lost = it.valid.slice(0, end).filter((each) => !each).length;
    say(this.line_text, t("line_text", { lost, all: end, blind: significant(worst_gap(it, end), 2) }));
    plot.canvas.setAttribute("aria-label", `${t("line_title")}. ${this.line_text.textContent ?? ""}`);
  }

  async run_drift(): Promise<void> {
    say(this.drift_text, t("working"));
    this.drift = await drift_of(this.asker, this.store.now()).catch((error: unknown) => {
      say(this.drift_text, error instanceof Error ? error.message : String(error));
      return null;
    });
    if (this.drift) this.play(6, () => this.draw_drift());
  }

  private draw_drift(): void {
    const it = this.drift;
    const pen = it && this.drift_plot.begin();
    if (!it || !pen) return;
    const plot = this.drift_plot;
    const { ink, type } = plot;
    const every = Number(this.reset.value);
    const zeroed = with_zero(it, every);
    const end = Math.max(2, Math.floor(this.shown * it.hours.length));
    const most = Math.max(0.1, ...it.error_um.map(Math.abs), ...zeroed.map(Math.abs)) * 1.1;
    const area = this.area(plot, 10, plot.height - 2.4 * type - 10);
    const y = plot.axis_y(area, -most, most, "\u00b5m");
    const x = plot.axis_x(area, 0, it.hours[it.hours.length - 1] ?? 10, t("drift_axis"));
    const curve = (values: number[]) =>
      values.slice(0, end).map((each, i): [number, number] => [x(it.hours[i] ?? 0), y(each)]);
    plot.line(curve(it.error_um), ink.light, 1.6);
    if (every > 0) plot.line(curve(zeroed), ink.ink, 1.6);
    const um = significant(Math.max(...it.error_um.map(Math.abs)), 2);
    const um_reset = significant(Math.max(...zeroed.map(Math.abs)), 2);
    say(this.drift_text, t("drift_text", { um, um_reset }));
    plot.text(
      `${fixed(it.temperature_C[end - 1] ?? 20, 1)} \u00b0C`,
      area.left + area.width,
      area.top + type,
      ink.ink,
      "right",
      true,
    );
    plot.canvas.setAttribute("aria-label", `${t("drift_title")}. ${this.drift_text.textContent ?? ""}`);
  }
}
