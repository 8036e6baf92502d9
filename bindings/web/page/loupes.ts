// Two loupes: the lit spot on the part, and the pixels of the array around its image.
import { s } from "./dom";
import type { ArrayLook, Look, Point, Scene } from "./engine";
import { fixed, significant } from "./format";
import { type Frame, dot, length, minus, place } from "./frame";
import { back_light, label, part } from "./drawing";
import { t } from "./texts";

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

let clips = 0;

function glass(box: Box): { group: SVGElement; inside: SVGElement } {
  const id = `loupe-${++clips}`;
  const rect = { x: box.x, y: box.y, width: box.width, height: box.height, rx: 6 };
  const inside = s("g", { "clip-path": `url(#${id})` });
  const group = s(
    "g",
    {},
    s("clipPath", { id }, s("rect", rect)),
    s("rect", { ...rect, class: "loupe" }),
    inside,
    s("rect", { ...rect, class: "edge" }),
  );
  return { group, inside };
}

function leader(box: Box, to: Point): SVGElement {
  const x = Math.min(box.x + box.width, Math.max(box.x, to[0]));
  const y = Math.min(box.y + box.height, Math.max(box.y, to[1]));
  return s("line", { x1: x, y1: y, x2: to[0], y2: to[1], class: "thin" });
}

/** Width in mm that the loupe shows: the spot, or what it stands on, where that has a shape or a depth. */
function field_of(scene: Scene, spot_mm: number): number {
  const it = scene.part;
  if (!it) return 2.5 * spot_mm;
  const heights = it.surface.flatMap((outline) => outline.points.map((each) => dot(minus(each, it.spot), it.up)));
  const rise = heights.length ? Math.max(...heights) - Math.min(...heights) : 0;
  const shape = rise > 0.002 * it.half_width_mm ? Math.min(3.2 * rise, 1.6 * it.half_width_mm) : 0;
  return Math.max(2.5 * spot_mm, shape, 2.4 * (it.back_depth_mm ?? 0));
}

/** The spot, with the beam's true width. */
export function spot_loupe(scene: Scene, look: Look, frame: Frame, box: Box): SVGElement | null {
  const it = scene.part;
  if (!it || !it.spot_edges) return null;
  const wide = Math.max(length(minus(it.spot_edges[0], it.spot_edges[1])), 1e-6);
  const scale = box.width / field_of(scene, wide);
  const near: Frame = {
    scale,
    x0: box.x + box.width / 2 - it.spot[0] * scale,
    y0: box.y + 0.62 * box.height + it.spot[1] * scale,
    width: box.width,
    height: box.height,
  };
  const { group, inside } = glass(box);
  const [a, b] = it.spot_edges.map((each) => place(near, each)) as [Point, Point];
  const up = 2 * box.height;
  const [dx, dz] = scene.beam_direction;
  const top = (p: Point) => `${(p[0] - dx * up).toFixed(1)},${(p[1] + dz * up).toFixed(1)}`;
  const points = `${a.join(",")} ${b.join(",")} ${top(b)} ${top(a)}`;
  inside.append(s("polygon", { points, class: "beam" }), ...part(scene, near));
  inside.append(s("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: "light" }));
  if (look.kind === "array") inside.append(...light_on_part(look, scene, a, b));
  inside.append(...back_light(scene, near));
  for (const each of scene.part_rays) {
    const to = place(near, each.lens);
    const from = place(near, it.spot);
    inside.append(s("line", { x1: from[0], y1: from[1], x2: to[0], y2: to[1], class: "rim" }));
  }
  const um = significant(1000 * wide, 3);
  const text = box.width > 125 ? t("spot_wide", { um }) : `${um} \u00b5m`;
  return s("g", {}, leader(box, place(frame, it.spot)), group, label(box.x + 8, box.y + box.height - 8, text, "halo"));
}

/** First pixel and number of pixels that a loupe on the array shows. */
export function loupe_window(scene: Scene, look: ArrayLook): [number, number] {
  const pixels = look.frame_e.length;
  const edges = scene.array?.image_edges_px;
  const middle = look.position_px ?? scene.array?.image_px ?? pixels / 2;
  const half = Math.max(16, Math.min(60, edges ? 1.4 * Math.abs(edges[1] - edges[0]) : 24));
  const first = Math.max(0, Math.min(pixels - 2 * half, Math.round(middle - half)));
  return [Math.round(first), Math.min(pixels, Math.round(2 * half))];
}

const shades = 16; // of light, each one path: a picture of some hundred rectangles would take longer than its model

/** Light that falls on cells beside each other, darker the more there is; `corners` of the cell from one place to the next. */
function shaded(light: number[], corners: (from: number, to: number) => string): SVGElement[] {
  const cells: string[][] = Array.from({ length: shades + 1 }, () => []);
  light.forEach((value, i) => cells[Math.round(shades * Math.pow(Math.min(1, value), 0.6))]?.push(corners(i, i + 1)));
  return cells.flatMap((list, shade) =>
    shade && list.length ? [s("path", { d: list.join(""), class: "grain", "fill-opacity": shade / shades })] : [],
  );
}

function upright(x: number, y: number, width: number, height: number): string {
  return `M${x.toFixed(2)},${y.toFixed(2)}h${width.toFixed(2)}v${height.toFixed(2)}h${(-width).toFixed(2)}z`;
}

/** The light of the spot as the array sees it, laid back on the part: with its speckle, where the model has it. */
function light_on_part(look: ArrayLook, scene: Scene, a: Point, b: Point): SVGElement[] {
  const edges = scene.array?.image_edges_px;
  if (!edges) return [];
  const [from, to] = edges;
  const first = Math.max(0, Math.ceil(Math.min(from, to)));
  const light = Array.from(look.expected_e.slice(first, Math.max(first, Math.floor(Math.max(from, to)) + 1)));
  const most = Math.max(...light, 0.02 * look.full_well_e);
  const along = minus(b, a);
  const size = length(along) || 1;
  const deep = along[0] < 0 ? -9 : 9; // towards the sensor
  const up: Point = [(along[1] / size) * deep, (-along[0] / size) * deep];
  const at = (px: number): Point => {
    const share = Math.min(1, Math.max(0, (px - from) / (to - from)));
    return [a[0] + share * along[0], a[1] + share * along[1]];
  };
  return shaded(
    light.map((each) => Math.max(0, each) / most),
    (one, other) => {
      const [p, q] = [at(first + one - 0.5), at(first + other - 0.5)];
      const corners = [p, q, [q[0] + up[0], q[1] + up[1]], [p[0] + up[0], p[1] + up[1]]] as Point[];
      return `M${corners.map((each) => each.map((v) => v.toFixed(2)).join(",")).join("L")}z`;
    },
  );
}

/** Pixels as they fill with light: speckle, where the model has it, shows as grains. */
export function array_loupe(scene: Scene, look: Look, frame: Frame, box: Box): SVGElement | null {
  if (look.kind !== "array" || !scene.array) return null;
  const [first, count] = loupe_window(scene, look);
  const { group, inside } = glass(box);
  const wide = box.width / count;
  const tall = 0.42 * box.height;
  let most = look.full_well_e * 0.02;
  for (let i = first; i < first + count; ++i) most = Math.max(most, look.frame_e[i] ?? 0);
  const light = Array.from({ length: count }, (_, i) => Math.max(0, look.frame_e[first + i] ?? 0) / most);
  inside.append(...shaded(light, (from) => upright(box.x + from * wide, box.y + 22, wide + 0.1, tall)));
  for (const name of ["bar", "over"]) {
    const bars = light.flatMap((value, i) => {
      if ((look.saturated[first + i] ? "over" : "bar") !== name) return [];
      const tall = value * 0.4 * box.height;
      return [upright(box.x + i * wide, box.y + box.height - 4 - tall, wide + 0.1, tall)];
    });
    if (bars.length) inside.append(s("path", { d: bars.join(""), class: name }));
  }
  const at = (px: number) => box.x + (px - first + 0.5) * wide;
  if (look.position_px !== null) {
    inside.append(
      s("line", {
        x1: at(look.position_px),
        x2: at(look.position_px),
        y1: box.y + 20,
        y2: box.y + box.height,
        class: "edge",
      }),
    );
  }
  const edges = scene.array.image_edges_px;
  const px = edges ? fixed(Math.abs(edges[1] - edges[0]), 1) : "";
  const text = !edges ? t("loupe_array") : box.width > 125 ? t("image_wide", { px }) : `${px} px`;
  const to = scene.array.image ?? scene.array.images[1];
  return s("g", {}, leader(box, place(frame, to)), group, label(box.x + 8, box.y + 15, text, "halo"));
}
