// Where each thing is held in the picture, and what a pull of the hand means.
import type { Point, Scene } from "./engine";
import { type Frame, dot, left_of, length, minus, place, plus, unit } from "./frame";
import { widening } from "./drawing";
import type { ThingName } from "./things";

export interface Pull {
  from: Point; // where the hand took hold, in the picture
  to: Point;
  scene: Scene; // as it was then
  frame: Frame;
  value: number; // as it was then
}

export interface Grip {
  name: ThingName;
  first: boolean; // its label is always shown
  side: "left" | "right" | "above" | "below"; // of the label
  at(scene: Scene, frame: Frame): Point | null; // in the picture
  pull(pull: Pull): number;
}

const degrees = 180 / Math.PI;

/** Tangent of the part at its spot, towards +x, in the sensor's frame. */
function along_part(scene: Scene): Point | null {
  const up = scene.part?.up;
  return up ? [up[1], -up[0]] : null;
}

function off(frame: Frame, from: Point, direction: Point, pixels: number): Point {
  return place(frame, plus(from, unit(direction), pixels / frame.scale));
}

/** By how much the hand turned about a point, in degrees, positive to the left. */
function turned(pull: Pull, centre: Point): number {
  const [cx, cy] = place(pull.frame, centre);
  const before = Math.atan2(cy - pull.from[1], pull.from[0] - cx);
  const now = Math.atan2(cy - pull.to[1], pull.to[0] - cx);
  const difference = (now - before) * degrees;
  return difference > 180 ? difference - 360 : difference < -180 ? difference + 360 : difference;
}

/** By how much the hand moved along a direction, in mm. */
function moved(pull: Pull, direction: Point): number {
  const way: Point = [(pull.to[0] - pull.from[0]) / pull.frame.scale, (pull.from[1] - pull.to[1]) / pull.frame.scale];
  return dot(way, unit(direction));
}

const origin: Point = [0, 0];

export const grips: Grip[] = [
  {
    name: "displacement",
    first: true,
    side: "left",
    at(scene, frame) {
      const along = along_part(scene);
      return scene.part && along ? off(frame, scene.part.spot, along, -88) : null;
    },
    pull: (pull) => pull.value + moved(pull, [0, -1]),
  },
  {
    name: "tilt",
    first: true,
    side: "right",
    at(scene, frame) {
      const along = along_part(scene);
      return scene.part && along ? off(frame, scene.part.spot, along, 112) : null;
    },
    pull: (pull) => pull.value - turned(pull, pull.scene.part?.spot ?? origin),
  },
  {
    name: "receiver",
    first: true,
    side: "right",
    at(scene, frame) {
      const reach = 0.6 * length(scene.lens);
      return scene.array ? place(frame, plus(origin, scene.receiver_axis, reach)) : null;
    },
    pull: (pull) => pull.value - turned(pull, origin),
  },
  {
    name: "lens",
    first: false,
    side: "right",
    at(scene, frame) {
      if (!scene.array) return null;
      const [outer, inner] = scene.rims;
      return off(frame, inner, minus(inner, outer), 32);
    },
    pull: (pull) => pull.value + moved(pull, pull.scene.receiver_axis),
  },
  {
    name: "aperture",
    first: false,
    side: "right",
    at(scene, frame) {
      if (!scene.array) return null;
      const [outer, inner] = scene.rims;
      return off(frame, outer, minus(outer, inner), 26);
    },
    pull(pull) {
      const [outer, inner] = pull.scene.rims;
      return pull.value + 2 * moved(pull, minus(outer, inner));
    },
  },
  {
    name: "emitter",
    first: false,
    side: "left",
    at: (scene, frame) => off(frame, scene.emitter, [-scene.beam_direction[0], -scene.beam_direction[1]], 17),
    pull: (pull) => pull.value - moved(pull, pull.scene.beam_direction),
  },
  {
    name: "waist",
    first: false,
    side: "left",
    at(scene, frame) {
      const edge = scene.beam_edges[0];
      const other = scene.beam_edges[1];
      const index = Math.floor(0.45 * edge.length);
      const [a, b] = [edge[index], other[index]];
      if (!a || !b) return null;
      const middle: Point = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      const out = a[0] < b[0] ? minus(a, middle) : minus(b, middle);
      const [x, y] = place(frame, plus(middle, out, widening(scene, frame)));
      return [x - 10, y];
    },
    pull: (pull) => pull.value * Math.exp((pull.from[0] - pull.to[0]) / 60),
  },
  {
    name: "array",
    first: false,
    side: "above",
    at(scene, frame) {
      if (!scene.array) return null;
      const [first, last] = scene.array.ends;
      return off(frame, last, minus(last, first), 20);
    },
    pull: (pull) => pull.value + turned(pull, pull.scene.array?.images[1] ?? origin),
  },
  {
    name: "sensor",
    first: false,
    side: "left",
    at(scene, frame) {
      const back: Point = [-scene.beam_direction[0], -scene.beam_direction[1]];
      const [x, y] = off(frame, scene.emitter, back, 50);
      const aside = left_of(back);
      return [x + 12 * aside[0], y - 12 * aside[1]];
    },
    pull: (pull) => pull.value - turned(pull, origin),
  },
];
