// What the page is about: one scenario with what was set over it, its history, and how it is looked at.
import type { Case, Check, Value, View } from "./engine";

export type Changes = Record<string, Value>;

export interface Settings {
  truth: boolean; // shown
  ghost: boolean;
  large: boolean;
  averages: number; // 1 to 4096
  comma: boolean | null; // null: as the browser's language has it
  linked: boolean; // kept states follow what the hand does
  linked_choosers: boolean; // and what is chosen or typed
}

export const first_settings: Settings = {
  truth: true,
  ghost: true,
  large: false,
  averages: 1,
  comma: null,
  linked: true,
  linked_choosers: false,
};

export interface Kept {
  scenario: Case;
  letter: string;
  material: string;
  angles_deg: [emitter: number, receiver: number];
  values: Changes; // what changed since
}

/** What happened: a hand moves (`hold`), a scenario is there (`settle`), only the looking changed (`settings`). */
export type Event = "hold" | "settle" | "settings" | "kept";
type Listener = (event: Event) => void;

const storage_name = "spotwright-page-1";

export class Store {
  scenario: Case = { toml: "", set: {} };
  held: Changes = {}; // by the hand that still moves
  values: Changes = {}; // of every key, from the engine's last check
  check: Check | null = null;
  settings: Settings = { ...first_settings };
  kept: Kept[] = [];
  ghost: View | null = null;
  chosen: Changes = {}; // by the step that is told now, beyond what a hand held
  readonly past: Case[] = [];
  readonly future: Case[] = [];
  private readonly listeners: Listener[] = [];

  listen(listener: Listener): void {
    this.listeners.push(listener);
  }

  private tell(event: Event): void {
    for (const each of this.listeners) each(event);
  }

  /** The scenario as it stands, with what the hand holds. */
  now(): Case {
    return { toml: this.scenario.toml, set: { ...this.scenario.set, ...this.held } };
  }

  value(key: string): Value {
    if (key in this.held) return this.held[key] ?? null;
    const set_over = this.scenario.set;
    if (set_over && key in set_over && set_over[key] !== null) return set_over[key] ?? null;
    return this.values[key] ?? null;
  }

  /** A number; of a pair, one of both; of a word for "worked out", what was worked out. */
  number(key: string, index = 0): number {
    const value = this.value(key);
    if (typeof value === "number") return value;
    if (Array.isArray(value)) return Number(value[index] ?? 0);
    return this.check?.computed[key] ?? Number.NaN;
  }

  word(key: string): string {
    const value = this.value(key);
    return typeof value === "string" ? value : "";
  }

  hold(changes: Changes): void {
    Object.assign(this.held, changes);
    this.tell("hold");
  }

  /** The hand lets go: what it held becomes a step of the history. */
  settle(changes: Changes = {}): void {
    const all = { ...this.held, ...changes };
    this.held = {};
    const differs = Object.keys(all).some((key) => !alike(all[key] ?? null, this.value(key)));
    this.chosen = changes;
    if (differs) this.replace({ toml: this.scenario.toml, set: { ...this.scenario.set, ...all } });
    else this.tell("settle");
    this.chosen = {};
  }

  let_go(): void {
    this.held = {};
    this.tell("settle");
  }

  replace(scenario: Case): void {
    if (this.scenario.toml) this.past.push(this.scenario);
    this.future.length = 0;
    this.held = {};
    this.scenario = scenario;
    this.save();
    this.tell("settle");
  }

  undo(): void {
    this.step(this.past, this.future);
  }

  redo(): void {
    this.step(this.future, this.past);
  }

  private step(from: Case[], to: Case[]): void {
    const wanted = from.pop();
    if (!wanted) return;
    to.push(this.scenario);
    this.held = {};
    this.scenario = wanted;
    this.save();
    this.tell("settle");
  }

  set_check(check: Check): void {
    if (check.problems.length > 0) return; // the last that could be read stays
    this.check = check;
    this.values = check.values;
  }

  adjust(changes: Partial<Settings>): void {
    Object.assign(this.settings, changes);
    this.save();
    this.tell("settings");
  }

  keep(kept: Kept): void {
    if (this.kept.length >= 4) this.kept.shift();
    this.kept.push(kept);
    this.tell("kept");
  }

  drop(index: number): void {
    this.kept.splice(index, 1);
    this.tell("kept");
  }

  /** From disk a browser may refuse storage: then a reload begins anew. */
  save(): void {
    try {
      localStorage.setItem(storage_name, JSON.stringify({ scenario: this.scenario, settings: this.settings }));
    } catch {
      return;
    }
  }
}

/** What was stored when the page was last open. Unknown text: whoever uses it must check it. */
export function stored(): { scenario?: unknown; settings?: unknown } | null {
  try {
    const text = localStorage.getItem(storage_name);
    return text && text.length < 1e6 ? (JSON.parse(text) as { scenario?: unknown; settings?: unknown }) : null;
  } catch {
    return null;
  }
}

export function alike(a: Value, b: Value): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
