// Windows over the page: lessons, files, all values, keys.
import { button, h, say } from "./dom";
import type { Key, Tables, Value } from "./engine";
import type { Files } from "./files";
import { plain, pretty_unit, set_comma, typed, uses_comma } from "./format";
import type { LessonView } from "./lesson-view";
import type { Store } from "./store";
import { key_list, lesson_texts, t } from "./texts";

export class Dialogs {
  constructor(
    private readonly store: Store,
    private readonly tables: Tables,
    private readonly file: Files,
    private readonly lesson: LessonView,
  ) {}

  private open(name: string, ...content: (Node | string)[]): HTMLDialogElement {
    const close = button(t("close"), () => box.close());
    const box = h("dialog", { "aria-label": name }, h("div", { class: "head" }, h("h2", {}, name), close), ...content);
    box.addEventListener("close", () => box.remove());
    document.body.append(box);
    box.showModal();
    return box;
  }

  lessons(): void {
    const items = lesson_texts.map((each, index) =>
      h(
        "li",
        {},
        button(`${index + 1}. ${each.title}`, () => {
          box.close();
          this.lesson.start(index);
        }),
      ),
    );
    const box = this.open(t("lesson_list"), h("ol", { class: "lesson-list" }, ...items));
  }

  keys(): void {
    const rows = key_list.map(([keys, what]) => h("tr", {}, h("th", { scope: "row" }, keys), h("td", {}, what)));
    this.open(t("keys_title"), h("table", {}, h("tbody", {}, ...rows)));
  }

  files(): void {
    const { file } = this;
    const outs = h("div", { class: "grid" }, ...file.outs().map(([name, press]) => button(name, press)));
    const opener = h("input", { type: "file", accept: ".toml,.csv,.pgm,text/plain", "aria-label": t("bring_file") });
    opener.addEventListener("change", () => {
      for (const each of Array.from(opener.files ?? [])) void file.bring_file(each);
      box.close();
    });
    const area = h("textarea", { "aria-label": t("bring_paste"), placeholder: t("bring_paste"), spellcheck: "false" });
    const use = button(t("bring_use"), () => {
      box.close();
      void file.bring_text(area.value, t("own_scenario"));
    });
    const comma = h(
      "select",
      { "aria-label": t("decimal") },
      h("option", { value: "." }, t("point")),
      h("option", { value: "," }, t("comma")),
    );
    comma.value = uses_comma() ? "," : ".";
    comma.addEventListener("change", () => {
      set_comma(comma.value === ",");
      this.store.adjust({ comma: comma.value === "," });
    });
    file.link.hidden = true;
    say(file.progress, "");
    const box = this.open(
      t("take"),
      outs,
      file.link,
      file.progress,
      h("h3", {}, t("bring")),
      h("div", { class: "row" }, opener),
      area,
      h("div", { class: "row" }, use, h("span", { class: "hint" }, t("bring_drop"))),
      h("div", { class: "row" }, h("label", { class: "choice" }, h("span", {}, t("decimal")), comma)),
    );
  }

  /** Every key of a scenario: what it means, what it may be, and its value. */
  values(): void {
    const rows = h("tbody", {});
    const search = h("input", { type: "search", "aria-label": t("search_values"), placeholder: t("search_values") });
    const fill = () => {
      const wanted = search.value.toLowerCase().trim();
      const found = this.tables.keys.filter(
        (each) => !wanted || each.key.toLowerCase().includes(wanted) || each.meaning.toLowerCase().includes(wanted),
      );
      rows.replaceChildren(...found.slice(0, 60).map((each) => this.row(each)));
    };
    search.addEventListener("input", fill);
    fill();
    this.open(t("all_values"), h("div", { class: "row" }, search), h("table", { class: "values-table" }, rows));
  }

  private row(key: Key): HTMLElement {
    const fixed = this.store.check?.fixed.includes(key.key) ?? false;
    const name = h("th", { scope: "row" }, key.key, h("div", { class: "meaning" }, `${key.meaning}. ${key.limits}`));
    const field = this.field(key);
    field.disabled = fixed;
    field.setAttribute("aria-label", key.key);
    const standard = text_of(key.default);
    const reset = button(
      t("put_back"),
      () => {
        this.store.settle({ [key.key]: key.default });
        field.value = standard;
      },
      { "aria-label": `${t("put_back")}: ${key.key}`, title: t("default_is", { value: standard }) },
    );
    reset.disabled = fixed || key.key === "target.material";
    return h("tr", {}, name, h("td", {}, field, ` ${pretty_unit(key.unit)} `, fixed ? t("fixed_by") : "", reset));
  }

  private field(key: Key): HTMLInputElement | HTMLSelectElement {
    const value = this.store.value(key.key);
    if (key.kind === "word") {
      const select = h("select", {}, ...key.words.map((each) => h("option", { value: each }, each)));
      select.value = String(value ?? "");
      select.addEventListener("change", () => this.store.settle({ [key.key]: select.value }));
      return select;
    }
    const input = h("input", { type: "text", size: 14, value: text_of(value) });
    input.addEventListener("change", () => {
      const read = value_of(input.value, key);
      input.setAttribute("aria-invalid", read === undefined ? "true" : "false");
      if (read !== undefined) this.store.settle({ [key.key]: read });
    });
    return input;
  }
}

function text_of(value: Value): string {
  if (Array.isArray(value))
    return value.map((each) => (typeof each === "number" ? plain(each) : each)).join(uses_comma() ? "; " : ", ");
  return typeof value === "number" ? plain(value) : String(value ?? "");
}

/** A typed value for a key, undefined if it cannot be one. Its bounds are the engine's to judge. */
function value_of(text: string, key: Key): Value | undefined {
  const one = typed(text);
  const many = (): number[] | undefined => {
    const parts = text.split(uses_comma() || text.includes(";") ? ";" : ",").map((each) => typed(each));
    return parts.every((each): each is number => each !== null) ? parts : undefined;
  };
  switch (key.kind) {
    case "number":
    case "integer":
      return one ?? undefined;
    case "number-or-word":
    case "peak-choice":
      return one ?? text.trim();
    case "aperture":
      return one ?? many();
    case "pair":
    case "list":
      return many();
    case "texts":
      return text.trim() ? text.split(/[,;]/).map((each) => each.trim()) : [];
    default:
      return text;
  }
}
