// Time of flight: the phase as a phasor that turns with distance, and the pulse that comes back.
import { Plot } from "./canvas";
import { set } from "./dom";
import type { PhaseLook, PulseLook } from "./engine";
import { fixed, significant } from "./format";
import type { Store } from "./store";
import { t } from "./texts";

export class FlightPane {
  private readonly plot: Plot;
  private look: PhaseLook | PulseLook | null = null;

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
  ) {
    this.plot = new Plot(parent, () => this.draw());
  }

  show(look: PhaseLook | PulseLook): void {
    this.look = look;
    this.draw();
  }

  draw(): void {
    const look = this.look;
    const pen = look && this.plot.begin();
    if (!look || !pen) return;
    if (look.kind === "phase") this.phasors(look, pen);
    else this.pulse(look);
    const reading = look.reading_mm === null ? t("no_reading") : `${fixed(look.reading_mm, 2)} mm`;
    set(this.plot.canvas, {
      "aria-label": `${t(look.kind === "phase" ? "signal_flight_phase" : "signal_flight_pulse")}. ${t("reading_now")}: ${reading}`,
    });
  }

  private phasors(look: PhaseLook, pen: CanvasRenderingContext2D): void {
    const { plot } = this;
    const { ink, type } = plot;
    const cell = plot.width / look.frequencies.length;
    const radius = Math.min(0.22 * cell, 0.5 * (plot.height - 2.2 * type));
    const most = Math.max(...look.frequencies.map((one) => one.amplitude_e), 1);
    look.frequencies.forEach((each, index) => {
      const cx = index * cell + radius + 6;
      const cy = radius + 4;
      this.dial(pen, cx, cy, radius);
      const long = radius * Math.min(1, each.amplitude_e / most);
      const tip: [number, number] = [cx + long * Math.cos(each.phase_rad), cy - long * Math.sin(each.phase_rad)];
      const turned = ((each.phase_rad % (2 * Math.PI)) + 2 * Math.PI) % (2 * Math.PI);
      pen.strokeStyle = ink.beam;
      pen.lineWidth = 5;
      pen.beginPath();
      pen.arc(cx, cy, 0.55 * radius, 0, -turned, true);
      pen.stroke();
      plot.line([[cx, cy], tip], ink.light, 2.4);
      pen.fillStyle = ink.light;
      pen.beginPath();
      pen.arc(tip[0], tip[1], 4, 0, 2 * Math.PI);
      pen.fill();
      const left = cx + radius + 12;
      plot.text(`${significant(each.frequency_MHz, 3)} MHz`, left, 1.2 * type, ink.ink, "left", true);
      const turns = each.wraps === null ? "" : t("wraps", { turns: each.wraps });
      plot.text(`${t("phase")} ${fixed((turned * 180) / Math.PI, 1)}\u00b0`, left, 2.4 * type, ink.ink);
      plot.text(turns, left, 3.6 * type, ink.grey);
      this.buckets(each.charges_e, each.expected_e, look.full_well_e, left, cell - 2 * radius - 40, pen);
    });
    plot.text(t("unambiguous", { mm: fixed(look.unambiguous_mm, 0) }), 6, plot.height - 5, ink.grey);
  }

  private dial(pen: CanvasRenderingContext2D, cx: number, cy: number, radius: number): void {
    pen.strokeStyle = this.plot.ink.pale;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.arc(cx, cy, radius, 0, 2 * Math.PI);
    pen.moveTo(cx - radius, cy);
    pen.lineTo(cx + radius, cy);
    pen.moveTo(cx, cy - radius);
    pen.lineTo(cx, cy + radius);
    pen.stroke();
  }

  private buckets(
    charges: number[],
    expected: number[],
    full: number,
    left: number,
    width: number,
    pen: CanvasRenderingContext2D,
  ): void {
    const { ink, height, type } = this.plot;
    const foot = height - 1.8 * type;
    const tall = foot - 5.4 * type;
    const step = width / charges.length;
    charges.forEach((each, index) => {
      const high = (tall * each) / full;
      pen.fillStyle = ink.beam;
      pen.fillRect(left + index * step, foot - high, step - 2, high);
      const y = foot - (tall * (expected[index] ?? 0)) / full;
      this.plot.line(
        [
          [left + index * step, y],
          [left + (index + 1) * step - 2, y],
        ],
        ink.light,
        1.5,
      );
    });
    this.plot.line(
      [
        [left, foot],
        [left + width, foot],
      ],
      ink.grey,
      1,
    );
    this.plot.line(
      [
        [left, foot - tall],
        [left + width, foot - tall],
      ],
      ink.ink,
      1,
      [2, 3],
    );
    this.plot.text(t("full_well"), left + width, foot - tall - 3, ink.ink, "right");
  }

  private pulse(look: PulseLook): void {
    const { plot } = this;
    const { ink, type } = plot;
    const area = { left: 4 * type, top: 10, width: plot.width - 4 * type - 8, height: plot.height - 2 * type - 12 };
    const first = look.time_ns[0] ?? 0;
    const last = look.time_ns[look.time_ns.length - 1] ?? 1;
    let most = look.threshold ?? 0;
    for (const each of look.signal) most = Math.max(most, each);
    if (look.counts) for (const each of look.counts) most = Math.max(most, each);
    const per = look.counts ? 1 : 1e9; // electrons per second are shown per ns
    const y_shown = plot.axis_y(area, 0, (1.15 * most || 1) / per, t(look.counts ? "counted" : "electrons_per_ns"));
    const y = (value: number) => y_shown(value / per);
    const x = plot.axis_x(area, first, last, t("time_axis"));
    const curve = function* (values: Float64Array): Generator<[number, number]> {
      for (let i = 0; i < values.length; ++i) yield [x(look.time_ns[i] ?? 0), y(values[i] ?? 0)];
    };
    if (look.counts) plot.line(curve(look.counts), ink.grey, 1);
    plot.line(curve(look.signal), ink.light, 1.6);
    if (look.threshold !== null) {
      plot.line(
        [
          [area.left, y(look.threshold)],
          [area.left + area.width, y(look.threshold)],
        ],
        ink.far,
        1.2,
        [9, 4],
      );
      plot.text(t("comparator"), area.left + area.width - 4, y(look.threshold) - 4, ink.far, "right");
    }
    if (look.arrival_ns !== null) {
      plot.line(
        [
          [x(look.arrival_ns), area.top],
          [x(look.arrival_ns), area.top + area.height],
        ],
        ink.ink,
        1.2,
      );
      plot.text(t("arrival"), x(look.arrival_ns) + 4, area.top + 1.2 * type, ink.ink);
    }
    if (this.store.settings.truth && look.arrival_ns !== null && look.reading_mm !== null) {
      const true_ns = look.arrival_ns + (look.true_mm - look.reading_mm) / look.mm_per_ns;
      plot.line(
        [
          [x(true_ns), area.top],
          [x(true_ns), area.top + area.height],
        ],
        ink.near,
        1.2,
        [1.5, 3],
      );
      plot.text(t("truth"), x(true_ns) + 4, area.top + 2.4 * type, ink.near);
    }
  }
}
