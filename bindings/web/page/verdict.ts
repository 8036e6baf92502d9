// The verdict with its reasons, and the budget made touchable: causes that can be switched off one by one.
import type { Asker } from "./asker";
import { button, h, say } from "./dom";
import type { Answer, Sentences, Suggestion } from "./engine";
import { fixed, significant } from "./format";
import type { Changes, Store } from "./store";
import { t } from "./texts";

interface Cause {
  name: string;
  u_um: number;
  bias_um: number;
  basis: string;
}

export interface Left {
  u_um: number;
  bias_um: number;
  k: number;
  expanded_um: number;
}

/** Causes as the budget lists them. */
export function causes_of(budget: Answer): Cause[] {
  const list = budget.json["contributions"];
  if (!Array.isArray(list)) return [];
  return (list as Record<string, unknown>[]).map((each) => ({
    name: String(each["name"]),
    u_um: Number(each["standard_uncertainty_um"] ?? 0),
    bias_um: Number(each["bias_um"] ?? 0),
    basis: String(each["basis"] ?? ""),
  }));
}

/** What is left of a budget without some causes: root of the sum of squares of the others, biases added. */
export function left_of_budget(budget: Answer, off: Set<string>): Left {
  const on = causes_of(budget).filter((each) => !off.has(each.name));
  const u_um = Math.sqrt(on.reduce((sum, each) => sum + each.u_um ** 2, 0));
  const bias_um = on.reduce((sum, each) => sum + each.bias_um, 0);
  const k = Number(budget.json["coverage_factor"] ?? 2);
  return { u_um, bias_um, k, expanded_um: k * u_um };
}

export class VerdictPane {
  private readonly level = h("p", { class: "level", role: "status" });
  private readonly line = h("p", { class: "verdict-line" });
  private readonly reasons = h("ul", { class: "reasons" });
  private readonly bars = h("div", { class: "causes", role: "group" });
  private readonly left = h("p", { class: "left-over", role: "status" });
  private readonly advice = h("div", { class: "advice" });
  private readonly off = new Set<string>();
  private readonly all = button(
    t("all_on"),
    () => {
      this.off.clear();
      this.show_budget();
    },
    { class: "quiet", hidden: true },
  );

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
    parent: HTMLElement,
  ) {
    this.bars.setAttribute("aria-label", t("causes"));
    const heading = h("h3", {}, t("causes"));
    const help = h("p", { class: "hint" }, t("causes_help"), " ", this.all);
    parent.append(this.level, this.line, this.reasons, this.advice, heading, help, this.bars, this.left);
    this.show_advice();
  }

  show_read(): void {
    const { read, busy } = this.asker.answers;
    const words = read?.sentences;
    this.level.className = `level ${words && !busy.read ? words.level : "pending"}`;
    say(this.level, words ? t(words.level) : busy.read ? t("working") : "\u2013");
    say(this.line, words && !busy.read ? after_level(words) : busy.read ? t("working") : "");
    this.reasons.replaceChildren(...(words?.reasons ?? []).map((each) => h("li", {}, each)));
    this.reasons.classList.toggle("stale", busy.read);
  }

  show_budget(): void {
    const { budget, busy, trouble } = this.asker.answers;
    this.bars.classList.toggle("stale", busy.budget);
    if (!budget) {
      this.bars.replaceChildren();
      say(this.left, busy.budget ? t("working") : trouble ? t("budget_none", { why: trouble }) : "");
      return;
    }
    const causes = causes_of(budget).sort((a, b) => size(b) - size(a));
    const tolerance = this.store.number("requirement.tolerance_um");
    const most = Math.max(...causes.map(size), 1e-9);
    this.bars.replaceChildren(...causes.map((each) => this.bar(each, most, tolerance)));
    this.show_left();
  }

  private bar(cause: Cause, most: number, tolerance: number): HTMLElement {
    const on = !this.off.has(cause.name);
    const width = (100 * size(cause)) / most;
    const text = length_text(size(cause));
    const fill = h("span", { class: cause.bias_um ** 2 > cause.u_um ** 2 ? "fill bias" : "fill" });
    fill.style.width = `${Math.max(0.4, width)}%`;
    const made = h(
      "button",
      {
        type: "button",
        class: "cause",
        role: "switch",
        "aria-checked": on ? "true" : "false",
        title: `${cause.basis}. ${t("tolerance_line", { um: significant(tolerance, 3) })}`,
        click: () => {
          if (!this.off.delete(cause.name)) this.off.add(cause.name);
          made.setAttribute("aria-checked", this.off.has(cause.name) ? "false" : "true");
          this.show_left();
        },
      },
      h("span", { class: "cause-name" }, cause.name),
      h("span", { class: "track" }, fill),
      h("span", { class: "cause-size" }, text),
    );
    return made;
  }

  private show_left(): void {
    this.all.hidden = this.off.size === 0;
    const { budget, busy } = this.asker.answers;
    if (!budget || busy.budget) {
      say(this.left, busy.budget ? t("working") : "");
      return;
    }
    const it = left_of_budget(budget, this.off);
    const numbers = {
      um: significant(it.u_um, 2),
      how: t("how_combined"),
      expanded: significant(it.expanded_um, 2),
      k: fixed(it.k, 2),
      bias: significant(it.bias_um, 2),
    };
    say(this.left, t("what_is_left", numbers));
  }

  show_advice(): void {
    const { advice, busy } = this.asker.answers;
    const seconds = 15;
    if (busy.advice) {
      this.advice.replaceChildren(
        h("p", {}, t("help_working", { seconds })),
        button(t("help_stop"), () => this.asker.stop_advice()),
      );
      return;
    }
    const ask = button(t("help_find"), () => void this.asker.advise(seconds), { class: "main" });
    if (!advice) {
      this.advice.replaceChildren(ask);
      return;
    }
    const list = advice.suggestions.slice(0, 6).map((each) => this.suggestion(each));
    this.advice.replaceChildren(list.length ? h("ol", {}, ...list) : h("p", {}, t("help_none")), ask);
  }

  private suggestion(it: Suggestion): HTMLElement {
    const level = h("span", { class: `small-level ${it.level}` }, t(it.level));
    const take = button(t("try_it"), () => this.store.settle(whole_keys(this.store, it.set)), {
      "aria-label": `${t("try_it")}: ${it.text}`,
    });
    return h("li", {}, level, ` ${it.text} `, take);
  }
}

/** Micrometres, or millimetres where those would be many digits. */
function length_text(um: number): string {
  return um >= 10000 ? `${significant(um / 1000, 2)}\u202fmm` : `${significant(um, 2)}\u202f\u00b5m`;
}

function size(cause: Cause): number {
  return Math.hypot(cause.u_um, cause.bias_um);
}

/** The verdict's line without the level, which stands above it already. */
function after_level(words: Sentences): string {
  const start = `${words.level}: `;
  return words.verdict.startsWith(start) ? words.verdict.slice(start.length) : words.verdict;
}

/** Changes with `key[0]` written as the whole pair. */
function whole_keys(store: Store, changes: Changes): Changes {
  const made: Changes = {};
  for (const [name, value] of Object.entries(changes)) {
    const part = /^(.*)\[(\d+)\]$/.exec(name);
    if (!part || typeof value !== "number") made[name] = value;
    else {
      const key = part[1] ?? "";
      const before = made[key] ?? store.value(key);
      const list = Array.isArray(before) ? before.map(Number) : [0, 0];
      list[Number(part[2])] = value;
      made[key] = list;
    }
  }
  return made;
}
