// Choosing instead of typing: material, shape, mounting, exposure, tolerance.
import { h, set } from "./dom";
import type { Tables, Value } from "./engine";
import { plain, pretty_unit, typed } from "./format";
import { describe, spoken } from "./hold";
import type { Changes, Store } from "./store";
import { type TextName, shape_names, t } from "./texts";
import { movable, put_within, shortest_us, thing } from "./things";

function choice(
  name: string,
  id: string,
  options: [value: string, text: string][],
  take: (value: string) => void,
): { box: HTMLElement; select: HTMLSelectElement } {
  const select = h("select", { id }, ...options.map(([value, text]) => h("option", { value }, text)));
  select.addEventListener("change", () => take(select.value));
  return { box: h("label", { class: "choice" }, h("span", {}, name), select), select };
}

/** A number to type, of a key. */
export class NumberField {
  readonly box: HTMLElement;
  readonly input: HTMLInputElement;

  constructor(
    private readonly store: Store,
    private readonly key: string,
    name: string,
    unit: string,
    extra: () => Changes = () => ({}),
  ) {
    this.input = h("input", { type: "text", inputmode: "decimal", size: 7 });
    this.box = h(
      "label",
      { class: "choice" },
      h("span", {}, name),
      this.input,
      h("span", { class: "unit" }, pretty_unit(unit)),
    );
    this.input.addEventListener("change", () => {
      const value = typed(this.input.value);
      this.input.setAttribute("aria-invalid", value === null ? "true" : "false");
      if (value !== null) this.store.settle({ [key]: value, ...extra() });
    });
    this.input.addEventListener("keydown", (event) => event.stopPropagation());
  }

  draw(): void {
    const value = this.store.number(this.key);
    if (document.activeElement !== this.input) this.input.value = Number.isFinite(value) ? plain(value) : "";
    this.input.disabled = this.store.check?.fixed.includes(this.key) ?? false;
  }
}

/** Numbers of each shape that a person wants at hand, beside its place under the beam. */
const shape_keys: Record<string, [key: string, name: TextName, unit: string][]> = {
  step: [
    ["target.step.height_mm", "f_height", "mm"],
    ["target.step.position_mm", "f_edge", "mm"],
  ],
  cylinder: [
    ["target.cylinder.radius_mm", "f_radius", "mm"],
    ["target.cylinder.position_mm", "f_crest", "mm"],
  ],
  sphere: [["target.sphere.radius_mm", "f_radius", "mm"]],
  groove: [
    ["target.groove.depth_mm", "f_depth", "mm"],
    ["target.groove.opening_deg", "f_opening", "deg"],
    ["target.groove.position_mm", "f_bottom", "mm"],
  ],
  wave: [
    ["target.wave.amplitude_mm", "f_amplitude", "mm"],
    ["target.wave.period_mm", "f_period", "mm"],
  ],
  plate: [["target.plate.thickness_mm", "f_thickness", "mm"]],
  post: [["target.post.height_mm", "f_height", "mm"]],
};

export class Choosers {
  private readonly material: ReturnType<typeof choice>;
  private readonly shape: ReturnType<typeof choice>;
  private readonly mount = h("input", { type: "range", min: 0, max: 1, step: 0.01, id: "mount" });
  private readonly mount_box: HTMLElement;
  private readonly shape_box = h("span", { class: "shape-fields" });
  private fields: NumberField[] = [];
  private shape_shown = "";

  constructor(
    private readonly store: Store,
    tables: Tables,
    parent: HTMLElement,
    begin: () => void,
  ) {
    const materials = tables.materials.map((each): [string, string] => [each.name, each.name.replace(/-/g, " ")]);
    this.material = choice(t("material"), "material", materials, (value) => {
      begin();
      store.settle({ "target.material": value });
    });
    const shapes = (tables.keys.find((each) => each.key === "target.shape")?.words ?? ["plane"]).filter(
      (each) => each !== "relief",
    );
    this.shape = choice(
      t("shape"),
      "shape",
      shapes.map((each) => [each, shape_names[each] ?? each]),
      (value) => {
        begin();
        store.settle({ "target.shape": value });
      },
    );
    this.mount_box = h(
      "label",
      { class: "choice mounting" },
      h("span", {}, t("mounting")),
      h("span", { class: "end" }, t("diffuse")),
      this.mount,
      h("span", { class: "end" }, t("specular")),
    );
    this.mount.addEventListener("pointerdown", begin);
    this.mount.addEventListener("input", () => store.hold(put_within(store, thing("mount"), Number(this.mount.value))));
    this.mount.addEventListener("change", () => store.settle());
    parent.append(this.material.box, this.shape.box, this.shape_box, this.mount_box);
  }

  draw(): void {
    const { store } = this;
    this.pick(this.material.select, store.word("target.material"));
    this.pick(this.shape.select, store.word("target.shape"));
    const mount = thing("mount");
    const usable = movable(store, mount);
    this.mount_box.hidden = !usable;
    if (usable) {
      const value = Math.min(1, Math.max(0, mount.get(store)));
      if (Math.abs(Number(this.mount.value) - value) > 0.004) this.mount.value = String(value);
      describe(this.mount, store, mount);
      set(this.mount, {
        "aria-valuetext": `${spoken(store, mount)}, ${value > 0.98 ? t("specular") : value < 0.02 ? t("diffuse") : ""}`,
      });
    }
    this.draw_shape();
  }

  /** A material file or a name of one's own stands in the list as it is. */
  private pick(select: HTMLSelectElement, value: string): void {
    if (!Array.from(select.options).some((each) => each.value === value) && value)
      select.append(h("option", { value }, value));
    if (select.value !== value) select.value = value;
  }

  private draw_shape(): void {
    const shape = this.store.word("target.shape");
    if (shape !== this.shape_shown) {
      this.shape_shown = shape;
      this.fields = (shape_keys[shape] ?? []).map(
        ([key, name, unit]) => new NumberField(this.store, key, t(name), unit),
      );
      this.shape_box.replaceChildren(...this.fields.map((each) => each.box), ...this.turns(shape));
    }
    for (const each of this.fields) each.draw();
  }

  /** Across the plane of the mounting or parallel to it; what lies behind a plate. */
  private turns(shape: string): HTMLElement[] {
    const key =
      shape === "step"
        ? "target.step.edge"
        : ["cylinder", "groove", "wave"].includes(shape)
          ? `target.${shape}.axis`
          : "";
    if (key) {
      const made = choice(
        t("runs"),
        "shape-runs",
        [
          ["across", t("across")],
          ["parallel", t("parallel")],
        ],
        (value) => this.store.settle({ [key]: value }),
      );
      made.select.value = String(this.store.value(key) ?? "across");
      return [made.box];
    }
    if (shape !== "plate") return [];
    const made = choice(
      t("behind_it"),
      "backing",
      ["none", "white-paper", "black-rubber", "mirror"].map((each) => [
        each,
        each === "none" ? t("nothing_behind") : each.replace(/-/g, " "),
      ]),
      (value) => this.store.settle({ "target.plate.backing": value }),
    );
    made.select.value = String(this.store.value("target.plate.backing") ?? ("none" as Value));
    return [made.box];
  }
}

/** Exposure: a number, or automatic. */
export class ExposureFields {
  private readonly field: NumberField;
  private readonly automatic = h("input", { type: "checkbox", id: "automatic" });

  constructor(
    private readonly store: Store,
    parent: HTMLElement,
  ) {
    this.field = new NumberField(store, "exposure.exposure_us", t("exposure"), "us", () => this.longer());
    this.automatic.addEventListener("change", () => store.settle(this.automatic.checked ? this.free() : this.held()));
    parent.append(this.field.box, h("label", { class: "choice" }, this.automatic, h("span", {}, t("automatic"))));
  }

  /** Automatic exposure gets room: from short to long. */
  private free(): Changes {
    const period = this.store.value("exposure.period_us");
    const shortest = Array.isArray(period) ? Number(period[0]) : 125;
    return {
      "exposure.mode": "automatic",
      "exposure.exposure_us": shortest_us,
      "exposure.period_us": [shortest, Math.max(4000, shortest)],
    };
  }

  private held(): Changes {
    return {
      "exposure.mode": "fixed",
      "exposure.exposure_us": this.shown || this.store.number("exposure.exposure_us"),
      ...this.longer(this.shown),
    };
  }
  private shown = 0; // exposure of the newest frame

  /** A period is never shorter than its exposure. */
  private longer(exposure = typed(this.field.input.value) ?? 0): Changes {
    const period = this.store.value("exposure.period_us");
    if (!Array.isArray(period)) return {};
    const [shortest, longest] = period.map(Number) as [number, number];
    return exposure > longest ? { "exposure.period_us": [Math.max(shortest, exposure), exposure] } : {};
  }

  draw(exposure_us: number): void {
    this.shown = Number(exposure_us.toPrecision(4));
    const automatic = this.store.word("exposure.mode") === "automatic";
    this.automatic.checked = automatic;
    this.field.draw();
    if (automatic && document.activeElement !== this.field.input) this.field.input.value = plain(this.shown);
    this.field.input.disabled = automatic;
  }
}
