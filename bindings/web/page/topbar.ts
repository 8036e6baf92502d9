// Top of the page: which scenario, back and forth, keep, lessons, files.
import type { Dialogs } from "./dialogs";
import { button, by_id, h } from "./dom";
import type { Example } from "./engine";
import type { KeptPane } from "./kept";
import type { Store } from "./store";
import { t } from "./texts";

export class TopBar {
  private readonly choice = h("select", { id: "scenario", "aria-label": t("choose_scenario"), class: "stays" });
  private readonly undo = button(t("undo"), () => this.store.undo());
  private readonly redo = button(t("redo"), () => this.store.redo());
  private readonly truth = button(t("truth_shown"), () => this.store.adjust({ truth: !this.store.settings.truth }), {
    class: "stays",
  });

  constructor(
    private readonly store: Store,
    private readonly list: Example[],
    dialogs: Dialogs,
    kept: KeptPane,
  ) {
    this.choice.append(h("option", { value: "" }, t("own_scenario")));
    for (const each of list)
      this.choice.append(h("option", { value: each.name }, `${each.name.slice(0, 2)} ${each.title}`));
    this.choice.addEventListener("change", () => {
      const found = list.find((each) => each.name === this.choice.value);
      if (found) store.replace({ toml: found.toml, set: {} });
    });
    by_id("top").append(
      h("h1", {}, "Spot", h("span", {}, "wright")),
      this.choice,
      this.undo,
      this.redo,
      button(t("keep"), () => kept.keep()),
      this.truth,
      h("span", { class: "gap" }),
      button(t("lessons"), () => dialogs.lessons(), { class: "main stays" }),
      button(t("take"), () => dialogs.files()),
      button(t("all_values"), () => dialogs.values()),
      button(t("larger"), () => this.store.adjust({ large: !this.store.settings.large })),
      button(t("help"), () => dialogs.keys()),
    );
  }

  draw(): void {
    this.undo.disabled = this.store.past.length === 0;
    this.redo.disabled = this.store.future.length === 0;
    const found = this.list.find((each) => each.toml === this.store.scenario.toml);
    this.choice.value = found?.name ?? "";
    this.truth.textContent = t(this.store.settings.truth ? "truth_shown" : "truth_hidden");
    this.truth.setAttribute("aria-pressed", String(!this.store.settings.truth));
  }
}
