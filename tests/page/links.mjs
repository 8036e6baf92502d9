// Links: 200 random scenarios go through a link and back unchanged; what is hostile is refused and changes nothing.
//   node tests/page/links.mjs --page build/spotwright.html [--seed 1] [--count 200]
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { open_page } from "../web/browser.mjs";
import { check, choose_example, finish, open, option, page_file, patience_s, random_from, require, settled } from "./open.mjs";

const { build } = require("esbuild");
const page_sources = new URL("../../bindings/web/page/", import.meta.url);
const bundle = join(mkdtempSync(join(tmpdir(), "spotwright-link-")), "link.mjs");
await build({ entryPoints: [new URL("link.ts", page_sources).pathname], bundle: true, format: "esm", outfile: bundle });
const { read_link, write_link } = await import(bundle);

const engine = await open_page(page_file);
const tables = await engine.ask("tables", {});
const seed = Number(option("seed", "1"));
const random = random_from(seed);
const pick = (list) => list[Math.floor(random() * list.length)];

function number(key) {
  const low = key.low ?? -1000;
  const high = Math.min(key.high ?? 1000, low + 2000);
  const value = low + (0.05 + 0.9 * random()) * (high - low);
  return key.kind === "integer" ? Math.round(value) : Number(value.toPrecision(1 + Math.floor(random() * 12)));
}

function random_value(key) {
  switch (key.kind) {
    case "number":
    case "integer":
      return number(key);
    case "pair":
      return [number(key), number(key)];
    case "list":
      return [number(key), number(key), number(key)].slice(0, 1 + Math.floor(random() * 3));
    case "word":
      return pick(key.words);
    case "number-or-word":
    case "peak-choice":
      return random() < 0.5 ? pick(key.words) : Math.round(Math.abs(number(key)));
    case "aperture":
      return random() < 0.5 ? number(key) : [number(key), number(key)];
    case "texts":
      return [pick(tables.materials).name, pick(tables.materials).name];
    default:
      if (key.key === "title")
        return pick(["R\u00f6ntgen & Co", "a=b&c=d#e", "<b>title</b>", "100 % \u00b1 5 \u00b5m", "'quoted'", ""]);
      if (key.key.endsWith("material") || key.key.endsWith("backing")) return pick(tables.materials).name;
      return key.default;
  }
}

let unchanged = 0;
let readable = 0;
const count = Number(option("count", "200"));
for (let i = 0; i < count; ++i) {
  const values = Object.fromEntries(tables.keys.map((each) => [each.key, each.default]));
  values["target.material"] = pick(tables.materials).name;
  for (let k = 0; k < 2 + Math.floor(random() * 12); ++k) {
    const key = pick(tables.keys);
    if (key.key !== "sensor" && key.kind !== undefined) values[key.key] = random_value(key);
  }
  const { hash, left_out } = write_link(values, tables);
  const link = read_link(hash, tables);
  if (!link.scenario) {
    check(`random scenario ${i} of seed ${seed} is read (${hash})`, link.why, "");
    continue;
  }
  const again = { ...Object.fromEntries(tables.keys.map((each) => [each.key, each.default])), ...link.scenario.set };
  for (const key of left_out) again[key] = values[key];
  if (JSON.stringify(again) === JSON.stringify(values)) ++unchanged;
  else check(`random scenario ${i} of seed ${seed} unchanged (${hash})`, false);
  const answer = await engine.ask("check", link.scenario);
  if (answer.problems.length === 0) {
    ++readable;
    const differs = Object.keys(link.scenario.set).filter(
      (key) => JSON.stringify(answer.values[key]) !== JSON.stringify(link.scenario.set[key]),
    );
    if (differs.length) check(`random scenario ${i} of seed ${seed} arrives in the engine`, differs, []);
  }
}
check(`${count} random scenarios through a link and back`, unchanged, count);
console.log(`     ${readable} of them can be simulated`);
await engine.close();

// ---- in the address bar -----------------------------------------------------------------------------------------

const it = await open(
  "#1&target.material='polished-steel&emitter.angle_deg=-15&receiver.angle_deg=15&reading.calibrated_on='mirror&exposure.mode='automatic&exposure.exposure_us=0.01&mount.range_mm=[-1,1]",
);
const { page } = it;
await settled(page);
check("a link opens its scenario", await page.locator(".level").innerText(), "stable");
check("and leaves the address", await page.evaluate(() => location.hash), "");
await page.reload();
await page.waitForSelector("html[data-ready=yes]");
await settled(page);
check("a reload returns to it", await page.locator("#material").inputValue(), "polished-steel");

const state = () =>
  page.evaluate(() => document.querySelector("#material").value + document.querySelector(".level").textContent);
const before = await state();
const script = "<img src=x onerror=alert(1)><script>globalThis.harmed=1</script>";
const hostile = [
  `#1&target.material='${encodeURIComponent(script)}`,
  `#1&title='${encodeURIComponent(script)}`,
  `#1&target.material='mirror&title='${encodeURIComponent("a".repeat(300))}`,
  "#1&__proto__=1&target.material='mirror",
  "#1&constructor.prototype.x=1&target.material='mirror",
  "#1&target.material='mirror&exposure.exposure_us=1e999",
  "#1&target.material='mirror&exposure.exposure_us=-1",
  "#1&target.material='mirror&exposure.exposure_us='1",
  "#1&target.material='mirror&detector.pixels=99999999",
  "#1&target.material='mirror&mount.range_mm=[1,2,3]",
  '#1&target.material=\'mirror&mount.range_mm={"toString":1}',
  "#1&target.material='../../etc/passwd",
  "#1&target.material='mirror&motion.path='/etc/passwd",
  "#1&target.material='mirror%0a[run]%0areadings=1",
  "#1&target.material='mirror\"%0aseed=4",
  "#1&target.material=%E0%A4%A",
  "#2&target.material='mirror",
  `#1&target.material='mirror&title='${"%41".repeat(20000)}`,
  "#javascript:alert(1)",
];
for (const each of hostile) {
  await page.evaluate((hash) => {
    location.hash = hash;
  }, each);
  await page.waitForTimeout(60);
  await settled(page);
  const harmed = await page.evaluate(() => [
    globalThis.harmed ?? 0,
    {}.x ?? 0,
    document.querySelectorAll("img, main script").length,
  ]);
  check(
    `refused: ${each.slice(0, 70)}`,
    [await state(), harmed, await page.locator("#notice").isVisible()],
    [before, [0, 0, 0], true],
  );
  await page.locator("#notice button", { hasText: "Close" }).click();
}
// A title with markup in it is a title, and nothing else.
await page.evaluate(
  (hash) => {
    location.hash = hash;
  },
  `#1&target.material='mirror&title='${encodeURIComponent("<i>bold</i>")}`,
);
await page.waitForTimeout(60);
await settled(page);
check("markup in a title stays text", await page.evaluate(() => document.querySelectorAll("i").length), 0);

// ---- files ------------------------------------------------------------------------------------------------------

await choose_example(page, "01");
const files = [
  ["broken.toml", "schema = 1\n[target\nmaterial = "],
  [
    "markup.toml",
    `schema = 1\ntitle = "${"<img src=x onerror=alert(1)>"}"\n[target]\nmaterial = "<script>alert(1)</script>"\n`,
  ],
  ["empty.toml", ""],
  ["binary.toml", Buffer.from(Array.from({ length: 4096 }, () => Math.floor(256 * random())))],
  ["deep.toml", `a = ${"[".repeat(50000)}`],
  ["big.toml", Buffer.alloc(3_000_000, "#")],
  ["wrong.toml", 'schema = 1\n[target]\nmaterial = "mirror"\ndisplacement_mm = 1e400\n'],
  ["unknown.toml", 'schema = 1\n[target]\nmaterial = "mirror"\nmateria = 1\n'],
];
const folder = mkdtempSync(join(tmpdir(), "spotwright-files-"));
const clear = await state();
for (const [name, content] of files) {
  const file = join(folder, name);
  writeFileSync(file, content);
  await page.getByRole("button", { name: "Files", exact: true }).click();
  await page.locator("dialog input[type=file]").setInputFiles(file);
  await page.locator("#notice").waitFor({ state: "visible" });
  await settled(page);
  check(
    `not used: ${name}`,
    [await state(), await page.evaluate(() => document.querySelectorAll("img, main script").length)],
    [clear, 0],
  );
  await page.locator("#notice button", { hasText: "Close" }).click();
}
await page.getByRole("button", { name: "Files", exact: true }).click();
await page.locator("dialog textarea").fill('schema = 1\ntitle = "pasted"\n[target]\nmaterial = "white-paper"\n');
await page.getByRole("button", { name: "Use this text" }).click();
for (let i = 0; i < 20 * patience_s && (await page.locator("#material").inputValue()) === "white-ceramic"; ++i)
  await page.waitForTimeout(50);
await settled(page);
check("a pasted scenario is used", await page.locator("#material").inputValue(), "white-paper");
finish(it);
await it.browser.close();
