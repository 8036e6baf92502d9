// The line of time: readings pass at a speed that one can follow, from one a second to real time.
import type { Asker } from "./asker";
import { button, by_id, calm, h, say } from "./dom";
import { fixed, significant } from "./format";
import type { Store } from "./store";
import type { StripPane } from "./strips";
import { t } from "./texts";

const speeds = [1, 5, 20, 100, 1000]; // readings a second

export class TimeBar {
  private readonly press = button(t("play"), () => this.toggle(), { class: "stays" });
  private readonly speed = h("select", { "aria-label": t("speed") });
  private readonly place = h("input", {
    type: "range",
    min: 1,
    max: 1024,
    step: 1,
    class: "track-time",
    "aria-label": t("readings"),
  });
  private readonly text = h("span", { class: "note" });
  private playing = false;
  private last = 0;
  private at = 0;

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
    private readonly strips: StripPane,
  ) {
    for (const each of speeds) this.speed.append(h("option", { value: each }, t("per_second", { count: each })));
    this.speed.append(h("option", { value: 0 }, t("real_time")));
    this.speed.value = "20";
    this.place.addEventListener("input", () => {
      this.stop();
      this.at = Number(this.place.value);
      this.move();
    });
    by_id("bar").append(this.press, this.speed, this.place, this.text);
  }

  toggle(): void {
    if (this.playing) this.stop();
    else this.start();
  }

  private start(): void {
    this.playing = true;
    say(this.press, t("pause"));
    if (this.at >= this.strips.count) this.at = 0;
    this.last = performance.now();
    requestAnimationFrame((now) => this.step(now));
  }

  stop(): void {
    this.playing = false;
    say(this.press, t("play"));
  }

  private step(now: number): void {
    if (!this.playing) return;
    const wanted = Number(this.speed.value);
    const period = this.asker.answers.still?.period_us ?? 125;
    const rate = wanted || 1e6 / period;
    this.at += ((now - this.last) / 1000) * rate;
    this.last = now;
    if (this.at >= this.strips.count) {
      this.at = this.strips.count;
      this.stop();
    }
    this.move();
    const next = (later: number) => this.step(later);
    if (calm()) setTimeout(() => next(performance.now()), 500);
    else requestAnimationFrame(next);
  }

  private move(): void {
    this.strips.cursor = Math.max(1, Math.floor(this.at));
    this.strips.draw();
    this.tell();
  }

  /** New readings are there: all of them are shown, until one plays them. */
  draw(): void {
    const count = this.strips.count || this.asker.answers.still?.mm.length || 0;
    this.place.max = String(Math.max(1, count));
    if (!this.playing) {
      this.at = this.asker.answers.still?.mm.length ?? count;
      this.strips.cursor = Number.POSITIVE_INFINITY;
    }
    this.tell();
  }

  private tell(): void {
    const all = this.asker.answers.still?.mm.length ?? 0;
    const at = Math.min(all, Math.floor(this.at));
    const period = this.asker.answers.still?.period_us ?? 0;
    this.place.value = String(at);
    const average = this.store.settings.averages;
    const numbers = { reading: fixed(at, 0), all: fixed(all, 0), ms: significant((at * period) / 1000, 3) };
    say(this.text, `${t("time_shown", numbers)} \u00b7 ${t("means_of", { count: Math.floor(at / average), average })}`);
  }
}
