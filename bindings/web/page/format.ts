// Numbers as a person reads and writes them: decimal sign of choice, true minus sign, unit behind a thin space.

let comma = new Intl.NumberFormat(navigator.language).format(1.5).includes(",");

export function set_comma(wanted: boolean): void {
  comma = wanted;
}

export function uses_comma(): boolean {
  return comma;
}

function dressed(digits: string): string {
  const signed = digits.replace("-", "\u2212");
  return comma ? signed.replace(".", ",") : signed;
}

/** A number with so many places after the decimal sign. */
export function fixed(value: number | null | undefined, places: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "\u2013";
  const text = value.toFixed(places);
  return dressed(Number(text) === 0 ? text.replace("-", "") : text);
}

/** A number with so many significant digits, without an exponent where that can be read. */
export function significant(value: number | null | undefined, digits = 3): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "\u2013";
  if (value === 0) return "0";
  const size = Math.floor(Math.log10(Math.abs(value)));
  if (size < -5 || size > 7) return dressed(value.toExponential(Math.max(0, digits - 1)));
  const places = Math.max(0, digits - 1 - size);
  return dressed(value.toFixed(Math.min(places, 9)));
}

/** A number as short as it can be written, to be typed over. */
export function plain(value: number): string {
  const text = String(Number(value.toPrecision(10)));
  return comma ? text.replace(".", ",") : text;
}

export function with_unit(text: string, unit: string): string {
  return unit === "deg" ? `${text}\u00b0` : unit ? `${text}\u202f${pretty_unit(unit)}` : text;
}

/** A unit as the keys write it, as a person writes it. */
export function pretty_unit(unit: string): string {
  const table: Record<string, string> = {
    um: "\u00b5m",
    us: "\u00b5s",
    uW: "\u00b5W",
    deg: "\u00b0",
    C: "\u00b0C",
    urad: "\u00b5rad",
  };
  const [first, ...rest] = unit.split("/");
  const head = table[first ?? ""] ?? first ?? "";
  return rest.length ? `${head}/${rest.join("/")}` : head;
}

/** Reads what was typed: comma or point, a true minus, a unit behind it. null: not a number. */
export function typed(text: string): number | null {
  const cleaned = text
    .trim()
    .replace(/\u2212/g, "-")
    .replace(",", ".")
    .replace(/[\s\u202f]*(mm|\u00b5m|um|\u00b5s|us|mW|nm|deg|\u00b0C?|lx|ms|%)$/u, "");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d{1,3})?$/i.test(cleaned)) return null;
  const value = Number(cleaned);
  return Number.isFinite(value) ? value : null;
}

export function signed(text: string, value: number): string {
  return value > 0 ? `+${text}` : text;
}
