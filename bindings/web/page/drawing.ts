// The bench as a picture: the same ink and the same kinds of line as the drawings of `spotwright layout`.
import { s } from "./dom";
import type { Outline, Point, Ray, Scene } from "./engine";
import { fixed } from "./format";
import { type Frame, length, left_of, minus, path_of, place, plus, unit } from "./frame";
import { t } from "./texts";

let patterns = 0;

/** How many times too wide the beam is drawn, so that it can be seen. */
export function widening(scene: Scene, frame: Frame): number {
  const [one, other] = scene.beam_edges;
  const wide = one[0] && other[0] ? length(minus(one[0], other[0])) * frame.scale : 0;
  const wanted = wide > 0 ? 16 / wide : 1;
  return [1, 2, 5, 10, 20].reduce((best, each) => (each <= wanted ? each : best), 1);
}

function line(frame: Frame, points: Point[], style: string, extra: Record<string, string> = {}): SVGElement {
  return s("polyline", { points: path_of(frame, points), class: style, ...extra });
}

function dot_at(frame: Frame, at: Point, radius: number, style: string): SVGElement {
  const [x, y] = place(frame, at);
  return s("circle", { cx: x.toFixed(2), cy: y.toFixed(2), r: radius, class: style });
}

export function label(x: number, y: number, text: string, style = "halo", anchor = "start"): SVGElement {
  return s("text", { x: x.toFixed(1), y: y.toFixed(1), class: style, "text-anchor": anchor }, text);
}

export function beam(scene: Scene, frame: Frame): SVGElement[] {
  const times = widening(scene, frame);
  const wide = scene.beam_edges.map((edge, side) =>
    edge.map((each, index) => {
      const opposite = scene.beam_edges[side === 0 ? 1 : 0][index] ?? each;
      const middle: Point = [(each[0] + opposite[0]) / 2, (each[1] + opposite[1]) / 2];
      return plus(middle, minus(each, middle), times);
    }),
  );
  const [one = [], other = []] = wide;
  const stop = scene.part ? scene.part.spot : null;
  const cut = (edge: Point[]) => (stop ? cut_at(edge, scene, stop) : edge);
  const first = cut(one);
  const second = cut(other);
  const rest: SVGElement[] = [];
  if (scene.principle === "triangulation") {
    const last = scene.spots[2];
    rest.push(line(frame, [scene.emitter, last], "axis", { id: "beam-axis" }));
  }
  return [
    s("polygon", { points: path_of(frame, [...first, ...second.slice().reverse()]), class: "beam" }),
    line(frame, first, "rim"),
    line(frame, second, "rim"),
    ...rest,
  ];
}

/** Points of a beam's edge up to the part: light does not go through it in the drawing. */
function cut_at(edge: Point[], scene: Scene, stop: Point): Point[] {
  const far = (each: Point) =>
    (each[0] - scene.emitter[0]) * scene.beam_direction[0] + (each[1] - scene.emitter[1]) * scene.beam_direction[1];
  const limit = far(stop);
  const kept: Point[] = [];
  for (const each of edge) {
    const before = kept[kept.length - 1];
    if (far(each) <= limit) kept.push(each);
    else {
      if (before) {
        const share = (limit - far(before)) / (far(each) - far(before) || 1);
        kept.push(plus(before, minus(each, before), share));
      }
      break;
    }
  }
  return kept;
}

function body_of(outline: Outline, up: Point, depth: number): Point[] {
  const below = outline.points.map((each) => plus(each, up, -depth));
  return outline.closed ? outline.points : [...outline.points, ...below.reverse()];
}

function hatch(id: string): SVGElement {
  const pattern = s("pattern", {
    id,
    width: 7,
    height: 7,
    patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  });
  pattern.append(s("line", { x1: 0, y1: 0, x2: 0, y2: 7, class: "hatch" }));
  return pattern;
}

export function part(scene: Scene, frame: Frame): SVGElement[] {
  const it = scene.part;
  if (!it) return [];
  const id = `hatch-${++patterns}`;
  const made: SVGElement[] = [];
  const depth = it.back_depth_mm ?? 9 / frame.scale;
  const clear = it.back_depth_mm !== null;
  if (!clear) made.push(hatch(id));
  for (const outline of it.surface) {
    const points = path_of(frame, body_of(outline, it.up, depth));
    made.push(s("polygon", { points, class: clear ? "glass" : "body", fill: clear ? null : `url(#${id})` }));
    made.push(
      outline.closed
        ? s("polygon", { points: path_of(frame, outline.points), class: "part" })
        : line(frame, outline.points, "part"),
    );
    if (it.backing_depth_mm !== null) {
      const lower = outline.points.map((each) => plus(each, it.up, -(it.backing_depth_mm ?? 0)));
      made.push(hatch(`${id}b`));
      made.push(
        s("polygon", {
          points: path_of(frame, body_of({ points: lower, closed: false }, it.up, 9 / frame.scale)),
          class: "body",
          fill: `url(#${id}b)`,
        }),
      );
      made.push(line(frame, lower, "back"));
    }
  }
  return made;
}

function chief(rays: Ray[]): Ray | null {
  return rays.reduce<Ray | null>(
    (best, each) => (!best || Math.abs(each.share) < Math.abs(best.share) ? each : best),
    null,
  );
}

function ray_points(from: Point, ray: Ray): Point[] {
  if (ray.hidden_at) return [from, ray.hidden_at];
  return ray.array ? [from, ray.lens, ray.array] : [from, ray.lens];
}

function rays_of_range(scene: Scene, frame: Frame): SVGElement[] {
  const styles = ["near", "axis", "far"] as const;
  return scene.rays.flatMap((rays, index) => {
    const ray = chief(rays);
    const from = scene.spots[index];
    return ray && from ? [line(frame, ray_points(from, { ...ray, hidden_at: null }), styles[index] ?? "axis")] : [];
  });
}

/** The cone of light that the lens takes in, and its middle. @param dark The array sees nothing of it. */
function light_of_part(scene: Scene, frame: Frame, dark = false): { under: SVGElement[]; over: SVGElement[] } {
  const from = scene.part?.spot;
  const under: SVGElement[] = [];
  const over: SVGElement[] = [];
  if (!from) return { under, over };
  const open = scene.part_rays.filter((each) => !each.hidden_at);
  const first = open[0];
  const last = open[open.length - 1];
  if (first && last && first !== last && !dark) {
    const points = [from, first.lens, first.array, last.array, last.lens].filter(
      (each): each is Point => each !== null,
    );
    under.push(s("polygon", { points: path_of(frame, points), class: "cone" }));
  }
  for (const each of scene.part_rays.filter((ray) => ray.hidden_at))
    over.push(line(frame, ray_points(from, each), "rim"));
  const middle = chief(open.length ? open : scene.part_rays);
  if (middle) {
    over.push(line(frame, ray_points(from, middle), dark ? "thin" : "light", { id: "chief-ray" }));
    if (middle.hidden_at) over.push(cross(frame, middle.hidden_at));
  }
  return { under, over };
}

function cross(frame: Frame, at: Point): SVGElement {
  const [x, y] = place(frame, at);
  return s("path", { d: `M${x - 5},${y - 5}l10,10m0,-10l-10,10`, class: "lost" });
}

export function lens(scene: Scene, frame: Frame): SVGElement[] {
  const [outer, inner] = scene.rims;
  const along = unit(minus(outer, inner));
  const across = left_of(along);
  const half = length(minus(outer, inner)) / 2;
  const bulge = Math.min(0.35 * half, 7 / frame.scale);
  const [ox, oy] = place(frame, outer);
  const [ix, iy] = place(frame, inner);
  const [ax, ay] = place(frame, plus(scene.lens, across, 2 * bulge));
  const [bx, by] = place(frame, plus(scene.lens, across, -2 * bulge));
  const stop = 13 / frame.scale;
  return [
    s("path", { d: `M${ox},${oy}Q${ax},${ay} ${ix},${iy}Q${bx},${by} ${ox},${oy}Z`, class: "glass" }),
    line(frame, [outer, plus(outer, along, stop)], "stop"),
    line(frame, [inner, plus(inner, along, -stop)], "stop"),
  ];
}

function array(scene: Scene, frame: Frame): SVGElement[] {
  const it = scene.array;
  if (!it) return [];
  const made = [line(frame, it.ends, "array")];
  const [near, reference, far] = it.images;
  made.push(
    dot_at(frame, near, 2.6, "dot near"),
    dot_at(frame, reference, 2.6, "dot"),
    dot_at(frame, far, 2.6, "dot far"),
  );
  if (it.image) made.push(dot_at(frame, it.image, 3.6, "spot"));
  return made;
}

function emitter(scene: Scene, frame: Frame): SVGElement[] {
  const [dx, dz] = scene.beam_direction;
  const across: Point = [-dz, dx];
  const wide = 17 / frame.scale;
  const deep = 34 / frame.scale;
  const face: Point[] = [plus(scene.emitter, across, wide), plus(scene.emitter, across, -wide)];
  const rear = face.map((each): Point => [each[0] - deep * dx, each[1] - deep * dz]).reverse();
  return [s("polygon", { points: path_of(frame, [...face, ...rear]), class: "steel" }), line(frame, face, "stop")];
}

function levels(scene: Scene, frame: Frame): SVGElement[] {
  const names = [t("near_end"), t("reference"), t("far_end")];
  const styles = ["near", "axis", "far"];
  const texts = ["halo of-near", "halo", "halo of-far"];
  const heights = scene.spots.map((each) => place(frame, each)[1]);
  const close = Math.max(0, 26 - Math.abs((heights[2] ?? 0) - (heights[0] ?? 0))) / 2; // names that would meet move apart
  return scene.spots.flatMap((at, index) => {
    if (index === 1 && scene.principle === "triangulation") return [];
    const [x, y] = place(frame, at);
    const apart = index === 0 ? -close : index === 2 ? close : 0;
    return [
      s("line", { x1: x - 62, x2: x + 40, y1: y, y2: y, class: styles[index] ?? "axis" }),
      label(x + 44, y + 4 + apart, names[index] ?? "", texts[index]),
    ];
  });
}

function mirror(scene: Scene, frame: Frame, on: boolean): SVGElement[] {
  const it = scene.reflection;
  const from = scene.part?.spot;
  if (!it || !from || !on) return [];
  const reach = 0.8 * length(minus(scene.emitter, scene.spots[1]));
  const end = plus(from, it.direction, reach);
  const [x, y] = place(frame, end);
  const tip = unit([it.direction[0], -it.direction[1]]);
  const side: Point = [-tip[1], tip[0]];
  const head = [
    [x, y],
    [x - 9 * tip[0] + 3.5 * side[0], y - 9 * tip[1] + 3.5 * side[1]],
    [x - 9 * tip[0] - 3.5 * side[0], y - 9 * tip[1] - 3.5 * side[1]],
  ];
  const second = it.misses_lens_mm > 0 ? t("mirror_misses", { mm: fixed(it.misses_lens_mm, 1) }) : t("mirror_meets");
  const to_right = it.direction[0] > 0.15 && x < frame.width - 190;
  const [lx, anchor] = to_right ? [x + 14, "start"] : [x - 14, "end"];
  const ly = Math.min(frame.height - 30, Math.max(20, y + (to_right ? 16 : 4)));
  return [
    line(frame, [from, end], "mirror"),
    s("polygon", { points: head.map((each) => each.join(",")).join(" "), class: "spot" }),
    label(lx, ly, t("mirror_beam"), "halo changed", anchor),
    label(lx, ly + 15, second, "halo changed", anchor),
  ];
}

/** Light that goes through a plate and comes back from its rear face. */
export function back_light(scene: Scene, frame: Frame): SVGElement[] {
  const it = scene.part?.back_light;
  const from = scene.part?.spot;
  if (!it || !from) return [];
  const points = [from, it.back, it.exit, ...(it.image ? [it.image] : [])];
  return [line(frame, points, "rim"), ...(it.image ? [dot_at(frame, it.image, 2.6, "spot")] : [])];
}

function flight(scene: Scene, frame: Frame): SVGElement[] {
  if (!scene.flight) return [];
  return scene.flight.field_edges.map((edge) => line(frame, edge, "thin"));
}

export interface Shown {
  mirror: boolean; // where the mirrored beam goes
  levels: boolean;
  dark?: boolean; // no peak on the array: no light is drawn to it
}

/** All of a scene, from the rear to the front. */
export function draw_scene(scene: Scene, frame: Frame, shown: Shown): SVGElement {
  const light = light_of_part(scene, frame, shown.dark ?? false);
  const housing = scene.housing
    ? [
        s("polygon", { points: path_of(frame, scene.housing.corners), class: "thin" }),
        ...scene.housing.windows.map((each) => line(frame, each, "edge")),
      ]
    : [];
  return s(
    "g",
    {},
    ...housing,
    ...light.under,
    ...flight(scene, frame),
    ...beam(scene, frame),
    ...(shown.levels ? levels(scene, frame) : []),
    ...part(scene, frame),
    ...rays_of_range(scene, frame),
    ...mirror(scene, frame, shown.mirror),
    ...back_light(scene, frame),
    ...emitter(scene, frame),
    ...light.over,
    ...lens(scene, frame),
    ...array(scene, frame),
    scene.part ? dot_at(frame, scene.part.spot, 4, "spot") : null,
  );
}

/** The state before: only what moves. */
export function draw_ghost(scene: Scene, frame: Frame): SVGElement {
  const surfaces = scene.part ? scene.part.surface.map((each) => line(frame, each.points, "part")) : [];
  const light = light_of_part(scene, frame).over.filter((each) => each.classList.contains("light"));
  const other = scene.array ? [line(frame, scene.array.ends, "array")] : [];
  const image = scene.array?.image ? [dot_at(frame, scene.array.image, 3.6, "spot")] : [];
  const spot = scene.part ? [dot_at(frame, scene.part.spot, 4, "spot")] : [];
  return s("g", { class: "ghost" }, ...surfaces, ...light, ...other, ...image, ...spot);
}
