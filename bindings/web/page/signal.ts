// Light on the array along its pixels: what is expected, what this frame holds, threshold and full well, the peaks and
// why one of them is taken, and the truth.
import { Plot } from "./canvas";
import { h, say, set } from "./dom";
import type { ArrayLook, Peak } from "./engine";
import { fixed, significant } from "./format";
import { describe, listen_to_keys } from "./hold";
import type { Store } from "./store";
import { t } from "./texts";
import { put_within, thing } from "./things";

export class SignalPane {
  private readonly plot: Plot;
  private readonly handle: HTMLElement;
  private readonly list: HTMLElement;
  private look: ArrayLook | null = null;
  private top = 1; // electrons at the upper end of the plot
  near = false; // only the pixels around the spot
  private area = { left: 46, top: 8, width: 10, height: 10 };

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
  ) {
    const box = h("div", { class: "plot" });
    this.handle = h("div", { role: "slider", tabindex: 0, class: "threshold" });
    this.list = h("ul", { class: "peaks", tabindex: 0, "aria-label": t("peaks") }); // it may scroll, so keys must reach it
    parent.append(box, this.list);
    this.plot = new Plot(box, () => this.draw());
    box.append(this.handle);
    const which = thing("threshold");
    listen_to_keys(this.handle, store, which, () => undefined);
    this.handle.addEventListener("pointerdown", (event) => {
      this.handle.setPointerCapture(event.pointerId);
      const move = (next: PointerEvent) => {
        const y = next.clientY - box.getBoundingClientRect().top;
        const electrons = ((this.area.top + this.area.height - y) / this.area.height) * this.top;
        store.hold(put_within(store, which, electrons / (this.look?.full_well_e ?? 1)));
      };
      this.handle.addEventListener("pointermove", move);
      this.handle.addEventListener(
        "lostpointercapture",
        () => {
          this.handle.removeEventListener("pointermove", move);
          store.settle();
        },
        { once: true },
      );
    });
  }

  show(look: ArrayLook): void {
    this.look = look;
    this.draw();
    this.tell_peaks(look);
  }

  private tell_peaks(look: ArrayLook): void {
    if (look.peaks.length === 0) {
      const why = look.reason ? ` ${look.reason}` : "";
      this.list.replaceChildren(h("li", {}, t("peaks_none") + why));
      return;
    }
    const shown = look.peaks
      .slice()
      .sort((a, b) => Number(b.chosen) - Number(a.chosen) || b.height_e - a.height_e)
      .slice(0, 4);
    this.list.replaceChildren(...shown.map((each) => this.tell_peak(each, look)));
  }

  private tell_peak(peak: Peak, look: ArrayLook): HTMLElement {
    const mark = h("span", { class: peak.chosen ? "mark yes" : "mark no" }, peak.chosen ? t("chosen") : t("rejected"));
    const where = `${fixed(peak.position_px ?? peak.highest_px, 1)} px, ${fixed((100 * peak.height_e) / look.full_well_e, 1)} %`;
    return h("li", {}, mark, ` ${where}: ${peak.why}`);
  }

  draw(): void {
    const look = this.look;
    const pen = look && this.plot.begin();
    if (!look || !pen) return;
    const { plot } = this;
    const { ink, type } = plot;
    const area = (this.area = {
      left: 3.6 * type,
      top: 10,
      width: plot.width - 3.6 * type - 10,
      height: plot.height - 2 * type - 12,
    });
    let most = 0;
    for (const each of look.frame_e) most = Math.max(most, each);
    for (const each of look.expected_e) most = Math.max(most, each);
    this.top = Math.max(1.12 * Math.min(most, 1.3 * look.saturation_e), 2.2 * look.threshold_e);
    const y = plot.axis_y(area, 0, this.top, t("signal_up"));
    const pixels = look.frame_e.length;
    const [from, to] = this.window(look, pixels);
    const x = plot.axis_x(area, from, to, t("signal_axis"));
    pen.save();
    pen.beginPath();
    pen.rect(area.left, area.top - 2, area.width, area.height + 4);
    pen.clip();
    const curve = function* (values: Float32Array): Generator<[number, number]> {
      for (let i = 0; i < values.length; ++i) yield [x(i + 0.5), y(values[i] ?? 0)];
    };
    this.fill(pen, look, x, y);
    plot.line(curve(look.smooth_e), ink.near, 1.2, [5, 3]);
    plot.line(curve(look.frame_e), ink.light, 1.4);
    for (let i = 0; i < pixels; ++i)
      if (look.saturated[i]) this.plot.text("\u25b2", x(i + 0.5), area.top + 8, ink.light, "center");
    if (look.saturation_e < this.top) {
      plot.line(
        [
          [area.left, y(look.saturation_e)],
          [area.left + area.width, y(look.saturation_e)],
        ],
        ink.ink,
        1,
        [2, 3],
      );
      plot.text(t("full_well"), area.left + area.width - 4, y(look.saturation_e) - 4, ink.ink, "right");
    }
    plot.line(
      [
        [area.left, y(look.threshold_e)],
        [area.left + area.width, y(look.threshold_e)],
      ],
      ink.far,
      1.2,
      [9, 4],
    );
    this.mark_range(look, x, area.top);
    if (this.store.settings.truth && look.truth_px !== null) {
      plot.line(
        [
          [x(look.truth_px + 0.5), area.top],
          [x(look.truth_px + 0.5), area.top + area.height],
        ],
        ink.near,
        1.2,
        [1.5, 3],
      );
      plot.text(t("truth"), x(look.truth_px + 0.5) + 4, area.top + 2.4 * type, ink.near);
    }
    if (look.position_px !== null)
      plot.line(
        [
          [x(look.position_px + 0.5), area.top],
          [x(look.position_px + 0.5), area.top + area.height],
        ],
        ink.ink,
        1,
      );
    pen.restore();
    this.legend(area.left + 6, area.top + 2.6 * type);
    plot.text(t("threshold"), area.left + 0.62 * area.width, y(look.threshold_e) - 5, ink.far);
    this.place_handle(y(look.threshold_e));
    this.name(look);
  }

  /** Which line is which, on the side that the spot leaves free. */
  private legend(x: number, y: number): void {
    const { ink, type, width } = this.plot;
    if (width < 32 * type) return;
    const place =
      (this.look?.position_px ?? 1e9) < (this.look?.frame_e.length ?? 0) / 3 ? x + 0.72 * this.area.width : x;
    this.plot.line(
      [
        [place, y],
        [place + 18, y],
      ],
      ink.light,
      1.4,
    );
    this.plot.text(t("frame"), place + 22, y + 0.35 * type, ink.ink);
    this.plot.line(
      [
        [place, y + 1.3 * type],
        [place + 18, y + 1.3 * type],
      ],
      ink.near,
      1.2,
      [5, 3],
    );
    this.plot.text(t("expected"), place + 22, y + 1.65 * type, ink.ink);
  }

  /** All pixels, or those around the spot and its peaks. */
  private window(look: ArrayLook, pixels: number): [number, number] {
    if (!this.near) return [0, pixels];
    const places = look.peaks.flatMap((each) => [each.first_px, each.last_px]);
    if (look.truth_px !== null) places.push(look.truth_px);
    if (places.length === 0) return [0, pixels];
    const [low, high] = [Math.min(...places), Math.max(...places)];
    const more = Math.max(20, 0.6 * (high - low));
    return [Math.max(0, Math.floor(low - more)), Math.min(pixels, Math.ceil(high + more))];
  }

  private fill(
    pen: CanvasRenderingContext2D,
    look: ArrayLook,
    x: (v: number) => number,
    y: (v: number) => number,
  ): void {
    const peak = look.peaks.find((each) => each.chosen);
    if (!peak) return;
    pen.fillStyle = this.plot.ink.cone;
    pen.beginPath();
    pen.moveTo(x(peak.first_px), y(0));
    for (let i = peak.first_px; i < peak.last_px; ++i) pen.lineTo(x(i + 0.5), y(look.frame_e[i] ?? 0));
    pen.lineTo(x(peak.last_px), y(0));
    pen.fill();
  }

  private mark_range(look: ArrayLook, x: (v: number) => number, top: number): void {
    const { ink, type } = this.plot;
    const mark = (at: number | null, colour: string, name: string) => {
      if (at === null) return;
      this.plot.line(
        [
          [x(at), top],
          [x(at), top + 8],
        ],
        colour,
        2,
      );
      this.plot.text(name, x(at), top + 8 + type, colour, "center");
    };
    mark(look.range_px[0], ink.near, t("near_end"));
    mark(look.range_px[1], ink.far, t("far_end"));
  }

  private place_handle(y: number): void {
    this.handle.style.top = `${y - 12}px`;
    this.handle.style.left = `${this.area.left - 12}px`;
    describe(this.handle, this.store, thing("threshold"));
  }

  /** The plot in a sentence, for those who cannot see it. */
  private name(look: ArrayLook): void {
    let most = 0;
    for (const each of look.frame_e) most = Math.max(most, each);
    const share = significant((100 * most) / look.full_well_e, 3);
    const peaks = look.peaks.length === 1 ? t("account_one_peak") : t("account_peaks", { count: look.peaks.length });
    set(this.plot.canvas, { "aria-label": `${t("signal")}. ${t("account_light", { share, peaks })}` });
  }

  caption(element: HTMLElement): void {
    const look = this.look;
    if (!look) return;
    const parts = [`${significant(look.exposure_us, 3)} \u00b5s`];
    if (look.preview) parts.push(t("preview_note"));
    else if (!look.exact_model) parts.push(t("more_light_to_come", { share: fixed(100 * look.rays_share, 0) }));
    say(element, parts.join(" \u00b7 "));
  }
}
