// Handles moved by mouse and by keys; what the page then reads is what the program reads of the same scenario.
//   node tests/page/drag.mjs --page build/spotwright.html --program build/spotwright
import { mkdtempSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { check, choose_example, finish, number_in, open, patience_s, run, scenarios, settled } from "./open.mjs";

const folder = mkdtempSync(join(tmpdir(), "spotwright-page-"));
const it = await open();
const { page } = it;

async function slider(thing) {
  const handle = page.locator(`[data-thing=${thing}]`).first();
  const value = async (name) => Number(await handle.getAttribute(`aria-value${name}`));
  return { handle, value };
}

async function drag(thing, dx, dy) {
  const ring = page.locator(`[data-thing=${thing}] .ring, [data-thing=${thing}] .needle-head`).first();
  const box = await ring.boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 1; i <= 8; ++i) await page.mouse.move(x + (dx * i) / 8, y + (dy * i) / 8);
  await page.mouse.up();
  await settled(page, ["budget", "read", "readings"]);
}

/** The scenario as the page holds it, as a file for the program. */
async function saved(name) {
  await page.getByRole("button", { name: "Files", exact: true }).click();
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: "Scenario (TOML)" }).click(),
  ]);
  const file = join(folder, name);
  await download.saveAs(file);
  await page.keyboard.press("Escape");
  return file;
}

/** First reading, mean of the strip's readings and verdict of page and program. */
async function compare(what) {
  await settled(page);
  const file = await saved("now.toml");
  const csv = join(folder, "now.csv");
  run("read", file, "--set", "run.readings=1024", "--out", csv);
  const rows = readFileSync(csv, "utf8")
    .split("\n")
    .filter((line) => line && !line.startsWith("#"));
  const column = rows[0].split(",").indexOf("displacement_mm");
  const first = rows[1].split(",")[column];
  const text = await page.locator(".reading").innerText();
  if (first === "") check(`${what}: no reading in both`, /^No reading/.test(text));
  else check(`${what}: reading`, number_in(text).toFixed(4), Number(Number(first).toFixed(4)).toFixed(4));
  const json = JSON.parse(run("read", file, "--json"));
  check(`${what}: verdict`, await page.locator(".level").innerText(), json.verdict.level);
}

await choose_example(page, "01");
await compare("as it is");

for (const [thing, dx, dy] of [
  ["displacement", 0, -18],
  ["tilt", 0, 30],
  ["receiver", 25, 10],
  ["aperture", 6, 4],
  ["waist", -30, 0],
  ["lens", -6, 12],
  ["emitter", 0, -20],
  ["array", -4, -6],
  ["sensor", 14, 2],
]) {
  const { value } = await slider(thing);
  const before = await value("now");
  await drag(thing, dx, dy);
  check(`${thing} moved by the mouse`, (await value("now")) !== before);
}
await compare("after nine drags");

await choose_example(page, "01");
for (const thing of [
  "displacement",
  "tilt",
  "receiver",
  "lens",
  "aperture",
  "emitter",
  "waist",
  "array",
  "sensor",
  "turn",
]) {
  const { handle, value } = await slider(thing);
  await handle.focus();
  const start = await value("now");
  await page.keyboard.press("ArrowRight");
  await settled(page, ["budget", "read", "readings"]);
  const step = (await value("now")) - start;
  check(`${thing}: arrow right adds`, step > 0);
  await page.keyboard.press("Shift+ArrowLeft");
  await settled(page, ["budget", "read", "readings"]);
  const fine = start + step - (await value("now"));
  check(`${thing}: Shift is finer`, fine > 0 && fine < 0.5 * step);
  await page.keyboard.press("Alt+ArrowRight");
  await settled(page, ["budget", "read", "readings"]);
  check(
    `${thing}: Alt is coarser`,
    (await value("now")) - start - step + fine > 4 * step || (await value("now")) === (await value("max")),
  );
  await page.keyboard.press("u");
  await page.keyboard.press("u");
  await page.keyboard.press("u");
  await settled(page, ["budget", "read", "readings"]);
  check(`${thing}: undone`, await value("now"), start);
}
const displacement = await slider("displacement");
await displacement.handle.focus();
await page.keyboard.press("End");
await settled(page);
check("End goes to the end of the range", await displacement.value("now"), await displacement.value("max"));
await page.keyboard.press("Home");
await settled(page);
check("Home goes to its begin", await displacement.value("now"), await displacement.value("min"));
await page.keyboard.press("PageUp");
await settled(page);
await compare("keys near the near end");

await page.selectOption("#material", "black-rubber");
await settled(page);
await compare("black rubber");
await page.locator("#automatic").check();
await settled(page);
await compare("black rubber, automatic exposure");
// The first steps of somebody who tries a mirror: it cannot be read, and the mounting slider alone mends that.
await choose_example(page, "01");
await page.selectOption("#material", "polished-steel");
await settled(page);
check("a mirror in the diffuse mounting", await page.locator(".level").innerText(), "unreadable");
check(
  "the bench says why",
  (await page.locator("#stage text").allTextContents()).some((each) => each.startsWith("misses the lens")),
);
await page.locator("#mount").focus();
await page.keyboard.press("End");
await settled(page);
check("in the specular mounting", await page.locator(".level").innerText(), "stable");
// What cannot be simulated says so, and offers a way on.
await choose_example(page, "01");
await page.locator("[data-thing=receiver]").first().focus();
await page.keyboard.press("End");
await page.locator("#notice").waitFor();
await page.locator("#notice button").first().click();
await settled(page);
check(
  "a range that the array cannot see is shortened",
  [await page.locator("#notice").isVisible(), /^Reading/.test(await page.locator(".reading").innerText())],
  [false, true],
);
for (const start of ["04", "08", "14", "17", "30", "33"]) {
  const name = await choose_example(page, start);
  const json = JSON.parse(run("read", join(scenarios, `${name}.toml`), "--json"));
  check(`${name}: verdict`, await page.locator(".level").innerText(), json.verdict.level);
}
// Light by the ray model arrives part by part, and a hand does not wait for it.
const groove = await page.$$eval("#scenario option", (list) => list.find((each) => each.value.startsWith("19")).value);
await page.selectOption("#scenario", groove);
const shares = new Set();
const share_now = async () => {
  const note = await page.locator("#light .note").first().innerText();
  const share = /(\d+) % of the rays/.exec(note);
  if (share) shares.add(Number(share[1]));
  return share ? Number(share[1]) : null;
};
for (let i = 0; i < 2000 && shares.size < 4; ++i) await share_now();
check("traced light arrives in parts", shares.size >= 4);
check("and more of them with time", [...shares], [...shares].sort((a, b) => a - b));
await page.locator("[data-thing=displacement]").first().focus();
await page.keyboard.down("ArrowRight");
for (let i = 0; i < 100 * patience_s && (await share_now()) !== null; ++i) await page.waitForTimeout(10);
check("a hand that moves sees a preview before all of it is there", [await share_now(), Math.max(...shares) < 100], [null, true]);
await page.keyboard.up("ArrowRight");
await settled(page, ["budget"], 120); // its budget takes minutes
await compare("a groove by traced rays, moved");
finish(it);
await it.browser.close();
