// In and out: scenario, link, pictures, report, series; files that are opened, dropped or pasted.
import type { Asker } from "./asker";
import { button, by_id, h, say } from "./dom";
import type { Case, Problem, Tables } from "./engine";
import { fixed } from "./format";
import { animated_svg, film_of, webm_of } from "./film";
import { write_link } from "./link";
import { picture_file, png_of } from "./pictures";
import type { Stage } from "./stage";
import type { Changes, Store } from "./store";
import { t } from "./texts";
import { fits_key } from "./trust";

const largest = 1_000_000; // bytes of a file that is brought in

export class Files {
  readonly link = h("input", { type: "text", readonly: true, "aria-label": t("link_here"), hidden: true });
  readonly progress = h("p", { role: "status", class: "note" });
  private serious = false;

  constructor(
    private readonly store: Store,
    private readonly asker: Asker,
    private readonly stage: Stage,
    private readonly tables: Tables,
  ) {
    addEventListener("dragover", (event) => event.preventDefault());
    addEventListener("drop", (event) => {
      event.preventDefault();
      for (const file of Array.from(event.dataTransfer?.files ?? [])) void this.bring_file(file);
    });
  }

  // ---- words to the person -------------------------------------------------------------------------------------

  notice(text: string, act?: { name: string; press: () => void }): void {
    const box = by_id("notice");
    box.hidden = text === "";
    const close = button(t("close"), () => this.notice(""));
    box.replaceChildren(
      h("span", { tabindex: text.length > 400 ? 0 : null }, text.length > 1500 ? `${text.slice(0, 1500)}\u2026` : text),
      act ? button(act.name, act.press) : "",
      close,
    );
    this.serious = false;
  }

  /** A scenario that cannot be simulated says why, and how to get back. */
  problems(problems: Problem[]): void {
    const first = problems[0];
    if (!first) {
      if (this.serious) this.notice("");
      return;
    }
    const range = /^(-?[\d.]+) to (-?[\d.]+) mm/.exec(first.key.startsWith("mount.range_mm") ? first.allowed : "");
    const text = [
      `${t("problem")}. ${first.key ? `${first.key}: ` : ""}${first.message}`,
      first.allowed && t("allowed", { what: first.allowed }),
      first.hint,
    ]
      .filter(Boolean)
      .join("\n");
    if (range) {
      // A little less than all of it, and not more than is wanted.
      const near = Math.max(this.store.number("mount.range_mm", 0), Math.ceil(98 * Number(range[1])) / 100);
      const far = Math.min(this.store.number("mount.range_mm", 1), Math.floor(98 * Number(range[2])) / 100);
      const press = () => this.store.settle({ "mount.range_mm": [near, far] });
      this.notice(text, { name: t("shorten", { near: fixed(near, 2), far: fixed(far, 2) }), press });
    } else if (first.key.startsWith("mount.range_mm")) {
      const half = [0, 1].map((index) => this.store.number("mount.range_mm", index) / 2);
      this.notice(text, { name: t("halve_range"), press: () => this.store.settle({ "mount.range_mm": half }) });
    } else
      this.notice(text, this.store.past.length ? { name: t("undo_it"), press: () => this.store.undo() } : undefined);
    this.serious = true;
  }

  private save(name: string, content: Blob): void {
    const url = URL.createObjectURL(content);
    const link = h("a", { href: url, download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(url), 30000);
    say(this.progress, t("saved", { name }));
  }

  private text(name: string, content: string | null, type: string): void {
    if (content !== null) this.save(name, new Blob([content], { type }));
  }

  /** A file's name from the scenario's title. */
  private stem(): string {
    const title = this.store.check?.title || "scenario";
    return (
      title
        .toLowerCase()
        .replace(/[^a-z0-9]+/g, "-")
        .replace(/^-|-$/g, "")
        .slice(0, 60) || "scenario"
    );
  }

  private async attempt(work: () => Promise<void>): Promise<void> {
    say(this.progress, t("working"));
    try {
      await work();
    } catch (error) {
      say(this.progress, error instanceof Error ? error.message : String(error));
    }
  }

  // ---- out ------------------------------------------------------------------------------------------------------

  outs(): [name: string, press: () => void][] {
    const now = () => this.store.now();
    const date = () => new Date().toISOString();
    const { side, bench } = this.asker;
    return [
      [
        t("take_toml"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}.toml`, (await bench.edit(now()))?.toml ?? null, "application/toml"),
          ),
      ],
      [t("take_link"), () => void this.attempt(() => this.copy_link())],
      [
        t("take_svg"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}.svg`, picture_file(this.stage.picture), "image/svg+xml"),
          ),
      ],
      [
        t("take_png"),
        () => void this.attempt(async () => this.save(`${this.stem()}.png`, await png_of(this.stage.picture, 2))),
      ],
      [
        t("take_layout"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}-layout.svg`, await side.layoutSvg(now()), "image/svg+xml"),
          ),
      ],
      [
        t("take_reading"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}-reading.svg`, await side.readingSvg(now()), "image/svg+xml"),
          ),
      ],
      [
        t("take_report"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}.html`, await side.report(now(), date()), "text/html"),
          ),
      ],
      [
        t("take_series"),
        () =>
          void this.attempt(async () => this.text(`${this.stem()}.csv`, await side.series(now(), date()), "text/csv")),
      ],
      [
        t("take_film"),
        () =>
          void this.attempt(async () =>
            this.text(`${this.stem()}-film.svg`, animated_svg(await this.film()), "image/svg+xml"),
          ),
      ],
      [
        t("take_webm"),
        () => void this.attempt(async () => this.save(`${this.stem()}.webm`, await webm_of(await this.film()))),
      ],
      [t("take_print"), () => print()],
    ];
  }

  private film() {
    return film_of(this.store, this.asker, (done, all) => say(this.progress, t("film_working", { done, all })));
  }

  private async copy_link(): Promise<void> {
    const values = { ...this.store.values, ...this.store.scenario.set } as Changes;
    const { hash, left_out } = write_link(values, this.tables, this.store.check?.fixed);
    const address = `${location.href.replace(/#.*/, "")}#${hash}`;
    this.link.hidden = false;
    this.link.value = address;
    this.link.select();
    const more = left_out.length ? ` ${t("link_leaves", { keys: left_out.join(", ") })}` : "";
    const copied = await navigator.clipboard?.writeText(address).then(
      () => true,
      () => false,
    );
    say(this.progress, (copied ? t("link_copied") : t("link_here")) + more);
  }

  // ---- in -------------------------------------------------------------------------------------------------------

  async bring_file(file: File): Promise<void> {
    const name = file.name.slice(0, 100);
    if (file.size > largest) return this.notice(t("file_big", { name }));
    const text = await file.text();
    if (/\.(csv|pgm)$/i.test(name)) {
      await this.asker.bench.put(name, text);
      await this.asker.side.put(name, text);
      return this.notice(t("file_taken", { name }));
    }
    await this.bring_text(text, name);
  }

  /** A scenario as text. What cannot be read changes nothing. */
  async bring_text(text: string, name: string): Promise<void> {
    if (text.length > largest) return this.notice(t("file_big", { name }));
    try {
      const check = await this.asker.bench.check({ toml: text });
      if (!check) return;
      const [problem] = check.problems;
      if (problem) return this.notice(t("file_bad", { name, why: problem.text }));
      this.store.replace({ toml: text, set: {} });
      this.notice("");
    } catch (error) {
      this.notice(t("file_bad", { name, why: String(error) }));
    }
  }

  /** What the browser stored, if it is still a scenario. */
  async trusted(given: unknown): Promise<Case | null> {
    if (typeof given !== "object" || given === null) return null;
    const { toml, set } = given as Record<string, unknown>;
    if (typeof toml !== "string" || toml.length > largest) return null;
    const keys = new Map(this.tables.keys.map((each) => [each.key, each]));
    const changes: Changes = {};
    for (const [name, value] of Object.entries((set ?? {}) as Record<string, unknown>)) {
      const key = keys.get(name);
      if (key && fits_key(value, key, this.tables)) changes[name] = value;
    }
    const scenario = { toml, set: changes };
    await this.asker.bring(toml);
    const check = await this.asker.bench.check(scenario).catch(() => null);
    return check && check.problems.length === 0 ? scenario : null;
  }
}
