// A whole scenario in a link: "#1&key=value&...", every key that is not at its default. The first number is the version
// of the link. Whatever a link brings is checked key by key against the engine's own table; what does not fit refuses
// the link. Nothing of it is ever markup.
import type { Case, Key, Tables, Value } from "./engine";
import { type Changes, alike } from "./store";
import { t } from "./texts";
import { fits_key, names_file } from "./trust";

const version = "1";
const longest = 20000;

export type Link = { scenario: Case } | { why: string };

function write(value: Value): string {
  if (typeof value === "string") return `'${value}`;
  return JSON.stringify(value);
}

function encode(text: string): string {
  return encodeURIComponent(text).replace(/%2C/g, ",").replace(/%5B/g, "[").replace(/%5D/g, "]");
}

/** The link's part after "#", and the keys that a link cannot carry. */
export function write_link(
  values: Changes,
  tables: Tables,
  fixed: string[] = [],
): { hash: string; left_out: string[] } {
  const left_out: string[] = [];
  const parts = [version];
  for (const key of tables.keys) {
    const value = values[key.key];
    if (value === undefined || value === null || fixed.includes(key.key)) continue;
    if (key.key !== "target.material" && alike(value, key.default)) continue;
    if (names_file(key.key) || !fits_key(value, key, tables)) left_out.push(key.key);
    else parts.push(`${encode(key.key)}=${encode(write(value))}`);
  }
  return { hash: parts.join("&"), left_out };
}

function read_value(text: string): unknown {
  if (text.startsWith("'")) return text.slice(1);
  if (!/^-?\d|^\[|^true$|^false$/.test(text) || text.length > 4000) return undefined;
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

export function read_link(hash: string, tables: Tables): Link {
  if (hash.length > longest) return { why: t("link_long") };
  const [first, ...parts] = hash.split("&");
  if (first !== version) return { why: t("link_version") };
  const keys = new Map<string, Key>(tables.keys.map((each) => [each.key, each]));
  const set: Changes = {};
  for (const part of parts) {
    const at = part.indexOf("=");
    let name: string;
    let value: unknown;
    try {
      name = decodeURIComponent(part.slice(0, Math.max(0, at)));
      value = read_value(decodeURIComponent(part.slice(at + 1)));
    } catch {
      return { why: t("link_damaged") };
    }
    const key = keys.get(name);
    if (!key) return { why: t("link_no_key", { key: name.slice(0, 60) }) };
    if (!fits_key(value, key, tables))
      return {
        why: t("link_no_value", { key: name, value: JSON.stringify(value)?.slice(0, 60) ?? "?", limits: key.limits }),
      };
    set[name] = value;
  }
  if (!("target.material" in set)) return { why: t("link_no_material") };
  const material = String(set["target.material"]);
  return { scenario: { toml: `schema = 1\n\n[target]\nmaterial = "${material}"\n`, set } };
}
