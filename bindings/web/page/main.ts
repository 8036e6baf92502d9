// The live page: starts the engine and connects what is drawn with what is asked.
import { account_of } from "./account";
import { type Part, Asker } from "./asker";
import { Choosers, ExposureFields } from "./choosers";
import { by_id, say, set } from "./dom";
import { Dialogs } from "./dialogs";
import { Engine, type Example, type Tables, examples } from "./engine";
import { Files } from "./files";
import { FlightPane } from "./flight-pane";
import { Compass, HeldPane } from "./held";
import { describe, listen_to_keys, spoken } from "./hold";
import { day, drawing_style, inks } from "./ink";
import { KeptPane } from "./kept";
import { listen_to_page_keys } from "./keys";
import { LessonView } from "./lesson-view";
import { read_link } from "./link";
import { build_sections } from "./sections";
import { SignalPane } from "./signal";
import { Stage } from "./stage";
import { Store, stored } from "./store";
import { StripPane } from "./strips";
import { Studies } from "./studies";
import { t } from "./texts";
import { set_comma } from "./format";
import { thing } from "./things";
import { TimeBar } from "./timebar";
import { TopBar } from "./topbar";
import { settings_of } from "./trust";
import { VerdictPane } from "./verdict";

/** Colours of drawings follow the system's light or dark. */
function dress(): void {
  const sheet = new CSSStyleSheet();
  const wear = () => sheet.replaceSync(`${drawing_style(inks())}@media print{${drawing_style(day)}}`);
  wear();
  document.adoptedStyleSheets = [sheet];
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", wear);
}

class Page {
  readonly store = new Store();
  readonly asker: Asker;
  private readonly parts = build_sections();
  private readonly held = new HeldPane(this.store, this.parts.held, () => this.stage.begin());
  private readonly stage = new Stage(this.store, by_id("stage"), (name) => this.held.pick(name));
  private readonly signal = new SignalPane(this.store, this.parts.signal);
  private readonly flight = new FlightPane(this.store, this.parts.flight);
  private readonly strips = new StripPane(this.store, this.parts.strips);
  private readonly verdict: VerdictPane;
  private readonly exposure = new ExposureFields(this.store, this.parts.exposure);
  private readonly choosers: Choosers;
  private readonly compass: Compass;
  private readonly kept: KeptPane;
  private readonly time: TimeBar;
  private readonly top: TopBar;
  private readonly lesson: LessonView;
  private readonly studies: Studies;
  private readonly files: Files;

  constructor(
    bench: Engine,
    private readonly tables: Tables,
    private readonly list: Example[],
  ) {
    this.asker = new Asker(this.store, bench, (part) => this.take(part));
    this.asker.shelf = list.flatMap((each) => each.files);
    this.verdict = new VerdictPane(this.store, this.asker, this.parts.verdict);
    const begin = () => this.stage.begin();
    this.choosers = new Choosers(this.store, tables, by_id("choosers"), begin);
    this.compass = new Compass(
      this.store,
      this.parts.compass,
      (name) => this.held.pick(name),
      begin,
      (element) => listen_to_keys(element, this.store, thing("turn"), begin),
    );
    this.kept = new KeptPane(this.store, this.asker);
    this.time = new TimeBar(this.store, this.asker, this.strips);
    this.files = new Files(this.store, this.asker, this.stage, tables);
    this.studies = new Studies(this.store, this.asker, list);
    this.lesson = new LessonView(this.store, this.asker, list, this.studies, this.time);
    const dialogs = new Dialogs(this.store, tables, this.files, this.lesson);
    this.top = new TopBar(this.store, list, dialogs, this.kept);
    listen_to_page_keys(this.store, { kept: this.kept, time: this.time, lesson: this.lesson, dialogs });
    this.parts.connect(this.stage, this.signal, this.store, this.asker);
    this.store.listen((event) => {
      if (event === "hold") this.asker.hold();
      if (event === "settle") {
        this.asker.patch = null;
        this.asker.settle();
      }
      if (event === "settings") this.adjust();
      if (event === "hold") this.draw_controls_soon();
      else this.draw_controls();
      set(document.documentElement, { "data-busy": this.asker.working() });
    });
    addEventListener("hashchange", () => void this.open_link());
  }

  async start(): Promise<void> {
    const before = stored();
    Object.assign(this.store.settings, settings_of(before?.settings));
    if (await this.open_link()) return;
    const scenario = await this.files.trusted(before?.scenario);
    const first = this.list.find((each) => each.name === "01-white-tile") ?? this.list[0];
    this.store.replace(scenario ?? { toml: first?.toml ?? "", set: {} });
  }

  /** A scenario in the address. It is checked key by key, then taken out of the address. */
  private async open_link(): Promise<boolean> {
    if (location.hash.length < 3 || location.hash === "#bench") return false;
    const link = read_link(location.hash.slice(1), this.tables);
    try {
      history.replaceState(null, "", location.pathname + location.search);
    } catch {
      // From disk the address may not change: then it stays.
    }
    if ("why" in link) {
      this.files.notice(t("link_bad", { why: link.why }));
      return false;
    }
    this.store.replace(link.scenario);
    return true;
  }

  private take(part: Part): void {
    const { answers } = this.asker;
    set(document.documentElement, { "data-busy": this.asker.working() });
    if (part === "view" && answers.view) this.show_view();
    if (part === "rest") this.stage.rest();
    if (part === "check") {
      this.draw_controls();
      this.stage.draw();
    }
    if (part === "problems") this.show_problems();
    if (part === "readings") (this.time.draw(), this.strips.show(answers.still, answers.moved));
    if (part === "read") this.verdict.show_read();
    if (part === "read" || part === "budget") this.verdict.show_budget();
    if (part === "advice") this.verdict.show_advice();
    if (part === "rest" || part === "read") this.tell();
    if (part === "rest") this.kept.refresh();
  }

  private show_view(): void {
    const { view } = this.asker.answers;
    if (!view) return;
    this.stage.show(view);
    const array = view.look.kind === "array";
    this.parts.signal.hidden = !array;
    this.parts.flight.hidden = array;
    if (view.look.kind === "array") this.signal.show(view.look);
    else this.flight.show(view.look);
    say(
      this.parts.light_title,
      t(
        view.look.kind === "array"
          ? "signal"
          : view.look.kind === "phase"
            ? "signal_flight_phase"
            : "signal_flight_pulse",
      ),
    );
    this.signal.caption(this.parts.light_note);
    this.parts.show_reading(view.look, this.store.settings.truth);
    this.exposure.draw(view.look.exposure_us);
    this.parts.timing?.show(view.look.exposure_us, view.look.period_us);
    if (this.waiting) this.draw_controls();
    else this.held.draw();
    this.lesson.follow();
  }

  /** With the next picture of the bench, so that the screen is made once for both; without one, a little later. */
  private draw_controls_soon(): void {
    this.waiting ||= window.setTimeout(() => this.draw_controls(), 60);
  }
  private waiting = 0; // timer of controls that are yet to be drawn

  private draw_controls(): void {
    clearTimeout(this.waiting);
    this.waiting = 0;
    this.choosers.draw();
    this.compass.draw((element) => describe(element, this.store, thing("turn")), spoken(this.store, thing("turn")));
    this.held.draw();
    this.top.draw();
    this.parts.draw();
  }

  private show_problems(): void {
    this.files.problems(this.asker.answers.problems);
  }

  /** The account of the bench in words follows it when the hand rests. */
  private tell(): void {
    say(by_id("account"), account_of(this.store, this.asker));
    say(this.parts.account, account_of(this.store, this.asker));
    this.lesson.follow();
  }

  private adjust(): void {
    const { settings } = this.store;
    document.documentElement.classList.toggle("large", settings.large);
    if (settings.comma !== null) set_comma(settings.comma);
    this.stage.draw();
    this.signal.draw();
    this.flight.draw();
    void this.asker.strips();
    this.time.draw();
    this.strips.draw();
    this.parts.timing?.draw();
    const look = this.asker.answers.view?.look;
    if (look) this.parts.show_reading(look, settings.truth);
    this.tell();
  }
}

async function start(): Promise<void> {
  dress();
  set(document.documentElement, { "data-ready": "no" });
  const bench = new Engine();
  const tables = await bench.tables();
  if (!tables) return;
  const page = new Page(bench, tables, examples());
  await page.start();
  set(document.documentElement, { "data-ready": "yes" });
}

start().catch((error: unknown) => {
  by_id("notice").hidden = false;
  say(by_id("notice"), String(error));
});
