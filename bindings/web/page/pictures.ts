// The bench as a file: the drawing as it stands, with its style inside and without its handles.
import { drawing_style, day } from "./ink";
import { s } from "./dom";

/** Style of the loupes' pixels, which in the page comes from its own sheet. */
const grains = `.dr .grain{fill:${day.light}}.dr .bar{fill:${day.ink}}.dr .over{fill:${day.light}}`;

export function picture_file(picture: SVGSVGElement): string {
  const copy = picture.cloneNode(true) as SVGSVGElement;
  for (const each of Array.from(copy.querySelectorAll(".grip"))) each.remove();
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("class", "dr");
  const width = copy.getAttribute("width") ?? "800";
  const height = copy.getAttribute("height") ?? "600";
  const style = s("style");
  style.textContent = drawing_style(day) + grains;
  copy.prepend(style, s("rect", { width, height, fill: day.paper }));
  return `<?xml version="1.0" encoding="UTF-8"?>\n${new XMLSerializer().serializeToString(copy)}\n`;
}

export async function image_of(svg: string): Promise<HTMLImageElement> {
  const url = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  try {
    const image = new Image();
    image.src = url;
    await image.decode();
    return image;
  } finally {
    URL.revokeObjectURL(url);
  }
}

export async function png_of(picture: SVGSVGElement, times: number): Promise<Blob> {
  const image = await image_of(picture_file(picture));
  const canvas = document.createElement("canvas");
  canvas.width = times * Number(picture.getAttribute("width"));
  canvas.height = times * Number(picture.getAttribute("height"));
  canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done, fail) =>
    canvas.toBlob((blob) => (blob ? done(blob) : fail(new Error("no picture"))), "image/png"),
  );
}
