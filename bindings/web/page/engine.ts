// The engine behind the page: the same C++ as the command line, in a Worker. This file is the whole of what the page
// knows of it: types of questions and answers, and the class `Engine` that asks.
//
// Lengths, angles and times are in the unit that ends their name. Points are [x, z] of the sensor's frame in mm: x
// towards the receiver, z from the part to the sensor, the origin where beam and receiver axis cross. What does not
// exist is null. No answer is changed after it was given.

export type Point = [x: number, z: number];

// ---- questions ------------------------------------------------------------------------------------------------------

/** A value as it stands in a scenario file: in the unit of its key. null takes the key out: its default holds. */
export type Value = number | string | boolean | number[] | string[] | null;

/**
 * A scenario: its file, and keys set over it as by `--set`. While something is dragged only `set` changes; `edit` makes
 * one text of both.
 */
export interface Case {
  toml: string;
  set?: Record<string, Value>; // by dotted key: { "target.displacement_mm": 1.5 }
}

/** One thing wrong in a scenario. */
export interface Problem {
  key: string; // dotted; may be empty
  line: number; // from 1; 0: not in the text, but in `set` or a default
  column: number;
  message: string; // with the offending value in it
  allowed: string; // what would be accepted; may be empty
  hint: string; // nearest known name or what to try; may be empty
  text: string; // all of it, as the command line prints it
}

/** What a scenario that cannot be read gives instead of an answer. */
export class ScenarioProblem extends Error {
  constructor(readonly problems: Problem[]) {
    super(problems.map((each) => each.text).join("\n"));
    this.name = "ScenarioProblem";
  }
}

// ---- tables ---------------------------------------------------------------------------------------------------------

export type KeyKind =
  | "number"
  | "number-or-word"
  | "pair"
  | "list"
  | "texts"
  | "aperture" // a diameter, or two widths
  | "integer"
  | "text"
  | "word"
  | "peak-choice"; // a word or an index

export interface Key {
  key: string; // dotted
  section: string; // empty at the top level
  name: string;
  unit: string; // "mm", "um", ..., empty for none
  kind: KeyKind;
  words: string[]; // that may stand for a value
  low: number | null; // bounds of each number, as written; null: none
  high: number | null;
  low_open: boolean; // `low` itself is not allowed
  limits: string; // the same in words
  meaning: string;
  default: Value;
  of_sensor: boolean; // changing it builds and calibrates another sensor
}

/** An entry of `spotwright materials --json`. */
export interface Material {
  name: string;
  description: string;
  [entry: string]: unknown;
}

/** An entry of `spotwright sensors --json`. */
export interface SensorSummary {
  name: string;
  title: string;
  principle: string;
  [entry: string]: unknown;
}

export interface Tables {
  version: string;
  revision: string;
  keys: Key[];
  materials: Material[];
  sensors: SensorSummary[];
}

/** A demonstration scenario, put into the page when it is built. */
export interface Example {
  name: string; // "01-white-tile"
  title: string;
  toml: string;
  files: { name: string; text: string }[]; // that it names
}

// ---- answers --------------------------------------------------------------------------------------------------------

export interface Check {
  title: string;
  principle: string;
  values: Record<string, Value>; // every key, defaults and what a sensor file brings included; {} with problems
  texts: Record<string, string>; // the same as TOML text
  computed: Record<string, number>; // keys that are a word for "worked out", with the number that was worked out
  fixed: string[]; // keys that the named sensor fixes
  offers: Record<string, Offer>; // what it lets its user set
  problems: Problem[]; // empty: the scenario can be read
}

export interface Offer {
  bounds: [number, number] | null;
  values: number[];
  words: string[];
  text: string; // "1 to 2000 us", "one of 1, 2, 4"
}

export interface Edit {
  toml: string; // comments kept
  problems: Problem[]; // of the new text
}

export interface Outline {
  points: Point[];
  closed: boolean; // goes on from its last point to its first
}

/** Near end of the range, reference point, far end. */
export type Three<T> = [near: T, reference: T, far: T];

/** Light from the part through one place of the aperture to the array. */
export interface Ray {
  share: number; // place in the aperture: -1 and 1 are the rims, 0 the centre, + outward
  lens: Point;
  array: Point | null; // null: hidden by the part, or beside the array's plane
  on_array: boolean;
  hidden_at: Point | null; // where the part stops it
}

export interface ArrayGeometry {
  ends: [Point, Point]; // of pixel 0 and of the last
  pixels: number;
  images: Three<Point>; // of the ends of the range and the reference point
  images_px: Three<number>;
  image: Point | null; // of the lit point, by the chief ray
  image_px: number | null;
  image_edges_px: [number, number] | null; // of its 1/e^2 edges
  tilt_deg: number; // from the lens plane
  scheimpflug_deg: number; // that would have the whole range in focus
}

export interface Part {
  surface: Outline[]; // cut by the plane of the mounting, within `half_width_mm` about the spot
  half_width_mm: number;
  up: Point; // unit: normal of the reference surface
  tilt_deg: number; // as it is drawn, the sensor's own tilt included
  spot: Point; // where the beam's axis lands
  spot_normal: Point; // unit
  spot_edges: [Point, Point] | null; // where the beam's 1/e^2 edges land
  hidden: boolean; // the part hides its spot from all of the lens
  back_depth_mm: number | null; // of a plate's back face below the front
  backing_depth_mm: number | null;
  back_light: { back: Point; exit: Point; image: Point | null; image_px: number | null } | null;
}

/** A mirror's beam: where light goes that is reflected as at a mirror. */
export interface Reflection {
  direction: Point; // unit, of the beam's axis after the part; in the plane of the mounting
  misses_lens_mm: number; // distance of its axis from the lens's rim; <= 0: it goes through the lens
}

export interface Scene {
  principle: string;
  emitter: Point; // centre of its face
  beam_direction: Point; // unit, from the emitter to the part
  beam_edges: [Point[], Point[]]; // 1/e^2, from the emitter to beyond the range
  beam_radius_um: Three<number>; // in the plane of the mounting
  spots: Three<Point>; // of the beam's axis
  lens: Point; // centre
  rims: [Point, Point]; // of the aperture, outward first
  receiver_axis: Point; // unit, from the reference point to the lens
  angle_between_axes_deg: number;
  measurable_mm: [number | null, number | null]; // displacements; null: any
  array: ArrayGeometry | null; // null for time of flight
  rays: Three<Ray[]>; // of ends and reference point; empty lists for time of flight
  part_rays: Ray[]; // of the lit point
  part: Part | null; // null: the beam misses it, or it stands far outside the range
  reflection: Reflection | null;
  displacement_mm: number; // of the part's reference surface
  true_mm: number; // of the lit point
  housing: { corners: Point[]; windows: [Point, Point][] } | null;
  flight: FlightScene | null;
  layout: Record<string, unknown>; // `spotwright layout --json`
}

export interface FlightScene {
  field_edges: [Point[], Point[]]; // outside of them the detector sees nothing
  unambiguous_mm: number;
  frequencies_MHz: number[];
}

export type Validity = "valid" | "too_dark" | "saturated" | "no_peak" | "out_of_range" | "ambiguous";

export interface Peak {
  first_px: number; // pixels [first, last)
  last_px: number;
  highest_px: number;
  height_e: number;
  position_px: number | null; // null: cannot be located
  reading_mm: number | null; // what the sensor would say if it took this peak
  validity: Validity; // what a reading of it would be
  chosen: boolean;
  why: string; // in words: why chosen or not
}

export interface LookOptions {
  /** true: for a hand that moves: light by the spot model, without speckle and, for a new sensor, without calibration. */
  preview?: boolean;
  /** true: light that is traced ray by ray arrives part by part, with each question one more, until `exact_model`. */
  growing?: boolean;
  /** Which reading's frame; 0. */
  index?: number;
  /** Which patch of the surface, without a preview; null or 0: the one where the part stands. */
  patch?: number | null;
}

/** The light of one pose on the array and what is made of it. */
export interface ArrayLook {
  kind: "array";
  preview: boolean;
  exact_model: boolean; // false: a preview, or some of the rays are yet to be traced
  rays_share: number; // of the rays that were, by the ray model
  expected_e: Float32Array; // per pixel, mean of a frame, above background
  smooth_e: Float32Array; // the same without speckle
  frame_e: Float32Array; // this frame; what a saturated pixel shows is `saturation_e`
  saturated: Uint8Array;
  threshold_e: number;
  saturation_e: number;
  full_well_e: number;
  background_e: number;
  exposure_us: number;
  period_us: number;
  peaks: Peak[];
  range_px: [number | null, number | null]; // near and far end of the range
  truth_px: number | null; // where the calibration has the lit point
  true_mm: number;
  position_px: number | null;
  reading_mm: number | null;
  geometry_mm: number | null; // by the chief ray of the position, without calibration
  validity: Validity;
  reason: string; // in words; empty if valid
}

/** One reading of a phase shift: buckets and the phasor of each frequency. */
export interface PhaseLook {
  kind: "phase";
  preview: boolean;
  frequencies: {
    frequency_MHz: number;
    charges_e: number[]; // of this reading's buckets
    expected_e: number[];
    phase_rad: number; // of this reading
    amplitude_e: number;
    offset_e: number;
    wraps: number | null; // whole turns that are added to it
    period_mm: number; // of distance
  }[];
  full_well_e: number;
  exposure_us: number;
  period_us: number;
  unambiguous_mm: number;
  true_mm: number;
  reading_mm: number | null;
  validity: Validity;
  reason: string;
}

/** One reading of pulses: the comparator's signal, or the histogram of photons. */
export interface PulseLook {
  kind: "pulse";
  preview: boolean;
  time_ns: Float64Array;
  signal: Float64Array; // photoelectrons per second, or expected counts of a bin
  counts: Float64Array | null; // of this reading; null where nothing is counted
  threshold: number | null;
  arrival_ns: number | null; // of this reading
  mm_per_ns: number;
  exposure_us: number;
  period_us: number;
  unambiguous_mm: number;
  true_mm: number;
  reading_mm: number | null;
  validity: Validity;
  reason: string;
}

export type Look = ArrayLook | PhaseLook | PulseLook;

/** Scene and light of one pose: one question while something is dragged. */
export interface View {
  scene: Scene;
  look: Look;
}

export interface ReadingsOptions {
  count: number; // 1 to 65536
  first?: number; // index of the first; 0
  moved?: boolean; // each reading meets another patch; false: the part stands
}

/** Single readings, before averages; averages of them are `mean` of any stretch of the valid ones. */
export interface Readings {
  first: number;
  mm: Float64Array; // NaN where invalid
  validity: Uint8Array; // index in `validities`
  validities: Validity[];
  period_us: number;
  true_mm: number;
  mean_mm: number | null;
  sd_um: number | null;
  valid_share: number;
}


/** What `spotwright read --json` or `budget --json` prints, and the same in words. */
export interface Answer {
  json: Record<string, unknown>;
  sentences: Sentences;
}

export type Level = "stable" | "marginal" | "unstable" | "unreadable";

export interface Sentences {
  level: Level;
  verdict: string; // one line, without a full stop
  next_step: string; // what to try first; empty for a stable part
  covers: string; // what the verdict answers for
  reasons: string[]; // the decisive one first
}

/** A change that advice tried: an entry of `spotwright advise --json`, with the keys to set. */
export interface Suggestion {
  text: string;
  set: Record<string, Value>; // keys may be `design.KEY` and `KEY[0]`, as in `--set`
  level: Level; // that it leads to
  json: Record<string, unknown>;
}

export interface Advice {
  json: Record<string, unknown>; // `spotwright advise --json`
  summary: string; // one sentence
  level: Level; // as it is
  suggestions: Suggestion[]; // those that reach `stable` first, the cheapest of them first; then the rest, best first
}

// ---- asking ---------------------------------------------------------------------------------------------------------

export interface Questions {
  tables: [Record<string, never>, Tables];
  check: [Case, Check];
  edit: [Case, Edit];
  scene: [Case, Scene];
  look: [Case & LookOptions, Look];
  view: [Case & LookOptions, View];
  readings: [Case & ReadingsOptions, Readings];
  read: [Case, Answer];
  budget: [Case, Answer];
  advise: [Case & { seconds: number }, Advice];
  layoutSvg: [Case, string];
  readingSvg: [Case, string];
  report: [Case & { date: string }, string];
  series: [Case & { date: string }, string];
  put: [{ name: string; text: string }, null];
}
export type Kind = keyof Questions;

interface Wish {
  kind: Kind;
  lane: string;
  question: unknown;
  settle: (answer: unknown) => void;
  fail: (error: Error) => void;
}

/** What a worker sends back. */
interface Reply {
  answer?: unknown;
  problems?: Problem[];
  error?: string;
}

/** A Worker that is asked one question at a time. */
class Line {
  private worker: Worker | null = null;
  private asked: Wish | null = null;
  private waiting: Wish[] = [];
  private readonly files = new Map<string, unknown>(); // given before: a new worker gets them again
  private owed = 0; // replies to those

  constructor(private readonly source: () => string) {}

  /** A newer wish of the same kind and lane takes the place of one that waits, which resolves to null. */
  ask(wish: Wish): void {
    const same = this.waiting.findIndex((each) => each.kind === wish.kind && each.lane === wish.lane);
    const place = same < 0 ? this.waiting.length : same;
    const [dropped] = this.waiting.splice(place, 1, wish);
    dropped?.settle(null);
    this.next();
  }

  /** Ends what is asked and all that waits: they resolve to null. The next question starts anew. */
  stop(): void {
    this.worker?.terminate();
    this.worker = null;
    this.owed = 0;
    for (const each of [this.asked, ...this.waiting]) each?.settle(null);
    this.asked = null;
    this.waiting = [];
  }

  private next(): void {
    if (this.asked) return;
    this.asked = this.waiting.shift() ?? null;
    if (!this.asked) return;
    this.worker ??= this.start();
    if (this.asked.kind === "put") this.files.set(this.asked.lane, this.asked.question);
    this.worker.postMessage({ kind: this.asked.kind, question: this.asked.question });
  }

  private start(): Worker {
    // From disk a Worker can only come from a Blob.
    const url = URL.createObjectURL(new Blob([this.source()], { type: "text/javascript" }));
    const worker = new Worker(url);
    worker.onmessage = (event: MessageEvent<Reply>) => {
      if (worker === this.worker) this.take(event.data);
    };
    worker.onerror = (event) => {
      if (worker !== this.worker) return;
      // A worker that broke is not asked again.
      this.worker?.terminate();
      this.worker = null;
      this.owed = 0;
      this.take({ error: event.message || "the engine stopped" });
    };
    this.owed = this.files.size;
    for (const question of this.files.values()) worker.postMessage({ kind: "put", question });
    return worker;
  }

  private take(reply: Reply): void {
    if (this.owed > 0) {
      --this.owed;
      return;
    }
    const wish = this.asked;
    this.asked = null;
    if (reply.problems) wish?.fail(new ScenarioProblem(reply.problems));
    else if (reply.error !== undefined) wish?.fail(new Error(reply.error));
    else wish?.settle(reply.answer);
    this.next();
  }
}

function embedded(id: string): string {
  return document.getElementById(id)?.textContent ?? "";
}

/**
 * Asks the engine. Every method gives a promise: of the answer; of null if a newer question of the same kind and lane
 * came first; or a rejected one with a `ScenarioProblem` for a scenario that cannot be read. `check` and `edit` bring
 * the problems in their answer.
 *
 * A lane keeps questions of one kind apart, for panes beside each other. What takes long (budget, advice, report,
 * series, pictures) goes to a second worker, so that the scene never waits for it.
 */
export class Engine {
  private readonly front: Line;
  private readonly back: Line;

  constructor(source: () => string = () => embedded("engine-text") + "\n" + embedded("worker-text")) {
    this.front = new Line(source);
    this.back = new Line(source);
  }

  tables(): Promise<Tables | null> {
    return this.ask(this.front, "tables", {}, "");
  }

  /** Never rejects because of the scenario. */
  check(scenario: Case, lane = ""): Promise<Check | null> {
    return this.ask(this.front, "check", scenario, lane);
  }

  /** The file with `set` written into it. Never rejects because of the scenario. */
  edit(scenario: Case, lane = ""): Promise<Edit | null> {
    return this.ask(this.front, "edit", scenario, lane);
  }

  scene(scenario: Case, lane = ""): Promise<Scene | null> {
    return this.ask(this.front, "scene", scenario, lane);
  }

  look(scenario: Case, options: LookOptions = {}, lane = ""): Promise<Look | null> {
    return this.ask(this.front, "look", { ...scenario, ...options }, lane);
  }

  /** Scene and look together. */
  view(scenario: Case, options: LookOptions = {}, lane = ""): Promise<View | null> {
    return this.ask(this.front, "view", { ...scenario, ...options }, lane);
  }

  /** The same beside the scene's own questions: for light that is traced ray by ray. */
  viewGrowing(scenario: Case, options: LookOptions, lane = ""): Promise<View | null> {
    return this.ask(this.back, "view", { ...scenario, ...options, growing: true }, lane);
  }

  readings(scenario: Case, options: ReadingsOptions, lane = ""): Promise<Readings | null> {
    return this.ask(this.front, "readings", { ...scenario, ...options }, lane);
  }

  read(scenario: Case, lane = ""): Promise<Answer | null> {
    return this.ask(this.back, "read", scenario, lane);
  }

  budget(scenario: Case, lane = ""): Promise<Answer | null> {
    return this.ask(this.back, "budget", scenario, lane);
  }

  /** What would help, within so many seconds. */
  advise(scenario: Case, seconds: number, lane = ""): Promise<Advice | null> {
    return this.ask(this.back, "advise", { ...scenario, seconds }, lane);
  }

  layoutSvg(scenario: Case): Promise<string | null> {
    return this.ask(this.back, "layoutSvg", scenario, "");
  }

  readingSvg(scenario: Case): Promise<string | null> {
    return this.ask(this.back, "readingSvg", scenario, "");
  }

  /** HTML. @param date ISO 8601, to be written into it. */
  report(scenario: Case, date: string): Promise<string | null> {
    return this.ask(this.back, "report", { ...scenario, date }, "");
  }

  /** CSV. @param date ISO 8601, to be written into it. */
  series(scenario: Case, date: string): Promise<string | null> {
    return this.ask(this.back, "series", { ...scenario, date }, "");
  }

  /** A file that scenarios may name, such as a table of heights. */
  async put(name: string, text: string): Promise<void> {
    await Promise.all([
      this.ask(this.front, "put", { name, text }, name),
      this.ask(this.back, "put", { name, text }, name),
    ]);
  }

  /** Ends what runs in the background; its promises resolve to null. */
  stopBackground(): void {
    this.back.stop();
  }

  private ask<K extends Kind>(
    line: Line,
    kind: K,
    question: Questions[K][0],
    lane: string,
  ): Promise<Questions[K][1] | null> {
    return new Promise((settle, fail) => {
      line.ask({ kind, lane, question, settle: settle as (answer: unknown) => void, fail });
    });
  }
}

/** The demonstration scenarios in the page. */
export function examples(): Example[] {
  return JSON.parse(embedded("examples-text") || "[]") as Example[];
}
