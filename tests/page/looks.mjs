// How the page looks at four sizes: no panel is missing, cut off or over another, and small pictures of it are those that
// are kept in tests/page/looks, within a tolerance.
//   node tests/page/looks.mjs --page build/spotwright.html [--out build/page-looks] [--write]
// `--write` keeps what is seen now; whoever does that looks at it first. A picture that is missing is a failure.
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { check, choose_example, finish, open, option, settled } from "./open.mjs";

const kept = join(dirname(fileURLToPath(import.meta.url)), "looks");
const out = option("out", "build/page-looks");
const write = process.argv.includes("--write");
mkdirSync(write ? kept : out, { recursive: true });

const small = 320; // width of pictures that are compared, in pixels

// Tolerance: a picture is made of tiles of 20 x 20 small pixels, each the mean of its colours. The same browser makes the
// same picture, and type without hinting changes a tile by 0.1 of 255. Labels missing on the bench change four tiles by 8
// and more, a panel that is missing or moved by 13 to 58.
const most_off = 4;
const most_tiles = 3;

const looks = [
  ["desk", { viewport: { width: 1280, height: 720 } }, "01"],
  ["wall", { viewport: { width: 1920, height: 1080 } }, "08"],
  ["phone", { viewport: { width: 390, height: 844 } }, "14"],
  ["dark", { viewport: { width: 1280, height: 720 }, colorScheme: "dark" }, "21"],
];

/** Panels that are seen, with their place on the page; what stands inside another is not counted over it. */
const panels = (page) =>
  page.evaluate(() => {
    const names = ["#top", "#bench", "#choosers", "#stage", "#below", "#light", "#readings", "#verdict", "#bar"];
    return names.flatMap((name) => {
      const element = document.querySelector(name);
      if (!element || element.hidden) return [{ name, missing: true }];
      const { left, top, right, bottom } = element.getBoundingClientRect();
      const inside = names.filter((other) => other !== name && element.closest(other));
      return [{ name, inside, box: [left + scrollX, top + scrollY, right + scrollX, bottom + scrollY] }];
    });
  });

function overlaps(list) {
  const found = [];
  for (const one of list)
    for (const other of list) {
      if (one.name >= other.name || one.missing || other.missing) continue;
      if (one.inside.includes(other.name) || other.inside.includes(one.name)) continue;
      const wide = Math.min(one.box[2], other.box[2]) - Math.max(one.box[0], other.box[0]);
      const tall = Math.min(one.box[3], other.box[3]) - Math.max(one.box[1], other.box[1]);
      if (wide > 1 && tall > 1) found.push(`${one.name} over ${other.name}`);
    }
  return found;
}

/** A picture made small, and how far its tiles are from another small picture: worst first. In a page of its own. */
const compare = (page, picture, other) =>
  page.evaluate(
    async ([now, before, width]) => {
      const load = async (text) => {
        const image = new Image();
        image.src = `data:image/png;base64,${text}`;
        await image.decode();
        return image;
      };
      const pixels = (image, to) => {
        const canvas = document.createElement("canvas");
        canvas.width = to;
        canvas.height = Math.round((to * image.height) / image.width);
        const pen = canvas.getContext("2d");
        pen.imageSmoothingQuality = "high";
        pen.drawImage(image, 0, 0, canvas.width, canvas.height);
        return { canvas, data: pen.getImageData(0, 0, canvas.width, canvas.height).data };
      };
      const one = pixels(await load(now), width);
      const text = one.canvas.toDataURL("image/png").split(",")[1];
      if (!before) return { text, tiles: null };
      // Both as they come out of a file, so that nothing is made small twice.
      const a = pixels(await load(text), width);
      const b = pixels(await load(before), width);
      if (a.canvas.height !== b.canvas.height) return { text, tiles: [255] };
      const tiles = [];
      for (let y = 0; y < a.canvas.height; y += 20)
        for (let x = 0; x < width; x += 20) {
          const sum = [0, 0, 0];
          let count = 0;
          for (let j = y; j < Math.min(y + 20, a.canvas.height); ++j)
            for (let i = x; i < Math.min(x + 20, width); ++i, ++count)
              for (let c = 0; c < 3; ++c) sum[c] += a.data[4 * (j * width + i) + c] - b.data[4 * (j * width + i) + c];
          tiles.push(Math.max(...sum.map((each) => Math.abs(each) / count)));
        }
      return { text, tiles: tiles.sort((p, q) => q - p) };
    },
    [picture, other, small],
  );

for (const [name, options, start] of looks) {
  const it = await open("", { reducedMotion: "reduce", ...options });
  const { page } = it;
  await choose_example(page, start);
  await settled(page, [], 120);
  await page.waitForTimeout(1800); // the state before fades
  const list = await panels(page);
  check(`${name}: no panel is missing`, list.filter((each) => each.missing).map((each) => each.name), []);
  const flat = list.filter((each) => !each.missing && (each.box[2] - each.box[0] < 40 || each.box[3] - each.box[1] < 20));
  check(`${name}: none is squeezed`, flat.map((each) => each.name), []);
  check(`${name}: none is over another`, overlaps(list), []);
  const picture = (await page.screenshot({ animations: "disabled", caret: "hide" })).toString("base64");
  const file = join(kept, `${name}.png`);
  const other = existsSync(file) ? readFileSync(file).toString("base64") : null;
  const blank = await it.browser.newPage();
  const { text, tiles } = await compare(blank, picture, write ? null : other);
  if (write) writeFileSync(file, Buffer.from(text, "base64"));
  else if (!other) check(`${name}: ${file} is there`, false);
  else {
    writeFileSync(join(out, `${name}.png`), Buffer.from(text, "base64"));
    const off = tiles.filter((each) => each > most_off);
    console.log(`${name}: tiles off by ${tiles.slice(0, 4).map((each) => each.toFixed(1)).join(", ")} of 255`);
    check(`${name}: looks as it did`, off.length <= most_tiles);
  }
  finish(it);
  await it.browser.close();
}
