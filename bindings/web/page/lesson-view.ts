// A lesson on the page: look, predict, try, see why. Works by keys alone, and in large type for a class.
import { account_of } from "./account";
import type { Asker } from "./asker";
import { button, by_id, h, say } from "./dom";
import type { Example } from "./engine";
import { type Lesson, type Step, lessons } from "./lessons";
import type { Store } from "./store";
import type { Studies } from "./studies";
import { next_patch } from "./things";
import { lesson_texts, t } from "./texts";
import type { TimeBar } from "./timebar";

const step_names = ["lesson_scene", "lesson_predict", "lesson_play", "lesson_answer"] as const;

export class LessonView {
  private number = -1;
  private step = 0;
  private choice: number | null = null;
  private readonly live = h("p", { class: "note" });

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
    private readonly list: Example[],
    private readonly studies: Studies,
    private readonly time: TimeBar,
  ) {}

  get open(): boolean {
    return this.number >= 0;
  }

  start(number: number): void {
    this.number = Math.max(0, Math.min(lessons.length - 1, number));
    this.step = 0;
    this.choice = null;
    document.documentElement.classList.add("in-lesson");
    this.time.stop();
    this.studies.hide();
    const lesson = this.lesson();
    document.documentElement.dataset["pane"] = lesson.pane ?? "light";
    this.store.adjust({ averages: lesson.averages ?? 1, truth: true });
    this.act({ scenario: lesson.scenario, set: lesson.set });
    this.draw(true);
  }

  leave(): void {
    this.number = -1;
    document.documentElement.classList.remove("in-lesson", "presenter");
    by_id("lesson").hidden = true;
    this.studies.hide();
    this.store.adjust({ truth: true });
  }

  escape(): void {
    const root = document.documentElement.classList;
    if (root.contains("presenter")) root.remove("presenter");
    else if (this.open) this.leave();
    if (this.open) this.draw(true);
  }

  present(): void {
    if (!this.open) return;
    document.documentElement.classList.toggle("presenter");
    this.draw(true);
  }

  next(): void {
    if (!this.open) return;
    if (this.step < 3) {
      ++this.step;
      if (this.step === 1) this.store.adjust({ truth: false });
      if (this.step === 2) this.store.adjust({ truth: true });
      if (this.step === 3) this.act(this.lesson().answer);
      this.draw(true);
    } else if (this.number + 1 < lessons.length) this.start(this.number + 1);
    else this.leave();
  }

  back(): void {
    if (!this.open) return;
    if (this.step > 0) {
      --this.step;
      if (this.step === 1) this.store.adjust({ truth: false });
      else this.store.adjust({ truth: true });
      if (this.step <= 1) this.act({ scenario: this.lesson().scenario, set: this.lesson().set });
      this.draw(true);
    } else if (this.number > 0) this.start(this.number - 1);
  }

  /** A prediction, or with the same number in the third step what can be tried. false: no lesson asks. */
  choose(index: number): boolean {
    if (!this.open) return false;
    if (this.step === 1) {
      this.choice = index;
      this.next();
      return true;
    }
    const wanted = this.step === 2 ? this.lesson().tries[index] : undefined;
    if (wanted) this.act(wanted);
    return wanted !== undefined;
  }

  private lesson(): Lesson {
    return lessons[this.number] as Lesson;
  }

  private act(step: Step): void {
    if (step.scenario) {
      const found = this.list.find((each) => each.name === step.scenario);
      if (found) this.store.replace({ toml: found.toml, set: { ...step.set } });
    } else if (step.set) {
      this.store.ghost = this.asker.answers.view;
      this.store.settle(step.set);
    }
    if (step.averages) this.store.adjust({ averages: step.averages });
    if (step.patch) this.store.settle(next_patch(this.store));
    if (step.study) this.studies.show(step.study);
  }

  /** The live line under an answer follows the bench. */
  follow(): void {
    if (this.open && this.step >= 2) say(this.live, t("lesson_now", { account: account_of(this.store, this.asker) }));
  }

  private draw(focus: boolean): void {
    const box = by_id("lesson");
    if (!this.open) return;
    const text = lesson_texts[this.number];
    if (!text) return;
    const title = h("h2", { tabindex: -1, id: "lesson-title" }, text.title);
    const presenting = document.documentElement.classList.contains("presenter");
    const leave = button(t("lesson_leave"), () => this.leave(), { class: "quiet" });
    const steps = h(
      "ol",
      { class: "steps" },
      ...step_names.map((each, index) => h("li", { "aria-current": index === this.step ? "step" : null }, t(each))),
    );
    const next =
      this.step < 3 ? t("lesson_next") : this.number + 1 < lessons.length ? t("lesson_other") : t("lesson_leave");
    const foot = h(
      "div",
      { class: "lesson-foot" },
      button(t("lesson_back"), () => this.back(), { id: "lesson-back" }),
      button(next, () => this.next(), { id: "lesson-next", class: "main" }),
      button(presenting ? t("presenter_leave") : t("presenter"), () => this.present()),
    );
    box.replaceChildren(
      h(
        "div",
        { class: "lesson-head" },
        h("span", { class: "note" }, t("lesson_of", { number: this.number + 1, all: lessons.length })),
        leave,
      ),
      title,
      steps,
      h("div", { class: "lesson-body" }, ...this.body()),
      foot,
      presenting ? h("p", { class: "note" }, t("presenter_help")) : "",
    );
    box.hidden = false;
    box.setAttribute("aria-labelledby", "lesson-title");
    this.follow();
    if (focus) title.focus({ preventScroll: true });
  }

  private body(): (HTMLElement | string)[] {
    const text = lesson_texts[this.number];
    if (!text) return [];
    const question = h("p", { class: "question" }, text.question);
    if (this.step === 0) return [h("p", {}, text.look), question];
    if (this.step === 1) {
      const options = text.choices.map((each, index) => button(`${index + 1}. ${each}`, () => this.choose(index)));
      return [question, h("div", { class: "options" }, ...options)];
    }
    const tries = text.tries.map((each, index) => button(each, () => this.choose(index)));
    if (this.step === 2) return [h("p", {}, text.play), h("div", { class: "tries" }, ...tries), this.live];
    return this.answer(text);
  }

  private answer(text: (typeof lesson_texts)[number]): (HTMLElement | string)[] {
    const right = this.choice === this.lesson().right;
    const chosen = this.choice === null ? null : text.choices[this.choice];
    const judged =
      chosen === null || chosen === undefined
        ? t("lesson_none")
        : right
          ? t("lesson_right")
          : t("lesson_wrong", { choice: chosen });
    return [
      h("p", { class: "question", id: "lesson-judged", "data-right": String(right) }, judged),
      ...text.answer.map((each) => h("p", {}, each)),
      this.live,
      h("details", {}, h("summary", {}, t("lesson_equation")), h("p", { class: "equation" }, text.equation)),
      h("details", {}, h("summary", {}, t("lesson_notes")), h("p", {}, text.notes)),
    ];
  }
}
