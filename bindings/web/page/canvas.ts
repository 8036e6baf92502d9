// A sharp canvas with axes: what the plots of the page have in common.
import { h } from "./dom";
import { fixed } from "./format";
import { type Ink, inks } from "./ink";

export interface Area {
  left: number;
  top: number;
  width: number;
  height: number;
}

export class Plot {
  readonly canvas: HTMLCanvasElement;
  width = 0;
  height = 0;
  ink: Ink = inks();
  type = 11; // size of type: grows with the page's
  private room: [number, number] = [0, 0];
  private readonly pen: CanvasRenderingContext2D;

  constructor(
    readonly parent: HTMLElement,
    redraw: () => void,
  ) {
    this.canvas = h("canvas", { role: "img" });
    const pen = this.canvas.getContext("2d");
    if (!pen) throw new Error("this browser draws no canvas");
    this.pen = pen;
    parent.append(this.canvas);
    // Sizes are noted when they change: asking for them while drawing would lay the page out each time.
    new ResizeObserver(([entry]) => {
      this.room = entry ? [entry.contentRect.width, entry.contentRect.height] : [0, 0];
      this.type = Math.max(11, 0.75 * parseFloat(getComputedStyle(document.documentElement).fontSize));
      redraw();
    }).observe(parent);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  }

  /** Clears the canvas. false: it cannot be seen. */
  begin(): CanvasRenderingContext2D | null {
    const ratio = devicePixelRatio || 1;
    const [width, height] = this.room;
    if (width < 20 || height < 20) return null;
    if (this.canvas.width !== Math.round(width * ratio) || this.canvas.height !== Math.round(height * ratio)) {
      this.canvas.width = Math.round(width * ratio);
      this.canvas.height = Math.round(height * ratio);
      this.canvas.style.width = `${width}px`;
      this.canvas.style.height = `${height}px`;
    }
    this.width = width;
    this.height = height;
    this.ink = inks();
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.pen.fillStyle = this.ink.paper;
    this.pen.fillRect(0, 0, width, height);
    this.pen.font = `${this.type}px system-ui, "Liberation Sans", sans-serif`;
    this.pen.lineJoin = "round";
    return this.pen;
  }

  line(points: Iterable<[number, number]>, colour: string, width = 1, dash: number[] = []): void {
    const pen = this.pen;
    pen.beginPath();
    let open = false;
    for (const [x, y] of points) {
      if (!Number.isFinite(y)) open = false;
      else if (open) pen.lineTo(x, y);
      else {
        pen.moveTo(x, y);
        open = true;
      }
    }
    const times = this.type / 11;
    pen.setLineDash(dash.map((each) => each * times));
    pen.strokeStyle = colour;
    pen.lineWidth = width * times;
    pen.stroke();
    pen.setLineDash([]);
  }

  text(text: string, x: number, y: number, colour: string, align: CanvasTextAlign = "left", bold = false): void {
    const pen = this.pen;
    pen.font = `${bold ? "600 " : ""}${this.type}px system-ui, "Liberation Sans", sans-serif`;
    pen.textAlign = align;
    pen.lineWidth = 4;
    pen.strokeStyle = this.ink.paper;
    pen.strokeText(text, x, y);
    pen.fillStyle = colour;
    pen.fillText(text, x, y);
  }

  axis_x(area: Area, low: number, high: number, name: string): (value: number) => number {
    const at = (value: number) => area.left + ((value - low) / (high - low || 1)) * area.width;
    const step = nice((high - low) / Math.max(2, area.width / (7 * this.type)));
    const y = area.top + area.height;
    this.line(
      [
        [area.left, y],
        [area.left + area.width, y],
      ],
      this.ink.grey,
      1,
    );
    for (let value = Math.ceil(low / step) * step; value <= high + 1e-9 * step; value += step) {
      this.line(
        [
          [at(value), y],
          [at(value), y + 4],
        ],
        this.ink.grey,
        1,
      );
      this.text(fixed(value, places_of(step)), at(value), y + 4 + this.type, this.ink.grey, "center");
    }
    this.text(name, area.left + area.width, y - 5, this.ink.grey, "right");
    return at;
  }

  axis_y(area: Area, low: number, high: number, name: string): (value: number) => number {
    const at = (value: number) => area.top + area.height - ((value - low) / (high - low || 1)) * area.height;
    const step = nice((high - low) / Math.max(2, area.height / (1.8 * this.type)));
    this.line(
      [
        [area.left, area.top],
        [area.left, area.top + area.height],
      ],
      this.ink.grey,
      1,
    );
    for (let value = Math.ceil(low / step) * step; value <= high + 1e-9 * step; value += step) {
      this.line(
        [
          [area.left, at(value)],
          [area.left + area.width, at(value)],
        ],
        this.ink.pale,
        0.5,
      );
      this.text(short(value, step), area.left - 5, at(value) + 0.35 * this.type, this.ink.grey, "right");
    }
    if (name) this.text(name, area.left + 4, area.top + this.type - 2, this.ink.grey);
    return at;
  }
}

export function nice(step: number): number {
  const size = 10 ** Math.floor(Math.log10(step || 1));
  const share = step / size;
  return (share > 5 ? 10 : share > 2 ? 5 : share > 1 ? 2 : 1) * size;
}

export function places_of(step: number): number {
  return Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
}

function short(value: number, step: number): string {
  if (Math.abs(value) >= 1e6 || step >= 1e6) return `${fixed(value / 1e6, step < 1e6 ? 1 : 0)} M`;
  if (value === 0) return "0";
  if (step >= 1e3) return `${fixed(value / 1e3, 0)} k`;
  return fixed(value, places_of(step));
}
