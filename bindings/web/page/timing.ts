// The time that one output takes, to scale: exposures, the period between them, the mean over them, and when it is out.
import { Plot } from "./canvas";
import { set } from "./dom";
import { significant } from "./format";
import type { Store } from "./store";
import { t } from "./texts";

export interface Timing {
  exposure_us: number;
  period_us: number;
  average: number; // readings of an output
}

const most_drawn = 48; // periods that can be told apart

/** A time in the unit in which it is short. */
export function time_text(us: number): string {
  if (us >= 1e6) return `${significant(us / 1e6, 3)} s`;
  return us >= 1000 ? `${significant(us / 1000, 3)} ms` : `${significant(us, 3)} \u00b5s`;
}

/** From the first exposure to the output, all readings of it in place. As `output_response_ms`, the exposure is part of
 * its period. */
export function delay_us({ period_us, average }: Timing): number {
  return average * period_us;
}

export class TimingLine {
  private readonly plot: Plot;
  private shown: Pick<Timing, "exposure_us" | "period_us"> | null = null;

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
  ) {
    this.plot = new Plot(parent, () => this.draw());
  }

  show(exposure_us: number, period_us: number): void {
    if (this.shown?.exposure_us === exposure_us && this.shown.period_us === period_us) return;
    this.shown = { exposure_us, period_us };
    this.draw();
  }

  draw(): void {
    if (!this.shown || !(this.shown.period_us > 0)) return;
    const timing: Timing = { ...this.shown, average: this.store.settings.averages };
    const words = {
      exposure: time_text(timing.exposure_us),
      period: time_text(timing.period_us),
      delay: time_text(delay_us(timing)),
      average: timing.average,
    };
    set(this.plot.canvas, { "aria-label": t("timing", words) });
    const pen = this.plot.begin();
    if (!pen) return;
    const { plot } = this;
    const { ink, type } = plot;
    const y = 0.95 * type;
    const step = (plot.width - 2) / timing.average;
    plot.line(
      [
        [1, y],
        [plot.width - 1, y],
      ],
      ink.grey,
      1,
    );
    pen.fillStyle = ink.light;
    const share = timing.exposure_us / timing.period_us;
    if (timing.average > most_drawn) pen.fillRect(1, y - 0.6 * type, plot.width - 2, 0.6 * type);
    else
      for (let i = 0; i < timing.average; ++i)
        pen.fillRect(1 + i * step, y - 0.6 * type, Math.max(1.5, step * share), 0.6 * type);
    // The output: an arrow's head at the end of the last period.
    pen.fillStyle = ink.ink;
    pen.beginPath();
    pen.moveTo(plot.width - 1, y);
    pen.lineTo(plot.width - 0.7 * type, y - 0.4 * type);
    pen.lineTo(plot.width - 0.7 * type, y + 0.4 * type);
    pen.fill();
    plot.text(t(timing.average > 1 ? "timing_many" : "timing_one", words), 0, y + 1.5 * type, ink.grey);
  }
}
