// States kept beside the present one, up to four. What the hand moves may move all of them.
import type { Asker } from "./asker";
import { Plot } from "./canvas";
import { button, by_id, calm, h, s, say } from "./dom";
import { draw_scene } from "./drawing";
import type { Case, View } from "./engine";
import { fixed } from "./format";
import { fit } from "./frame";
import { is_dark } from "./stage";
import type { Changes, Kept, Store } from "./store";
import { t } from "./texts";
import { lean_of } from "./things";

interface Pane {
  kept: Kept;
  picture: SVGSVGElement;
  plot: Plot;
  title: HTMLElement;
  level: HTMLElement;
  reading: HTMLElement;
  box: HTMLElement;
  view: View | null;
}

const letters = ["A", "B", "C", "D"];

function name_of({ letter, material, angles_deg, values }: Kept): string {
  const now = String(values["target.material"] ?? material).replace(/-/g, " ");
  const emitter = Number(values["emitter.angle_deg"] ?? angles_deg[0]);
  const receiver = Number(values["receiver.angle_deg"] ?? angles_deg[1]);
  const mount = lean_of(emitter, receiver) > 0.98 ? t("specular") : t("diffuse");
  return t("kept_name", { letter, material: now, mount });
}

export class KeptPane {
  private panes: Pane[] = [];
  private readonly row = h("div", { class: "panes" });
  private readonly linked = h("input", { type: "checkbox", id: "linked" });
  private readonly choosers = h("input", { type: "checkbox", id: "linked-choosers" });
  private last: Record<string, string> = {};

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
  ) {
    const section = by_id("kept");
    section.setAttribute("aria-label", t("kept"));
    this.linked.checked = store.settings.linked;
    this.linked.addEventListener("change", () => store.adjust({ linked: this.linked.checked }));
    this.choosers.checked = store.settings.linked_choosers;
    this.choosers.addEventListener("change", () => store.adjust({ linked_choosers: this.choosers.checked }));
    section.append(
      h(
        "div",
        { class: "head" },
        h("h2", {}, t("kept")),
        h("label", { class: "choice" }, this.linked, h("span", {}, t("linked"))),
        h("label", { class: "choice" }, this.choosers, h("span", {}, t("linked_choosers"))),
      ),
      this.row,
    );
    store.listen((event) => {
      if (event === "kept") this.build();
      if (event === "hold") void this.move(true);
      if (event === "settle") this.follow(store.chosen);
    });
  }

  keep(): void {
    const scenario: Case = { toml: this.store.scenario.toml, set: { ...this.store.scenario.set } };
    const letter = letters[Math.min(3, this.store.kept.length)] ?? "";
    const material = this.store.word("target.material");
    const angles_deg: Kept["angles_deg"] = [
      this.store.number("emitter.angle_deg"),
      this.store.number("receiver.angle_deg"),
    ];
    this.store.keep({ scenario, letter, material, angles_deg, values: {} });
    say(by_id("account"), t("keep_note", { letter }));
    by_id("kept").scrollIntoView({ block: "nearest", behavior: calm() ? "auto" : "smooth" });
  }

  recall(index: number): void {
    const kept = this.store.kept[index];
    if (kept) this.store.replace({ toml: kept.scenario.toml, set: { ...kept.scenario.set, ...kept.values } });
  }

  private build(): void {
    const section = by_id("kept");
    section.hidden = this.store.kept.length === 0;
    this.panes = this.store.kept.map((kept, index) => this.pane(kept, index));
    this.row.replaceChildren(...this.panes.map((each) => each.box));
    this.last = {};
    this.refresh();
  }

  private pane(kept: Kept, index: number): Pane {
    const picture = s("svg", { class: "dr", role: "img", "aria-label": name_of(kept), viewBox: "0 0 300 190" });
    const level = h("span", { class: "small-level" }, t("working"));
    const reading = h("span", { class: "note" });
    const plot_box = h("div", { class: "plot kept-plot" });
    const title = h("strong", {}, name_of(kept));
    const head = h("div", { class: "pane-head" }, title, level);
    const foot = h(
      "div",
      { class: "pane-head" },
      reading,
      button(t("recall"), () => this.recall(index), { "aria-label": `${t("recall")}: ${name_of(kept)}` }),
      button(t("drop"), () => this.store.drop(index), { "aria-label": `${t("drop")}: ${name_of(kept)}` }),
    );
    const box = h("div", { class: "pane" }, head, picture, plot_box, foot);
    const pane: Pane = {
      kept,
      picture,
      plot: new Plot(plot_box, () => this.draw_plot(pane)),
      title,
      level,
      reading,
      box,
      view: null,
    };
    return pane;
  }

  /** The kept scenario with what the hand has changed since it was kept. */
  private scenario(pane: Pane): Case {
    return { toml: pane.kept.scenario.toml, set: { ...pane.kept.scenario.set, ...pane.kept.values } };
  }

  /** Material, shape and numbers that are chosen move kept states only where that is asked for: else nothing could be
   * kept beside another material. The picture follows when the present one rests. */
  private follow(chosen: Changes): void {
    if (!this.store.settings.linked_choosers || Object.keys(chosen).length === 0) return;
    for (const { kept } of this.panes) Object.assign(kept.values, chosen);
  }

  private async move(preview: boolean): Promise<void> {
    if (this.store.settings.linked && preview)
      for (const each of this.panes) Object.assign(each.kept.values, this.store.held);
    await Promise.all(
      this.panes.map(async (pane, index) => {
        const view = await this.asker.bench.view(this.scenario(pane), { preview }, `kept${index}`).catch(() => null);
        if (!view) return;
        pane.view = view;
        this.draw(pane);
      }),
    );
  }

  /** The hand rests: exact pictures, and verdicts of the kept states. */
  refresh(): void {
    if (this.panes.length === 0) return;
    void this.move(false);
    this.panes.forEach((pane, index) => {
      const text = JSON.stringify(this.scenario(pane));
      if (this.last[index] === text) return;
      this.last[index] = text;
      say(pane.level, t("working"));
      void this.asker.bench
        .read(this.scenario(pane), `kept${index}`)
        .then((answer) => {
          if (!answer) {
            delete this.last[index]; // a newer question took its place
            return;
          }
          say(pane.level, t(answer.sentences.level));
          pane.level.className = `small-level ${answer.sentences.level}`;
        })
        .catch(() => say(pane.level, "\u2013"));
    });
  }

  private draw(pane: Pane): void {
    const { view } = pane;
    if (!view) return;
    say(pane.title, name_of(pane.kept));
    const frame = fit(view.scene, 300, 190, { left: 30, right: 20, top: 18, bottom: 18 });
    const shown = { mirror: false, levels: false, dark: is_dark(view.look) };
    pane.picture.replaceChildren(draw_scene(view.scene, frame, shown));
    const { look } = view;
    say(
      pane.reading,
      look.reading_mm === null
        ? t("no_reading_why", { why: t(`validity_${look.validity}`) })
        : `${t("reading_now")} ${fixed(look.reading_mm, 4)} mm`,
    );
    this.draw_plot(pane);
  }

  private draw_plot(pane: Pane): void {
    const look = pane.view?.look;
    if (look?.kind !== "array" || !pane.plot.begin()) return;
    const { plot } = pane;
    let most = 2 * look.threshold_e;
    for (const each of look.frame_e) most = Math.max(most, each);
    const at = (i: number, e: number): [number, number] => [
      ((i + 0.5) / look.frame_e.length) * plot.width,
      plot.height - 3 - (e / (1.1 * most)) * (plot.height - 6),
    ];
    plot.line(
      Array.from(look.frame_e, (e, i) => at(i, e)),
      plot.ink.light,
      1.3,
    );
    plot.line([at(0, look.threshold_e), at(look.frame_e.length, look.threshold_e)], plot.ink.far, 1, [9, 4]);
    plot.canvas.setAttribute("aria-label", `${t("signal")}: ${name_of(pane.kept)}`);
  }
}
