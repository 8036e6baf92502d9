// From the sensor's frame in mm to places in a picture.
import type { Point, Scene } from "./engine";

export interface Frame {
  scale: number; // picture units per mm
  x0: number; // of the origin
  y0: number;
  width: number;
  height: number;
}

export function place(frame: Frame, [x, z]: Point): Point {
  return [frame.x0 + x * frame.scale, frame.y0 - z * frame.scale];
}

export function back(frame: Frame, [x, y]: Point): Point {
  return [(x - frame.x0) / frame.scale, (frame.y0 - y) / frame.scale];
}

export function path_of(frame: Frame, points: Point[]): string {
  return points
    .map((each) =>
      place(frame, each)
        .map((v) => v.toFixed(2))
        .join(","),
    )
    .join(" ");
}

function corners_of(scene: Scene): Point[] {
  const points: Point[] = [scene.emitter, scene.lens, ...scene.rims, ...scene.spots];
  if (scene.array) points.push(...scene.array.ends);
  if (scene.part) points.push(scene.part.spot);
  if (scene.housing) points.push(...scene.housing.corners);
  return points.filter((each) => each.every(Number.isFinite));
}

export interface Margin {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** The frame in which a scene fits into a picture, upright and to scale. */
export function fit(scene: Scene, width: number, height: number, margin: Margin): Frame {
  const points = corners_of(scene);
  const xs = points.map((each) => each[0]);
  const zs = points.map((each) => each[1]);
  const [left, right] = [Math.min(...xs), Math.max(...xs)];
  const [low, high] = [Math.min(...zs), Math.max(...zs)];
  const room_x = width - margin.left - margin.right;
  const room_y = height - margin.top - margin.bottom;
  const scale = Math.max(1e-6, Math.min(room_x / Math.max(right - left, 1e-3), room_y / Math.max(high - low, 1e-3)));
  return {
    scale,
    x0: margin.left + (room_x - (right - left) * scale) / 2 - left * scale,
    y0: margin.top + (room_y - (high - low) * scale) / 2 + high * scale,
    width,
    height,
  };
}

/** Whether a frame still shows a scene well: all of it, and not small. */
export function fits(frame: Frame, scene: Scene, margin: Margin): boolean {
  const wanted = fit(scene, frame.width, frame.height, margin);
  if (frame.scale > 1.06 * wanted.scale || frame.scale < 0.85 * wanted.scale) return false;
  return corners_of(scene).every((each) => {
    const [x, y] = place(frame, each);
    return (
      x > 0.85 * margin.left &&
      x < frame.width - 0.75 * margin.right &&
      y > 0.8 * margin.top &&
      y < frame.height - 0.6 * margin.bottom
    );
  });
}

export function minus(a: Point, b: Point): Point {
  return [a[0] - b[0], a[1] - b[1]];
}

export function plus(a: Point, b: Point, times = 1): Point {
  return [a[0] + times * b[0], a[1] + times * b[1]];
}

export function dot(a: Point, b: Point): number {
  return a[0] * b[0] + a[1] * b[1];
}

export function length(a: Point): number {
  return Math.hypot(a[0], a[1]);
}

export function unit(a: Point): Point {
  const size = length(a) || 1;
  return [a[0] / size, a[1] / size];
}

/** Turned a quarter to the left. */
export function left_of(a: Point): Point {
  return [-a[1], a[0]];
}
