// Two strips of readings side by side: the part stands, and each reading meets another patch. One slider of averages
// acts on both, and only one gets quiet.
import { type Area, Plot } from "./canvas";
import { set } from "./dom";
import type { Readings } from "./engine";
import { fixed, significant } from "./format";
import type { Store } from "./store";
import { t } from "./texts";

export interface Outputs {
  mm: Float64Array; // means of `average` successive readings each; NaN: none of them valid
  mean_mm: number;
  sd_um: number; // NaN: fewer than two
  lost_share: number; // of the readings behind them
}

/** Means of successive stretches of readings, each reading used once. */
export function outputs_of(readings: Readings, average: number, last: number, most: number): Outputs {
  const all = Math.floor(readings.mm.length / average);
  const end = Math.min(all, Math.floor(last / average));
  const begin = Math.max(0, end - most);
  const mm = new Float64Array(Math.max(0, end - begin));
  let lost = 0;
  for (let k = begin; k < end; ++k) {
    let sum = 0;
    let count = 0;
    for (let i = k * average; i < (k + 1) * average; ++i) {
      const value = readings.mm[i] ?? Number.NaN;
      if (Number.isNaN(value)) ++lost;
      else {
        sum += value;
        ++count;
      }
    }
    mm[k - begin] = count ? sum / count : Number.NaN;
  }
  const valid = mm.filter((each) => !Number.isNaN(each));
  const mean_mm = valid.length ? valid.reduce((a, b) => a + b, 0) / valid.length : Number.NaN;
  const square = valid.reduce((a, b) => a + (b - mean_mm) ** 2, 0);
  const sd_um = valid.length > 1 ? 1000 * Math.sqrt(square / (valid.length - 1)) : Number.NaN;
  return { mm, mean_mm, sd_um, lost_share: mm.length ? lost / (mm.length * average) : 0 };
}

export class StripPane {
  private readonly plot: Plot;
  private still: Readings | null = null;
  private moved: Readings | null = null;
  cursor = Number.POSITIVE_INFINITY; // readings that have passed
  summary: { still: Outputs; moved: Outputs } | null = null;

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
  ) {
    this.plot = new Plot(parent, () => this.draw());
  }

  show(still: Readings | null, moved: Readings | null): void {
    this.still = still;
    this.moved = moved;
    this.draw();
  }

  get count(): number {
    return this.still?.mm.length ?? 0;
  }

  draw(): void {
    const pen = this.plot.begin();
    if (!pen) return;
    const { plot } = this;
    const type = plot.type;
    if (!this.still || !this.moved) {
      plot.text(t("working"), plot.width / 2, plot.height / 2, plot.ink.grey, "center");
      return;
    }
    const average = this.store.settings.averages;
    const still = outputs_of(this.still, average, this.cursor, 160);
    const moved = outputs_of(this.moved, average, this.cursor, 160);
    this.summary = { still, moved };
    const truth = 1000 * this.still.true_mm;
    const middle = this.store.settings.truth
      ? truth
      : 1000 * (Number.isNaN(still.mean_mm) ? moved.mean_mm : still.mean_mm);
    const reach = this.reach(still, moved, middle);
    const stacked = plot.width < 30 * type;
    const half = (plot.width - 3.8 * type) / 2;
    const tall = plot.height / 2;
    const place = (side: number): Area =>
      stacked
        ? { left: 3.6 * type, top: side * tall + 1.5 * type, width: plot.width - 4.4 * type, height: tall - 3.4 * type }
        : { left: 3.6 * type + side * (half + 4), top: 1.5 * type, width: half - 8, height: plot.height - 3.4 * type };
    this.strip(place(0), still, this.moves() ? t("strip_moving") : t("strip_still"), middle, truth, reach, true);
    this.strip(place(1), moved, t("strip_moved"), middle, truth, reach, stacked);
    this.name(still, moved);
  }

  /** Whether the scenario itself moves the part. */
  private moves(): boolean {
    const speeds = [
      ["motion.along_mm_per_s", 0],
      ["motion.across_mm_per_s", 0],
      ["motion.across_mm_per_s", 1],
      ["motion.vibration_um", 0],
      ["motion.rotation_rpm", 0],
    ] as const;
    return speeds.some(([key, index]) => this.store.number(key, index) !== 0) || this.store.word("motion.path") !== "";
  }

  /** The scale is that of single readings, so that averaging is seen to narrow the band. */
  private reach(still: Outputs, moved: Outputs, middle: number): number {
    let most = 0.02;
    for (const each of [this.still, this.moved]) {
      if (each?.sd_um) most = Math.max(most, 2.6 * each.sd_um);
      if (each && each.mean_mm !== null) most = Math.max(most, 1.15 * Math.abs(1000 * each.mean_mm - middle));
    }
    for (const each of [still, moved])
      for (const mm of each.mm) if (!Number.isNaN(mm)) most = Math.max(most, 1.05 * Math.abs(1000 * mm - middle));
    return most;
  }

  private strip(
    area: Area,
    it: Outputs,
    name: string,
    middle: number,
    truth: number,
    reach: number,
    first: boolean,
  ): void {
    const { plot } = this;
    const { ink, type } = plot;
    const pen = plot.canvas.getContext("2d") as CanvasRenderingContext2D;
    const at_y = (um: number) => area.top + area.height / 2 - ((um - middle) / reach) * (area.height / 2);
    const from = this.store.settings.truth
      ? reach > 2000
        ? "mm_from_truth"
        : "from_truth"
      : reach > 2000
        ? "mm_from_mean"
        : "from_mean";
    const unit = reach > 2000 ? 1000 : 1;
    if (first) plot.axis_y(area, -reach / unit, reach / unit, t(from));
    else
      plot.line(
        [
          [area.left, area.top],
          [area.left, area.top + area.height],
        ],
        ink.pale,
        1,
      );
    const mean = 1000 * it.mean_mm;
    if (!Number.isNaN(it.sd_um)) {
      pen.fillStyle = ink.cone;
      const upper = Math.max(area.top, at_y(mean + it.sd_um));
      pen.fillRect(
        area.left,
        upper,
        area.width,
        Math.max(1.5, Math.min(area.top + area.height, at_y(mean - it.sd_um)) - upper),
      );
    }
    if (!Number.isNaN(mean))
      plot.line(
        [
          [area.left, at_y(mean)],
          [area.left + area.width, at_y(mean)],
        ],
        ink.light,
        1.2,
      );
    if (this.store.settings.truth) {
      plot.line(
        [
          [area.left, at_y(truth)],
          [area.left + area.width, at_y(truth)],
        ],
        ink.near,
        1.2,
        [1.5, 3],
      );
    }
    const step = area.width / Math.max(24, it.mm.length);
    const cross: [number, number][] = [];
    const radius = ((it.mm.length > 60 ? 1.4 : 2.4) * type) / 11;
    it.mm.forEach((mm, i) => {
      if (Number.isNaN(mm)) {
        cross.push([area.left + (i + 0.5) * step, area.top + area.height - 4]);
        return;
      }
      pen.fillStyle = ink.ink;
      pen.beginPath();
      pen.arc(area.left + (i + 0.5) * step, at_y(1000 * mm), radius, 0, 2 * Math.PI);
      pen.fill();
    });
    for (const [x, y] of cross) {
      plot.line(
        [
          [x - 2.5, y - 2.5],
          [x + 2.5, y + 2.5],
        ],
        ink.light,
        1.2,
      );
      plot.line(
        [
          [x - 2.5, y + 2.5],
          [x + 2.5, y - 2.5],
        ],
        ink.light,
        1.2,
      );
    }
    plot.text(name, area.left, area.top - 0.5 * type, ink.ink, "left", true);
    const scatter = Number.isNaN(it.sd_um) ? t("scatter_none") : t("scatter", { um: significant(it.sd_um, 2) });
    const lost = it.lost_share > 0 ? `, ${t("invalid_share", { share: significant(100 * it.lost_share, 2) })}` : "";
    const room = area.width > 20 * type;
    const about = Number.isNaN(mean) ? t("no_reading") : `${t("mean")} ${fixed(it.mean_mm, 4)} mm`;
    plot.text(
      room || Number.isNaN(mean) ? `${about}, ${scatter}${lost}` : `${scatter}${lost}`,
      area.left,
      area.top + area.height + 1.4 * type,
      ink.ink,
    );
  }

  private name(still: Outputs, moved: Outputs): void {
    const text = (it: Outputs) =>
      Number.isNaN(it.sd_um) ? t("scatter_none") : t("scatter", { um: significant(it.sd_um, 2) });
    set(this.plot.canvas, {
      "aria-label": `${t("strip_still")}: ${text(still)}. ${t("strip_moved")}: ${text(moved)}.`,
    });
  }
}
