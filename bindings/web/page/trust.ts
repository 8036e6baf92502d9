// What comes from outside (a link, the browser's storage, a file) is taken only as far as it is what it should be.
import type { Key, Tables, Value } from "./engine";
import { type Settings, first_settings } from "./store";

const longest_text = 200;
/** Keys that name files: a link carries none. */
const file_keys = new Set([
  "target.relief.file",
  "target.pattern.file",
  "motion.path",
  "surroundings.temperature_path",
]);

export function names_file(key: string): boolean {
  return file_keys.has(key);
}

function is_number(value: unknown, key: Key): value is number {
  if (typeof value !== "number" || !Number.isFinite(value)) return false;
  if (key.low !== null && (value < key.low || (key.low_open && value === key.low))) return false;
  return key.high === null || value <= key.high;
}

function numbers(value: unknown, key: Key, count: number | null): value is number[] {
  return (
    Array.isArray(value) &&
    value.length <= 64 &&
    (count === null || value.length === count) &&
    value.every((each) => is_number(each, key))
  );
}

/** Text without control characters, not too long. */
function is_text(value: unknown): value is string {
  return typeof value === "string" && value.length <= longest_text && !/[\u0000-\u001f\u007f\u2028\u2029]/.test(value);
}

function known_name(value: string, key: Key, tables: Tables): boolean {
  const lists_material =
    key.key.endsWith("material") || key.key === "target.plate.backing" || key.key === "reading.calibrated_on";
  if (lists_material) return value === "" || value === "none" || tables.materials.some((each) => each.name === value);
  if (key.key === "sensor") return value === "" || tables.sensors.some((each) => each.name === value);
  return !file_keys.has(key.key);
}

/** Whether a value may stand for a key: its kind, its bounds, its words; names only of the library. */
export function fits_key(value: unknown, key: Key, tables: Tables): value is Value {
  switch (key.kind) {
    case "number":
      return is_number(value, key);
    case "integer":
      return is_number(value, key) && Number.isInteger(value);
    case "number-or-word":
      return is_number(value, key) || (typeof value === "string" && key.words.includes(value));
    case "pair":
      return numbers(value, key, 2);
    case "list":
      return numbers(value, key, null);
    case "aperture":
      return is_number(value, key) || numbers(value, key, 2);
    case "texts":
      return (
        Array.isArray(value) &&
        value.length <= 64 &&
        value.every((each) => is_text(each) && known_name(each, key, tables))
      );
    case "word":
      return typeof value === "string" && key.words.includes(value);
    case "peak-choice":
      return (
        (typeof value === "string" && key.words.includes(value)) || (is_number(value, key) && Number.isInteger(value))
      );
    case "text":
      return is_text(value) && known_name(value, key, tables);
  }
}

export function settings_of(given: unknown): Settings {
  const settings = { ...first_settings };
  if (typeof given !== "object" || given === null) return settings;
  const from = given as Record<string, unknown>;
  for (const name of ["truth", "ghost", "large", "linked", "linked_choosers"] as const) {
    const value = from[name];
    if (typeof value === "boolean") settings[name] = value;
  }
  const { averages, comma } = from;
  if (typeof averages === "number" && Number.isInteger(Math.log2(averages)) && averages >= 1 && averages <= 4096)
    settings.averages = averages;
  if (typeof comma === "boolean") settings.comma = comma;
  return settings;
}
