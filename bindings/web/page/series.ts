// A series file, as `spotwright read --out` writes it and the engine gives it.

import { t } from "./texts";

export interface Series {
  place_mm: number[]; // on the line, from time and speed
  output_mm: number[]; // NaN: none
  exposure_us: number[];
  valid: boolean[];
}

/** Columns by name from the CSV text. Throws if it lacks one. */
export function series_of(text: string, speed_mm_per_s: number): Series {
  const lines = text.split("\n").filter((each) => each && !each.startsWith("#"));
  const names = (lines[0] ?? "").split(",");
  const column = (name: string) => {
    const at = names.indexOf(name);
    if (at < 0) throw new Error(t("series_no_column", { name }));
    return at;
  };
  const [time, output, exposure, validity] = [
    column("time_ms"),
    column("output_mm"),
    column("exposure_us"),
    column("validity"),
  ];
  const rows = lines.slice(1).map((each) => each.split(","));
  const number = (text_of: string | undefined) =>
    text_of === undefined || text_of === "" ? Number.NaN : Number(text_of);
  return {
    place_mm: rows.map((row) => (number(row[time]) / 1000) * (speed_mm_per_s || 1)),
    output_mm: rows.map((row) => number(row[output])),
    exposure_us: rows.map((row) => number(row[exposure])),
    valid: rows.map((row) => row[validity] === "valid"),
  };
}

/** Longest stretch of surface without a valid reading, in mm. */
export function worst_gap(series: Series, end: number): number {
  let worst = 0;
  let last: number | null = null;
  for (let i = 0; i < end; ++i) {
    if (!series.valid[i]) continue;
    const place = series.place_mm[i] ?? 0;
    if (last !== null) worst = Math.max(worst, place - last);
    last = place;
  }
  const step = (series.place_mm[1] ?? 0) - (series.place_mm[0] ?? 0);
  return worst > 1.5 * step ? worst : 0;
}
