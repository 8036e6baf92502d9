// What each lesson sets up, what its buttons do, and which prediction is right. Its texts stand in texts.ts.
import type { Changes } from "./store";

export interface Step {
  scenario?: string; // another demonstration scenario
  set?: Changes;
  averages?: number;
  patch?: true; // another patch of the surface
  study?: "line" | "drift";
}

export interface Lesson {
  scenario: string;
  set: Changes;
  averages?: number;
  pane?: "readings"; // what a class sees large beside the bench; otherwise the light on the array
  right: number; // of the three predictions
  tries: Step[];
  answer: Step; // the state that the answer talks about
}

const specular: Changes = {
  "emitter.angle_deg": -15,
  "receiver.angle_deg": 15,
  "reading.calibrated_on": "mirror",
  "exposure.mode": "automatic",
  "exposure.exposure_us": 0.01,
  "mount.range_mm": [-1, 1],
  "target.tilt_deg": [0, 0],
  "target.material": "polished-steel",
};
const diffuse: Changes = {
  "emitter.angle_deg": 0,
  "receiver.angle_deg": 30,
  "reading.calibrated_on": "white-ceramic",
  "mount.range_mm": [-5, 5],
};
const warm: Changes = { "thermal.lens_shift_um_per_K": -0.3, "thermal.pointing_urad_per_K": 4 };

export const lessons: Lesson[] = [
  {
    scenario: "01-white-tile",
    set: {},
    right: 1,
    tries: [
      { set: { "target.displacement_mm": -4 } },
      { set: { "target.displacement_mm": 0 } },
      { set: { "target.displacement_mm": 4 } },
    ],
    answer: { set: { "target.displacement_mm": -4 } },
  },
  {
    scenario: "01-white-tile",
    set: { "receiver.aperture_mm": 3 },
    right: 1,
    tries: [
      { set: { "receiver.detector_tilt_deg": 0 } },
      { set: { "receiver.detector_tilt_deg": "scheimpflug" } },
      { set: { "target.displacement_mm": -4 } },
      { set: { "target.displacement_mm": 4 } },
    ],
    answer: { set: { "receiver.detector_tilt_deg": 0, "target.displacement_mm": -4 } },
  },
  {
    scenario: "01-white-tile",
    set: { "target.material": "polished-steel" },
    right: 2,
    tries: [
      {
        set: {
          ...diffuse,
          "exposure.mode": "fixed",
          "exposure.exposure_us": 1.8,
          "target.material": "white-ceramic",
          "target.tilt_deg": [0, 0],
        },
      },
      {
        set: {
          ...diffuse,
          "exposure.mode": "fixed",
          "exposure.exposure_us": 1.8,
          "target.material": "polished-steel",
          "target.tilt_deg": [0, 0],
        },
      },
      {
        set: {
          ...diffuse,
          "exposure.mode": "fixed",
          "exposure.exposure_us": 1.8,
          "target.material": "polished-steel",
          "target.tilt_deg": [15, 0],
        },
      },
      { set: specular },
    ],
    answer: { set: specular },
  },
  {
    scenario: "02-black-seal-too-dark",
    set: {},
    right: 1,
    tries: [
      { scenario: "02-black-seal-too-dark" },
      { scenario: "02-black-seal-too-dark", set: { "exposure.mode": "automatic", "exposure.period_us": [125, 4000] } },
      { scenario: "25-black-and-shiny-line", study: "line" },
    ],
    answer: { scenario: "25-black-and-shiny-line", study: "line" },
  },
  {
    scenario: "20-speckle-still-and-moving",
    set: {},
    averages: 1,
    pane: "readings",
    right: 1,
    tries: [{ averages: 1 }, { averages: 16 }, { averages: 256 }, { patch: true }],
    answer: { averages: 256 },
  },
  {
    scenario: "01-white-tile",
    set: {},
    averages: 1,
    pane: "readings",
    right: 1,
    tries: [
      { set: { "surroundings.temperature_C": 20, "target.displacement_mm": 0 } },
      { set: { "surroundings.temperature_C": 25 } },
      { set: { "target.displacement_mm": -5 } },
      { set: { "target.displacement_mm": 5 } },
    ],
    answer: { set: { "surroundings.temperature_C": 20, "target.displacement_mm": 0 } },
  },
  {
    scenario: "16-step-edge-across",
    set: {},
    right: 1,
    tries: [
      { scenario: "16-step-edge-across" },
      { scenario: "16-step-edge-across", set: { "target.step.position_mm": 3 } },
      { scenario: "17-step-edge-parallel" },
      { scenario: "18-roll-diameter" },
      { scenario: "19-shiny-groove" },
    ],
    answer: { scenario: "17-step-edge-parallel" },
  },
  {
    scenario: "14-clear-cover",
    set: {},
    right: 1,
    tries: [
      { scenario: "14-clear-cover" },
      { set: { "target.plate.thickness_mm": 0.3 } },
      { set: { "target.plate.thickness_mm": 0.1 } },
      { set: { "target.plate.thickness_mm": 1.1, "target.plate.backing": "mirror" } },
      { set: { "target.plate.thickness_mm": 1.1, "target.plate.backing": "mirror", "reading.choose": "strongest" } },
    ],
    answer: { scenario: "14-clear-cover" },
  },
  {
    scenario: "33-white-plastic",
    set: { "target.material": "white-ceramic" },
    pane: "readings",
    right: 1,
    tries: [
      { set: { "target.material": "white-ceramic", "reading.calibrated_on": "white-ceramic" } },
      { set: { "target.material": "white-pom", "reading.calibrated_on": "white-ceramic" } },
      { set: { "target.material": "translucent-polymer", "reading.calibrated_on": "white-ceramic" } },
      { set: { "target.material": "white-pom", "reading.calibrated_on": "white-pom" } },
    ],
    answer: { set: { "target.material": "white-pom", "reading.calibrated_on": "white-ceramic" } },
  },
  {
    scenario: "30-printed-border",
    set: { "target.pattern.position_mm": [2, 0] },
    pane: "readings",
    right: 1,
    tries: [
      { set: { "target.pattern.position_mm": [0, 0], "target.pattern.turn_deg": 0 } },
      { set: { "target.pattern.position_mm": [0.03, 0], "target.pattern.turn_deg": 0 } },
      { set: { "target.pattern.position_mm": [2, 0], "target.pattern.turn_deg": 0 } },
      { set: { "target.pattern.position_mm": [0, 0], "target.pattern.turn_deg": 90 } },
      { set: { "emitter.waist_radius_um": [20, 20] } },
    ],
    answer: {
      set: { "target.pattern.position_mm": [0, 0], "target.pattern.turn_deg": 0, "emitter.waist_radius_um": [40, 40] },
    },
  },
  {
    scenario: "01-white-tile",
    set: { ...warm, "reading.average": 16 },
    right: 1,
    tries: [
      { set: { "surroundings.temperature_C": 20 } },
      { set: { "surroundings.temperature_C": 25 } },
      { set: { "surroundings.temperature_C": 30 } },
      { study: "drift" },
    ],
    answer: { study: "drift" },
  },
  {
    scenario: "21-pallet-white",
    set: {},
    right: 1,
    tries: [
      { scenario: "21-pallet-white", set: triangle(500) },
      { scenario: "21-pallet-white", set: triangle(4000) },
      { scenario: "21-pallet-white" },
      { scenario: "24-pallet-black-pulsed" },
      { scenario: "21-pallet-white", set: { "flight.modulation_MHz": [20], "target.displacement_mm": 450 } },
    ],
    answer: { scenario: "21-pallet-white" },
  },
];

/** The pallet's sensor as a triangle at a distance, its lens 100 mm beside the beam and focused there. */
function triangle(distance_mm: number): Changes {
  const reach = 0.02 * distance_mm;
  const way = Math.hypot(distance_mm, 100);
  return {
    principle: "triangulation",
    "mount.reference_distance_mm": distance_mm,
    "mount.range_mm": [-reach, reach],
    "target.displacement_mm": 0,
    "target.tilt_deg": [0, 0],
    "receiver.distance_mm": Math.round(way * 100) / 100,
    "receiver.angle_deg": Math.round(((Math.atan2(100, distance_mm) * 180) / Math.PI) * 1e4) / 1e4,
    "emitter.waist_radius_um": [300, 300],
    "exposure.exposure_us": 1,
  };
}
