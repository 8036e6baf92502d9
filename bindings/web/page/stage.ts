// The bench: the scene to scale, its handles, the two loupes and the ghost of the state before.
import { calm, s, say, set } from "./dom";
import { draw_ghost, draw_scene, label, widening } from "./drawing";
import type { Point, View } from "./engine";
import { fixed, signed } from "./format";
import { type Frame, type Margin, fit, fits, length, minus, place } from "./frame";
import { type Grip, grips } from "./grips";
import { describe, listen_to_keys, spoken } from "./hold";
import { type Box, array_loupe, spot_loupe } from "./loupes";
import type { Store } from "./store";
import { t, thing_texts } from "./texts";
import { type ThingName, movable, put_within, thing } from "./things";

const shiny = /mirror|polished|glass|polycarbonate|gloss|film|acrylic|wafer|chrome|clear/;

/** No peak stands out: to draw light on the array would tell what is not so. */
export function is_dark(look: View["look"]): boolean {
  return look.kind === "array" && look.peaks.length === 0;
}

interface Handle {
  grip: Grip;
  group: SVGGElement;
  text: SVGTextElement;
}

export class Stage {
  readonly picture: SVGSVGElement;
  selected: ThingName | null = null;
  loupe_big = { spot: false, array: false };
  private readonly layers: Record<"ghost" | "scene" | "change" | "loupes" | "note" | "grips", SVGGElement>;
  private readonly handles: Handle[] = [];
  private view: View | null = null;
  private frame: Frame | null = null;
  private dragging = false;
  private pixels: [number, number] = [0, 0];
  private times = 1; // larger type draws the whole picture larger: lines, rings and all

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
    private readonly select: (name: ThingName) => void,
  ) {
    const layer = () => s("g");
    this.layers = { ghost: layer(), scene: layer(), change: layer(), loupes: layer(), note: layer(), grips: layer() };
    this.picture = s("svg", { class: "dr", role: "group", "aria-label": t("bench") }, ...Object.values(this.layers));
    parent.append(this.picture);
    for (const grip of grips) this.handles.push(this.make_handle(grip));
    // A click on a loupe does what its button below the bench does.
    this.layers.loupes.addEventListener("click", (event) => {
      const name = (event.target as Element).closest("[data-loupe]")?.getAttribute("data-loupe");
      if (name === "spot" || name === "array") this.enlarge(name);
    });
    new ResizeObserver(([entry]) => {
      const type = parseFloat(getComputedStyle(document.documentElement).fontSize);
      this.pixels = entry ? [entry.contentRect.width, entry.contentRect.height] : [0, 0];
      this.times = Math.max(1, Math.min(type / 14, this.pixels[0] / 430, this.pixels[1] / 340));
      this.frame = null;
      this.draw();
    }).observe(parent);
  }

  private make_handle(grip: Grip): Handle {
    const which = thing(grip.name);
    const text = s("text", { class: "halo" });
    const group = s(
      "g",
      { role: "slider", tabindex: 0, class: "grip", "data-thing": grip.name },
      s("circle", { r: 16, class: "hit" }),
      s("circle", { r: 7, class: "ring" }),
      s("circle", { r: 2, class: "point" }),
      s("g", { class: grip.first ? "tag always" : "tag" }, text),
    );
    this.layers.grips.append(group);
    group.addEventListener("focus", () => this.pick(grip.name));
    group.addEventListener("pointerdown", (event) => this.take(event, grip, group));
    listen_to_keys(group, this.store, which, () => this.begin());
    return { grip, group, text };
  }

  private pick(name: ThingName): void {
    this.selected = name;
    this.select(name);
  }

  /** Makes a loupe bigger, or smaller again. */
  enlarge(name: "spot" | "array"): void {
    this.loupe_big[name] = !this.loupe_big[name];
    document.getElementById(`loupe-${name}`)?.setAttribute("aria-pressed", String(this.loupe_big[name]));
    this.draw();
  }

  /** Keeps the state before as a ghost. */
  begin(): void {
    this.store.ghost = this.view;
    this.layers.ghost.style.opacity = "1";
    this.layers.change.style.opacity = "1";
  }

  private take(event: PointerEvent, grip: Grip, group: SVGGElement): void {
    if (event.button !== 0 || !this.view || !this.frame) return;
    event.preventDefault();
    group.focus({ preventScroll: true });
    group.setPointerCapture(event.pointerId);
    this.begin();
    this.dragging = true;
    const which = thing(grip.name);
    const start = { from: this.at(event), scene: this.view.scene, frame: this.frame, value: which.get(this.store) };
    const move = (next: PointerEvent) => {
      const value = grip.pull({ ...start, to: this.at(next) });
      if (Number.isFinite(value)) this.store.hold(put_within(this.store, which, value));
    };
    const end = () => {
      group.removeEventListener("pointermove", move);
      group.removeEventListener("pointerup", end);
      group.removeEventListener("pointercancel", end);
      this.dragging = false;
      this.store.settle();
    };
    group.addEventListener("pointermove", move);
    group.addEventListener("pointerup", end);
    group.addEventListener("pointercancel", end);
  }

  private at(event: PointerEvent): Point {
    const box = this.picture.getBoundingClientRect();
    return [(event.clientX - box.left) / this.times, (event.clientY - box.top) / this.times];
  }

  private margin(width: number, height: number): Margin {
    const small = width < 520;
    return small
      ? { left: 70, right: 70, top: 66, bottom: 74 }
      : {
          left: Math.min(190, 0.25 * width),
          right: Math.min(220, 0.26 * width),
          top: 62,
          bottom: Math.min(66, 0.14 * height),
        };
  }

  show(view: View): void {
    this.view = view;
    this.draw();
  }

  /** After the hand let go: the picture may take another scale. */
  rest(): void {
    const ghost_shown = this.store.ghost !== null;
    if (!ghost_shown) return;
    const fade = () => {
      if (this.dragging) return;
      this.store.ghost = null;
      this.layers.ghost.replaceChildren();
      this.layers.change.replaceChildren();
    };
    if (!calm()) {
      this.layers.ghost.style.opacity = "0";
      this.layers.change.style.opacity = "0.999";
    }
    setTimeout(fade, 1600);
  }

  draw(): void {
    const [width, height] = [this.pixels[0] / this.times, this.pixels[1] / this.times];
    if (!this.view || width < 40 || height < 40) return;
    const { scene, look } = this.view;
    const margin = this.margin(width, height);
    set(this.picture, { width: this.pixels[0], height: this.pixels[1], viewBox: `0 0 ${width} ${height}` });
    if (
      !this.frame ||
      this.frame.width !== width ||
      this.frame.height !== height ||
      (!this.dragging && !fits(this.frame, scene, margin))
    ) {
      this.frame = fit(scene, width, height, margin);
    }
    const frame = this.frame;
    const mirror = scene.reflection !== null && shiny.test(this.store.word("target.material"));
    this.layers.scene.replaceChildren(draw_scene(scene, frame, { mirror, levels: width > 420, dark: is_dark(look) }));
    this.draw_ghost(frame);
    const boxes = this.loupe_boxes(width, height);
    this.layers.loupes.replaceChildren();
    const spot = boxes.spot && spot_loupe(scene, look, frame, boxes.spot);
    const array = boxes.array && array_loupe(scene, look, frame, boxes.array);
    for (const [name, each] of [
      ["spot", spot],
      ["array", array],
    ] as const) {
      if (!each) continue;
      each.setAttribute("data-loupe", name);
      this.layers.loupes.append(each);
    }
    this.draw_notes(frame);
    this.draw_grips(frame);
  }

  loupe_boxes(width: number, height: number): { spot: Box | null; array: Box | null } {
    if (width < 480) {
      // On a small picture only what was asked for, and large enough to be read.
      const box = { y: 8, width: 150, height: 130 };
      return {
        spot: this.loupe_big.spot ? { ...box, x: 8 } : null,
        array: this.loupe_big.array ? { ...box, x: width - 158 } : null,
      };
    }
    const size = (big: boolean) =>
      Math.min(Math.max(150, 0.2 * width) * (big ? 2 : 1), 0.4 * width, (big ? 0.6 : 0.32) * height);
    const a = size(this.loupe_big.spot);
    const b = size(this.loupe_big.array);
    return {
      spot: { x: 12, y: 12, width: a, height: a },
      array: { x: width - 1.25 * b - 12, y: height - b - 14, width: 1.25 * b, height: b },
    };
  }

  private draw_ghost(frame: Frame): void {
    const before = this.store.ghost;
    this.layers.ghost.replaceChildren();
    this.layers.change.replaceChildren();
    if (!before || !this.view || !this.store.settings.ghost) return;
    this.layers.ghost.append(draw_ghost(before.scene, frame));
    this.layers.change.append(...this.changes(before, this.view, frame));
  }

  /** The three differences: part, spot on the array, reading. */
  private changes(before: View, now: View, frame: Frame): SVGElement[] {
    const made: SVGElement[] = [];
    const arrow = (from: Point, to: Point) => {
      if (length(minus(from, to)) > 3)
        made.push(s("line", { x1: from[0], y1: from[1], x2: to[0], y2: to[1], class: "change" }));
    };
    const [a, b] = [before.scene.part?.spot, now.scene.part?.spot];
    if (a && b) {
      const [from, to] = [place(frame, a), place(frame, b)];
      arrow([from[0] - 26, from[1]], [to[0] - 26, to[1]]);
      const way = now.scene.true_mm - before.scene.true_mm;
      if (this.store.settings.truth)
        made.push(
          label(
            to[0] - 30,
            Math.max(from[1], to[1]) + 26,
            t("changed_part", { mm: signed(fixed(way, 3), way) }),
            "halo changed",
            "end",
          ),
        );
    }
    const [c, d] = [before.scene.array, now.scene.array];
    if (c?.image && d?.image && c.image_px !== null && d.image_px !== null) {
      arrow(place(frame, c.image), place(frame, d.image));
      const [x, y] = place(frame, d.image);
      const way = d.image_px - c.image_px;
      made.push(
        label(
          Math.min(x + 14, frame.width - 150),
          y - 22,
          t("changed_spot", { px: signed(fixed(way, 1), way) }),
          "halo changed",
        ),
      );
    }
    const reading = now.look.reading_mm;
    const earlier = before.look.reading_mm;
    const way = (reading ?? 0) - (earlier ?? 0);
    const text =
      reading === null
        ? t("changed_reading_lost")
        : earlier === null
          ? ""
          : t("changed_reading", { mm: signed(fixed(way, 3), way) });
    if (text) made.push(label(frame.width / 2, 20, text, "halo changed", "middle"));
    return made;
  }

  private draw_notes(frame: Frame): void {
    const note: SVGElement[] = [];
    const { scene } = this.view as View;
    const bar = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000].reduce(
      (best, each) => (each * frame.scale < 110 ? each : best),
      0.05,
    );
    const [x, y] = [14, frame.height - 12];
    note.push(s("path", { d: `M${x},${y - 5}v6m0,-3h${(bar * frame.scale).toFixed(1)}m0,-3v6`, class: "edge" }));
    const times = widening(scene, frame);
    const text = `${fixed(bar, bar < 1 ? 1 : 0)} mm, ${t("to_scale")}${times > 1 && frame.width > 420 ? ". " + t("beam_wide", { times }) : ""}`;
    note.push(label(x, y - 10, text, "halo note"));
    const trouble = !scene.part ? t("no_part") : scene.part.hidden ? t("spot_hidden") : "";
    if (trouble) note.push(label(frame.width / 2, frame.height - 60, trouble, "halo changed", "middle"));
    this.layers.note.replaceChildren(...note);
  }

  private draw_grips(frame: Frame): void {
    const { scene } = this.view as View;
    for (const { grip, group, text } of this.handles) {
      const which = thing(grip.name);
      const at = movable(this.store, which) ? grip.at(scene, frame) : null;
      if (!at || !at.every(Number.isFinite)) {
        group.style.display = "none";
        continue;
      }
      group.style.display = "";
      const x = Math.min(frame.width - 14, Math.max(14, at[0]));
      const y = Math.min(frame.height - 14, Math.max(14, at[1]));
      set(group, { transform: `translate(${x.toFixed(1)},${y.toFixed(1)})` });
      describe(group, this.store, which);
      say(text, `${thing_texts[grip.name].name} ${spoken(this.store, which)}`);
      const small = frame.width < 520;
      const left = grip.side === "left" || x > frame.width - 150;
      const long = 6.4 * (text.textContent?.length ?? 0) + 20;
      const cut = left ? x < long : x > frame.width - long; // then it stands above its ring
      if (small || cut)
        set(text, {
          x: Math.min(0, frame.width - long / 2 - x) + Math.max(0, long / 2 - x),
          y: -15,
          "text-anchor": "middle",
        });
      else set(text, { x: left ? -15 : 15, y: 4, "text-anchor": left ? "end" : "start" });
      group.classList.toggle("small", small);
      group.classList.toggle("wide", frame.width > 900);
      group.classList.toggle("chosen", this.selected === grip.name);
    }
  }

  focus(name: ThingName): void {
    this.handles.find((each) => each.grip.name === name)?.group.focus();
  }
}
