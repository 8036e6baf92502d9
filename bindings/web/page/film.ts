// A short animation for slides: the part goes through its range, and its spot along the array.
import type { Asker } from "./asker";
import { s } from "./dom";
import { draw_scene, label } from "./drawing";
import type { View } from "./engine";
import { fixed } from "./format";
import { type Frame, fit } from "./frame";
import { day, drawing_style } from "./ink";
import { image_of } from "./pictures";
import type { Store } from "./store";
import { t } from "./texts";

const width = 960;
const height = 540;
const frames = 49; // there and back again
const seconds = 6;

export interface Film {
  pictures: SVGElement[]; // one group each
}

/** Asks the engine for the part at places over its range, there and back. */
export async function film_of(
  store: Store,
  asker: Asker,
  progress: (done: number, all: number) => void,
): Promise<Film> {
  const near = store.number("mount.range_mm", 0);
  const far = store.number("mount.range_mm", 1);
  const scenario = store.now();
  const views: View[] = [];
  for (let i = 0; i < frames; ++i) {
    const share = 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / (frames - 1));
    const mm = near + share * (far - near);
    const view = await asker.bench.view(
      { toml: scenario.toml, set: { ...scenario.set, "target.displacement_mm": mm } },
      { preview: true },
      "film",
    );
    if (!view) throw new Error(t("film_needs_array"));
    views.push(view);
    progress(i + 1, frames);
  }
  const first = views[0];
  if (!first || first.look.kind !== "array") throw new Error(t("film_needs_array"));
  const frame = fit(first.scene, 0.56 * width, height, { left: 90, right: 30, top: 40, bottom: 50 });
  const most = Math.max(...views.map((each) => (each.look.kind === "array" ? Math.max(...each.look.frame_e) : 0)));
  return { pictures: views.map((each) => picture(each, frame, most)) };
}

function picture(view: View, frame: Frame, most: number): SVGElement {
  const { look, scene } = view;
  const left = 0.6 * width;
  const wide = 0.36 * width;
  const foot = 0.72 * height;
  const tall = 0.5 * height;
  const group = s("g", {}, draw_scene(scene, frame, { mirror: false, levels: true }));
  if (look.kind !== "array") return group;
  const count = look.frame_e.length;
  const points = Array.from(
    look.frame_e,
    (e, i) => `${(left + (i / count) * wide).toFixed(1)},${(foot - (e / (1.1 * most)) * tall).toFixed(1)}`,
  );
  group.append(
    s("polyline", { points: points.join(" "), class: "light" }),
    s("path", { d: `M${left},${foot}h${wide}M${left},${foot}v${-tall}`, class: "edge" }),
    label(left, foot - tall - 10, t("signal")),
    label(left + wide, foot + 16, t("signal_axis"), "note", "end"),
    label(
      left,
      foot + 50,
      `${t("reading_now")}: ${look.reading_mm === null ? t("no_reading") : `${fixed(look.reading_mm, 3)} mm`}`,
    ),
    label(left, foot + 70, `${t("truth")}: ${fixed(look.true_mm, 3)} mm`, "note"),
  );
  return group;
}

function whole(content: SVGElement[]): string {
  const style = s("style");
  style.textContent = drawing_style(day);
  const root = s(
    "svg",
    { class: "dr", viewBox: `0 0 ${width} ${height}`, width, height },
    style,
    s("rect", { width, height, fill: day.paper }),
    ...content,
  );
  root.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  return `<?xml version="1.0" encoding="UTF-8"?>\n${new XMLSerializer().serializeToString(root)}\n`;
}

/** One file that moves by itself wherever SVG animations run; elsewhere it shows the first picture. */
export function animated_svg(film: Film): string {
  const all = film.pictures.length;
  const groups = film.pictures.map((each, index) => {
    const group = s("g", { display: index === 0 ? "inline" : "none" }, each.cloneNode(true));
    const values = film.pictures.map((_, other) => (other === index ? "inline" : "none")).join(";");
    group.append(
      s("animate", {
        attributeName: "display",
        values,
        dur: `${seconds}s`,
        calcMode: "discrete",
        repeatCount: "indefinite",
      }),
    );
    return group;
  });
  return all ? whole(groups) : whole([]);
}

export async function webm_of(film: Film): Promise<Blob> {
  const type = ["video/webm;codecs=vp9", "video/webm;codecs=vp8", "video/webm"].find(
    (each) => typeof MediaRecorder !== "undefined" && MediaRecorder.isTypeSupported(each),
  );
  if (!type) throw new Error(t("webm_none"));
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const pen = canvas.getContext("2d");
  const recorder = new MediaRecorder(canvas.captureStream(30), { mimeType: type, videoBitsPerSecond: 4e6 });
  const parts: Blob[] = [];
  recorder.ondataavailable = (event) => parts.push(event.data);
  const images = await Promise.all(film.pictures.map((each) => image_of(whole([each.cloneNode(true) as SVGElement]))));
  const ended = new Promise<void>((done) => (recorder.onstop = () => done()));
  recorder.start();
  for (const each of images) {
    pen?.drawImage(each, 0, 0);
    await new Promise((next) => setTimeout(next, (1000 * seconds) / images.length));
  }
  recorder.stop();
  await ended;
  return new Blob(parts, { type: "video/webm" });
}
