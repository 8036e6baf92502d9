// A day compressed to seconds: the sensor warms after switching on, then follows the hall. The course of temperature is
// invented for the demonstration; each error is the engine's reading at that temperature, without speckle.
import type { Asker } from "./asker";
import type { Case } from "./engine";
import { t } from "./texts";

export interface Drift {
  hours: number[];
  temperature_C: number[];
  error_um: number[];
}

const warm_up_K = 8;
const time_constant_h = 0.5;
const hall_K = 4; // between morning and afternoon
const day_h = 10;
const points = 201;

export function temperature_at(hours: number): number {
  return 20 + warm_up_K * (1 - Math.exp(-hours / time_constant_h)) + hall_K * Math.sin((Math.PI * hours) / day_h) ** 2;
}

/** Reads the part at some temperatures and interpolates between them. */
export async function drift_of(asker: Asker, scenario: Case): Promise<Drift> {
  const knots: [number, number][] = [];
  for (let temperature = 20; temperature <= 33; temperature += 1) {
    const set = { ...scenario.set, "surroundings.temperature_C": temperature, "run.speckle": "off" };
    const readings = await asker.side.readings({ toml: scenario.toml, set }, { count: 256 }, "drift");
    if (!readings || readings.mean_mm === null) throw new Error(t("drift_no_reading", { temperature }));
    knots.push([temperature, 1000 * (readings.mean_mm - readings.true_mm)]);
  }
  const at = (temperature: number) => {
    const index = Math.min(knots.length - 2, Math.max(0, Math.floor(temperature - 20)));
    const [a, b] = [knots[index] as [number, number], knots[index + 1] as [number, number]];
    return a[1] + ((temperature - a[0]) / (b[0] - a[0])) * (b[1] - a[1]);
  };
  const hours = Array.from({ length: points }, (_, i) => (day_h * i) / (points - 1));
  const temperature_C = hours.map(temperature_at);
  return { hours, temperature_C, error_um: temperature_C.map(at) };
}

/** The error with the zero set at the start and every so many hours; 0: never. */
export function with_zero(drift: Drift, every_h: number): number[] {
  if (every_h <= 0) return drift.error_um;
  let zero = 0;
  let next = 0;
  return drift.error_um.map((error, i) => {
    if ((drift.hours[i] ?? 0) >= next - 1e-9) {
      zero = error;
      next += every_h;
    }
    return error - zero;
  });
}
