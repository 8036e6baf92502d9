// Questions to the engine: what moves is asked at once and drawn from the newest answer; what takes longer waits until
// the hand rests.
import {
  type Advice,
  type Answer,
  type ArrayLook,
  type Case,
  Engine,
  type Problem,
  type Readings,
  ScenarioProblem,
  type View,
} from "./engine";
import type { Store } from "./store";

export type Busy = Record<"check" | "view" | "readings" | "read" | "budget" | "advice", boolean>;

export interface Answers {
  view: View | null;
  still: Readings | null;
  moved: Readings | null;
  read: Answer | null;
  budget: Answer | null;
  advice: Advice | null;
  problems: Problem[];
  trouble: string; // of the budget
  busy: Busy;
}

export type Part = "view" | "readings" | "read" | "budget" | "advice" | "problems" | "check" | "rest";

const enough = 16; // outputs of an average that a strip shows at least

export class Asker {
  readonly answers: Answers = {
    view: null,
    still: null,
    moved: null,
    read: null,
    budget: null,
    advice: null,
    problems: [],
    trouble: "",
    busy: { check: false, view: false, readings: false, read: false, budget: false, advice: false },
  };
  /** One engine for the bench and its verdict, another for strips, advice and files. */
  readonly side = new Engine();
  shelf: { name: string; text: string }[] = [];
  private readonly given = new Set<string>();
  patch: number | null = null; // of the frame that is shown; null: where the part stands
  index = 0;
  private turn = 0; // counts settled scenarios: late answers to earlier ones are dropped
  private timer = 0;
  private painting = false;

  constructor(
    private readonly store: Store,
    readonly bench: Engine,
    private readonly tell: (part: Part) => void,
  ) {}

  /** The hand moves: the newest picture only. */
  hold(): void {
    ++this.turn;
    clearTimeout(this.timer);
    this.drop_slow_read();
    void this.look(this.store.now(), true);
    this.timer = window.setTimeout(() => void this.look(this.store.now(), false), 140);
  }

  /** The hand rests, or another scenario is there. */
  settle(): void {
    const turn = ++this.turn;
    clearTimeout(this.timer);
    const scenario = this.store.now();
    const { busy } = this.answers;
    if (this.counting) this.side.stopBackground(); // a budget of what is no longer there
    busy.check = busy.view = busy.readings = busy.read = busy.budget = true;
    if (this.lacks(scenario.toml).length) {
      void this.bring(scenario.toml).then(() => this.settle());
      return;
    }
    this.stop_advice();
    this.drop_slow_read();
    void this.check(scenario, turn);
    // What the hand just saw needs no preview again.
    if (JSON.stringify(scenario) !== this.previewed) void this.look(scenario, true);
    void this.look_then(scenario, turn);
  }

  private lacks(toml: string): { name: string; text: string }[] {
    return this.shelf.filter((each) => toml.includes(`"${each.name}"`) && !this.given.has(each.name));
  }

  /** Gives the engines the files of the demonstration that a scenario names. */
  async bring(toml: string): Promise<void> {
    for (const { name, text } of this.lacks(toml)) {
      this.given.add(name);
      await Promise.all([this.bench.put(name, text), this.side.put(name, text)]);
    }
  }

  private async check(scenario: Case, turn: number): Promise<void> {
    const check = await this.bench.check(scenario);
    if (!check || turn !== this.turn) return;
    this.answers.busy.check = false;
    this.store.set_check(check);
    this.answers.problems = check.problems;
    this.tell("check");
    this.tell("problems");
  }

  private async look_then(scenario: Case, turn: number): Promise<void> {
    for (let all = false; !all && turn === this.turn; ) all = await this.look(scenario, false, "exact");
    await next_picture();
    if (turn !== this.turn) return;
    this.answers.busy.view = false;
    this.tell("rest");
    void this.strips(scenario, turn);
    await this.verdict(scenario, turn);
  }

  /** Draws an answer unless that of a later question is drawn already. false: more of its light is yet to come. */
  private async look(scenario: Case, preview: boolean, lane = ""): Promise<boolean> {
    const turn = this.turn;
    if (preview) this.previewed = JSON.stringify(scenario);
    try {
      const options = { preview, index: this.index, patch: this.patch };
      const grows = !preview && is_traced(scenario);
      const view = await (grows
        ? this.bench.viewGrowing(scenario, options, lane)
        : this.bench.view(scenario, options, lane));
      if (!view || turn < this.drawn) return true;
      this.drawn = turn;
      this.answers.view = view;
      this.paint();
      return preview || view.look.kind !== "array" || view.look.exact_model;
    } catch (error) {
      if (turn >= this.drawn) this.fail(error);
      return true;
    }
  }
  private drawn = 0;
  private previewed = ""; // the scenario of the last preview that was asked for

  /** A verdict by traced rays takes seconds: what moved on does not wait for it. */
  private drop_slow_read(): void {
    if (this.tracing) this.bench.stopBackground();
    this.tracing = false;
  }
  private tracing = false;

  private paint(): void {
    if (this.painting) return;
    this.painting = true;
    requestAnimationFrame(() => {
      this.painting = false;
      this.tell("view");
    });
  }

  private fail(error: unknown): void {
    if (error instanceof ScenarioProblem) this.answers.problems = error.problems;
    else
      this.answers.problems = [
        { key: "", line: 0, column: 0, message: String(error), allowed: "", hint: "", text: String(error) },
      ];
    this.tell("problems");
  }

  /** Enough readings for the average that is asked for, first few, then more. */
  async strips(scenario = this.store.now(), turn = this.turn): Promise<void> {
    const wanted = Math.min(65536, Math.max(1024, enough * this.store.settings.averages));
    this.answers.busy.readings = true;
    const call = ++this.strip_calls;
    try {
      for (const count of wanted > 4096 ? [1024, wanted] : [wanted]) {
        if (this.answers.still && this.answers.still.mm.length >= count && this.strips_of === turn) continue;
        const still = await this.side.readings(scenario, { count }, "still");
        if (turn !== this.turn || !still) return;
        const moved = await this.side.readings(scenario, { count, moved: true }, "moved");
        if (turn !== this.turn || !moved) return;
        this.answers.still = still;
        this.answers.moved = moved;
        this.strips_of = turn;
        this.tell("readings");
      }
    } catch {
      this.answers.still = this.answers.moved = null;
      this.tell("readings");
    } finally {
      if (turn === this.turn && call === this.strip_calls) {
        this.answers.busy.readings = false;
        this.tell("readings");
      }
    }
  }
  private strips_of = -1;
  private strip_calls = 0;

  private counting = false; // a budget is worked out

  private async verdict(scenario: Case, turn: number): Promise<void> {
    this.answers.trouble = "";
    try {
      this.tell("read");
      this.tracing = is_traced(scenario);
      const read = await this.bench.read(scenario);
      if (turn === this.turn) this.tracing = false;
      if (turn !== this.turn) return;
      this.answers.read = read;
    } catch {
      if (turn === this.turn) this.answers.read = null;
    }
    if (turn !== this.turn) return;
    this.answers.busy.read = false;
    this.tell("read");
    try {
      this.counting = true;
      const budget = await this.side.budget(scenario);
      this.counting = false;
      if (turn !== this.turn) return;
      this.answers.budget = budget;
    } catch (error) {
      this.counting = false;
      if (turn !== this.turn) return;
      this.answers.budget = null;
      const problem = error instanceof ScenarioProblem ? error.problems[0] : undefined;
      this.answers.trouble = problem?.message ?? (error instanceof Error ? error.message : String(error));
    }
    this.answers.busy.budget = false;
    this.tell("budget");
  }

  async advise(seconds: number): Promise<void> {
    const turn = this.turn;
    this.answers.busy.advice = true;
    this.answers.advice = null;
    this.tell("advice");
    try {
      const advice = await this.side.advise(this.store.now(), seconds);
      if (turn !== this.turn) return;
      this.answers.advice = advice;
    } catch (error) {
      this.fail(error);
    }
    this.answers.busy.advice = false;
    this.tell("advice");
  }

  stop_advice(): void {
    if (this.answers.busy.advice) this.side.stopBackground();
    this.answers.busy.advice = false;
    this.answers.advice = null;
    this.tell("advice");
  }

  /** The same part on another patch of its surface, without a new verdict. */
  async stream(): Promise<void> {
    this.patch = (this.patch ?? 0) + 1;
    ++this.index;
    const scenario = this.store.now();
    const view = await this.bench.view(scenario, { index: this.index, patch: this.patch }, "exact").catch(() => null);
    if (!view) return;
    this.answers.view = view;
    this.paint();
  }

  /** What is still at work, for whoever waits for it. */
  working(): string {
    return Object.entries(this.answers.busy)
      .flatMap(([name, on]) => (on ? [name] : []))
      .join(" ");
  }

  array(): ArrayLook | null {
    const look = this.answers.view?.look;
    return look?.kind === "array" ? look : null;
  }
}

/** Whether a scenario asks for the ray model. */
function is_traced({ toml, set }: Case): boolean {
  const model = set?.["run.model"];
  return typeof model === "string" ? model === "ray" : /^\s*(?:run\.)?model\s*=\s*["']ray["']/m.test(toml);
}

/** After the next picture; a page that nobody looks at has none, so not for long. */
function next_picture(): Promise<void> {
  return new Promise((done) => {
    if (document.hidden) return done();
    requestAnimationFrame(() => setTimeout(done));
    setTimeout(done, 2000);
  });
}
