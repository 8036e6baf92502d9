// What leaves the page and what comes back: every file that it makes, kept states, advice that is tried and undone, causes
// that are switched off.
//   node tests/page/out.mjs --page build/spotwright.html --program build/spotwright
import { mkdtempSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { check, choose_example, finish, number_in, open, patience_s, run, scenarios, settled } from "./open.mjs";

const folder = mkdtempSync(join(tmpdir(), "spotwright-out-"));
const it = await open();
const { page } = it;
await choose_example(page, "07");
await settled(page, []);

async function download(name) {
  await page.getByRole("button", { name: "Files", exact: true }).click();
  const [made] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name, exact: true }).click(),
  ]);
  const file = join(folder, made.suggestedFilename());
  await made.saveAs(file);
  await page.keyboard.press("Escape");
  return file;
}

const toml = await download("Scenario (TOML)");
check(
  "the scenario is that of the demonstration",
  readFileSync(toml, "utf8"),
  readFileSync(join(scenarios, "07-polished-ring-diffuse.toml"), "utf8"),
);
const svg = readFileSync(await download("Bench (SVG)"), "utf8");
check(
  "a picture of the bench without its handles",
  [
    svg.startsWith("<?xml"),
    svg.includes("misses the lens"),
    svg.includes('role="slider"'),
    /<script|onload|href=/.test(svg),
  ],
  [true, true, false, false],
);
const png = readFileSync(await download("Bench (PNG)"));
check("a picture of points", [png.subarray(1, 4).toString(), png.length > 10000], ["PNG", true]);
const blank = await page.evaluate(
  async (bytes) => {
    const bitmap = await createImageBitmap(new Blob([new Uint8Array(bytes)], { type: "image/png" }));
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const pen = canvas.getContext("2d");
    pen.drawImage(bitmap, 0, 0);
    const { data } = pen.getImageData(0, 0, bitmap.width, bitmap.height);
    const seen = new Set();
    for (let i = 0; i < data.length; i += 4) seen.add(`${data[i]},${data[i + 1]},${data[i + 2]}`);
    return [seen.has("166,61,38"), seen.has("28,36,48")];
  },
  [...png],
);
check("with its ink and its red", blank, [true, true]);
const layout = readFileSync(await download("Layout drawing (SVG)"), "utf8");
const drawn = join(folder, "program.svg");
run("layout", toml, "--out", drawn);
check("the layout drawing is the program's", layout === readFileSync(drawn, "utf8"));
check(
  "the picture of a reading is a picture",
  readFileSync(await download("Picture of a reading (SVG)"), "utf8").includes("<svg"),
);
const report = readFileSync(await download("Report (HTML)"), "utf8");
check("the report names the level", report.includes("unreadable"));
const rows = (text) => text.split("\n").filter((line) => line && !line.startsWith("#"));
const csv = rows(readFileSync(await download("Series (CSV)"), "utf8"));
const program_csv = join(folder, "program.csv");
run("read", toml, "--out", program_csv);
const wanted = rows(readFileSync(program_csv, "utf8"));
check("the series has the program's columns and length", [csv[0], csv.length], [wanted[0], wanted.length]);
const peak = csv[0].split(",").indexOf("peak_e");
check(
  "and its first peak to a digit",
  Math.abs(Number(csv[1].split(",")[peak]) - Number(wanted[1].split(",")[peak])) < 50,
);
await choose_example(page, "01");
const film = readFileSync(await download("Animation (SVG)"), "utf8");
check(
  "the animation moves, and holds no script",
  [film.match(/<animate/g)?.length ?? 0, /<script|href=/.test(film)],
  [49, false],
);
const webm = readFileSync(await download("Animation (WebM)"));
const ebml_mark = Buffer.from([0x1a, 0x45, 0xdf, 0xa3]);  // first bytes of a WebM file
check("the recording is a WebM file", [webm.subarray(0, 4).equals(ebml_mark), webm.length > 20000], [true, true]);

// ---- kept states ------------------------------------------------------------------------------------------------

await choose_example(page, "01");
await page.locator("body").press("k");
await page.selectOption("#material", "polished-steel");
await settled(page);
await page.locator("body").press("k");
await settled(page, []);
const kept_levels = () => page.locator("#kept .small-level").allInnerTexts();
for (let i = 0; i < 10 * patience_s && (await kept_levels()).includes("working"); ++i) await page.waitForTimeout(100);
check("kept beside each other: white and polished", await kept_levels(), ["stable", "unreadable"]);
await page.locator("[data-thing=displacement]").first().focus();
for (let i = 0; i < 5; ++i) await page.keyboard.press("ArrowRight");
await settled(page, []);
const kept = await page.locator("#kept .pane .note").allInnerTexts();
check("the hand moves the kept ones too", Math.abs(number_in(kept[0]) - 0.5) < 0.02);
// What is chosen moves kept states where that is asked for, and only there.
const kept_names = () => page.locator("#kept .pane strong").allInnerTexts();
const before = await kept_names();
await page.selectOption("#material", "white-paper");
await settled(page);
check("another material leaves the kept ones", await kept_names(), before);
await page.locator("#linked-choosers").check();
await page.selectOption("#material", "black-rubber");
await settled(page);
check("linked, it moves them", await kept_names(), ["A: black rubber, diffuse", "B: black rubber, diffuse"]);
await page.locator("#linked-choosers").uncheck();
await page.selectOption("#material", "white-ceramic");
await settled(page);
await page.locator("body").press("1");
await settled(page);
check("1 brings the first back", await page.locator("#material").inputValue(), "black-rubber");

// ---- causes and advice --------------------------------------------------------------------------------------------

await choose_example(page, "01");
await settled(page, []);
const file = join(scenarios, "01-white-tile.toml");
const budget = JSON.parse(run("budget", file, "--json"));
check("as many causes as the budget has", await page.locator(".cause").count(), budget.contributions.length);
const left = async () => number_in((await page.locator(".left-over").innerText()).split("u =")[1]);
check("all of them: the budget's own", await left(), Number(budget.combined_um.toPrecision(2)));
await page.locator(".cause", { hasText: "speckle" }).first().click();
const rest = Math.sqrt(
  budget.contributions
    .filter((each) => each.name !== "speckle")
    .reduce((sum, each) => sum + each.standard_uncertainty_um ** 2, 0),
);
check("without speckle: the root of the others' squares", await left(), Number(rest.toPrecision(2)));

await choose_example(page, "02");
await settled(page, []);
await page.getByRole("button", { name: "What would help?" }).click();
await page.locator(".advice li").first().waitFor();
check(
  "advice for black rubber reaches stable",
  await page.locator(".advice .small-level").first().innerText(),
  "stable",
);
await page.locator(".advice li button").first().click();
await settled(page);
check("tried by one click", await page.locator(".level").innerText(), "stable");
await page.getByRole("button", { name: "Undo", exact: true }).click();
await settled(page);
check("and undone", await page.locator(".level").innerText(), "unreadable");
finish(it);
await it.browser.close();
