// What can be held on the bench: which key each thing moves, how far, in which steps. Where it sits in the picture and
// what a pull of the hand means is in grips.ts.
import type { Changes, Store } from "./store";

export type ThingName =
  | "displacement"
  | "tilt"
  | "receiver"
  | "lens"
  | "aperture"
  | "emitter"
  | "waist"
  | "array"
  | "turn"
  | "sensor"
  | "mount"
  | "threshold";

export interface Thing {
  name: ThingName;
  key: string;
  index: number | null; // of a pair
  unit: string;
  step: number; // of an arrow key; a tenth with Shift, ten times with Alt
  places: number;
  ratio?: boolean; // steps multiply instead of adding
  range(store: Store): [number, number];
  get(store: Store): number;
  put(store: Store, value: number): Changes;
}

function simple(
  name: ThingName,
  key: string,
  index: number | null,
  unit: string,
  step: number,
  places: number,
  range: (store: Store) => [number, number],
): Thing {
  return {
    name,
    key,
    index,
    unit,
    step,
    places,
    range,
    get: (store) => store.number(key, index ?? 0),
    put: (store, value) => ({ [key]: with_index(store, key, index, value) }),
  };
}

/** The value of a key in which one of its numbers is another. */
export function with_index(store: Store, key: string, index: number | null, value: number): number | number[] {
  if (index === null) return value;
  const all = store.value(key);
  const pair = Array.isArray(all) ? all.map(Number) : [0, 0];
  pair[index] = value;
  return pair;
}

function reach(store: Store): [number, number] {
  const near = store.number("mount.range_mm", 0);
  const far = store.number("mount.range_mm", 1);
  const more = 0.3 * (far - near);
  return [near - more, far + more];
}

/** Angle between the axes, and the share of it by which the emitter leans: 0 diffuse, 1 specular. */
export function mount_share(store: Store): number {
  return lean_of(store.number("emitter.angle_deg"), store.number("receiver.angle_deg"));
}

export function lean_of(emitter_deg: number, receiver_deg: number): number {
  const between = receiver_deg - emitter_deg;
  return between > 0.01 ? (-2 * emitter_deg) / between : 0;
}

/** From which on automatic exposure may choose; `advise` allows as little for a specular mount. */
export const shortest_us = 1e-4;

function put_mount(store: Store, share: number): Changes {
  const between = store.number("receiver.angle_deg") - store.number("emitter.angle_deg");
  const emitter = round(-0.5 * share * between, 4);
  const turned: Changes = {
    "emitter.angle_deg": emitter,
    "receiver.angle_deg": round(between + emitter, 4),
    "reading.calibrated_on": share > 0.98 ? "mirror" : "white-ceramic",
  };
  // A mirrored beam is thousands of times as bright as scattered light: no exposure for one suits the other.
  if (share <= 0.98) return turned;
  // The lens takes in a mirrored beam over a short range only, about a fiftieth of the distance.
  const reach = round(store.number("mount.reference_distance_mm") / 50, 2);
  const range = [
    Math.max(-reach, store.number("mount.range_mm", 0)),
    Math.min(reach, store.number("mount.range_mm", 1)),
  ];
  return { ...turned, "exposure.mode": "automatic", "exposure.exposure_us": shortest_us, "mount.range_mm": range };
}

/** The sensor turned about the beam is the part turned the other way: what has a direction turns with it. */
function put_turn(store: Store, value: number): Changes {
  const before = -store.number("target.lay_deg");
  const changes: Changes = { "target.lay_deg": wrap(-value) };
  for (const key of ["target.pattern.turn_deg", "target.feed_marks.turn_deg"]) {
    changes[key] = wrap(round(store.number(key) - (value - before), 3));
  }
  if ((Math.round(value / 90) - Math.round(before / 90)) % 2 !== 0) {
    for (const key of ["target.step.edge", "target.cylinder.axis", "target.groove.axis", "target.wave.axis"]) {
      changes[key] = store.word(key) === "parallel" ? "across" : "parallel";
    }
  }
  return changes;
}

function wrap(angle: number): number {
  const turned = ((((angle + 180) % 360) + 360) % 360) - 180;
  return round(turned, 3);
}

export function round(value: number, places: number): number {
  const scale = 10 ** places;
  return Math.round(value * scale) / scale;
}

export const things: Thing[] = [
  simple("displacement", "target.displacement_mm", null, "mm", 0.1, 3, reach),
  simple("tilt", "target.tilt_deg", 0, "deg", 1, 2, () => [-60, 60]),
  simple("receiver", "receiver.angle_deg", null, "deg", 1, 2, (store) => [
    Math.min(5, store.number("receiver.angle_deg")),
    75,
  ]),
  simple("lens", "receiver.distance_mm", null, "mm", 1, 2, (store) => [
    round(1.15 * store.number("receiver.focal_length_mm"), 2),
    Math.max(200, 2 * store.number("receiver.distance_mm")),
  ]),
  simple("aperture", "receiver.aperture_mm", null, "mm", 0.2, 2, (store) => [
    0.2,
    Math.max(2 * store.number("receiver.focal_length_mm"), store.number("receiver.aperture_mm")),
  ]),
  simple("emitter", "mount.reference_distance_mm", null, "mm", 1, 2, (store) => [
    round(store.number("mount.range_mm", 1) * 0.5 + 5, 1),
    Math.max(300, 2 * store.number("mount.reference_distance_mm")),
  ]),
  {
    name: "waist",
    key: "emitter.waist_radius_um",
    index: null,
    unit: "um",
    step: 1.05,
    places: 1,
    ratio: true,
    range: (store) => [5, Math.max(1000, store.number("emitter.waist_radius_um"))],
    get: (store) => store.number("emitter.waist_radius_um"),
    put: (store, value) => {
      const across = store.number("emitter.waist_radius_um", 1) / store.number("emitter.waist_radius_um");
      return { "emitter.waist_radius_um": [value, round(value * across, 2)] };
    },
  },
  simple("array", "receiver.detector_tilt_deg", null, "deg", 1, 2, () => [-85, 85]),
  {
    name: "turn",
    key: "target.lay_deg",
    index: null,
    unit: "deg",
    step: 5,
    places: 1,
    range: () => [-180, 180],
    get: (store) => 0 - store.number("target.lay_deg"),
    put: put_turn,
  },
  simple("sensor", "mount.tilt_deg", 0, "deg", 1, 2, () => [-60, 60]),
  {
    name: "mount",
    key: "emitter.angle_deg",
    index: null,
    unit: "",
    step: 0.05,
    places: 2,
    range: () => [0, 1],
    get: mount_share,
    put: put_mount,
  },
  {
    ...simple("threshold", "reading.threshold", null, "", 1.1, 4, () => [0.001, 0.9]),
    ratio: true,
  },
];

export function thing(name: ThingName): Thing {
  const found = things.find((each) => each.name === name);
  if (!found) throw new Error(`no thing "${name}"`);
  return found;
}

/** Whether a named sensor fixes the key, or the principle has no use for it. */
export function movable(store: Store, which: Thing): boolean {
  const check = store.check;
  if (!check) return false;
  if (check.fixed.includes(which.key)) return false;
  if (which.name === "mount" && check.fixed.includes("receiver.angle_deg")) return false;
  const flight = check.principle !== "triangulation";
  if (flight && ["receiver", "lens", "array", "mount", "aperture", "threshold"].includes(which.name)) return false;
  if (which.name === "aperture" && Array.isArray(store.value(which.key))) return false;
  return Number.isFinite(which.get(store));
}

/** Changes for a value, held within its range. */
export function put_within(store: Store, which: Thing, value: number): Changes {
  const [low, high] = which.range(store);
  const held = Math.min(high, Math.max(low, value));
  return which.put(store, round(held, which.places));
}

/** The part put down elsewhere: another patch of its surface under the beam, half a millimetre on. */
export function next_patch(store: Store): Changes {
  return { "target.patch_mm": [round(store.number("target.patch_mm") + 0.5, 3), store.number("target.patch_mm", 1)] };
}
