// How long the page waits for its engine, in Chromium from disk, beside the same questions on this machine.
//   node tests/bench/page.mjs [--build build] [--rounds 20]
// Medians and 95th percentiles in milliseconds: a move of the mouse to the new picture, then question to answer of a warm
// engine. Nothing here passes or fails.
import { readFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { open_page } from "../web/browser.mjs";
import { open_native } from "../web/native.mjs";

const option = (name, otherwise) => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : process.argv[at + 1];
};
const build = resolve(option("build", "build"));
const rounds = Number(option("rounds", "20"));
const scenarios = join(dirname(fileURLToPath(import.meta.url)), "../../scenarios");

const parts = {
  "matt tile": "01-white-tile",
  "mirror, diffuse mount": "07-polished-ring-diffuse",
  "mirror, specular mount": "08-polished-ring-specular",
  "clear plate": "14-clear-cover",
  "translucent cap": "15-translucent-cap",
  "step": "16-step-edge-across",
  "phase shift": "21-pallet-white",
};
// What a hand moves differs from question to question; the sensor stays but for the last.
const moved = (i) => ({ "target.displacement_mm": 0.011 * (i % 19) });
const turned = (i) => ({ "receiver.angle_deg": 29 + 0.07 * i });
const questions = [
  { name: "dragged part", kind: "view", options: { preview: true }, set: moved },
  { name: "dragged receiver", kind: "view", options: { preview: true }, set: turned, array: true },
  { name: "part at rest", kind: "view", options: {}, set: moved },
  { name: "1024 readings", kind: "readings", options: { count: 1024 }, set: () => ({}) },
  { name: "1024 on other patches", kind: "readings", options: { count: 1024, moved: true }, set: () => ({}) },
  { name: "verdict (read)", kind: "read", options: {}, set: moved, rounds: 5 },
];

const sorted = (list) => [...list].sort((a, b) => a - b);
const median = (list) => sorted(list)[Math.floor(list.length / 2)];
const percentile_95 = (list) => sorted(list)[Math.min(list.length - 1, Math.floor(0.95 * list.length))];
const text = (list) => `${median(list).toFixed(1).padStart(8)}${percentile_95(list).toFixed(1).padStart(8)}`;

async function times(engine, toml, question) {
  const list = [];
  for (let i = -2; i < (question.rounds ?? rounds); ++i) {
    const { ms, problems } = await engine.ask_timed(question.kind, { toml, set: question.set(i + 3), ...question.options });
    if (problems) return null;
    if (i >= 0) list.push(ms);
  }
  return list;
}

/** Milliseconds from a move of the mouse to the frame that follows the next change of the picture, while the part is dragged. */
async function drags(page, example) {
  await page.selectOption("#scenario", example);
  await page.waitForTimeout(3000);
  await page.evaluate(() => {
    globalThis.moves = [];
    let moved = 0;
    addEventListener("pointermove", (event) => (moved ||= event.timeStamp), true);
    new MutationObserver(() => {
      if (!moved) return;
      const begin = moved;
      moved = 0;
      requestAnimationFrame(() => globalThis.moves.push(performance.now() - begin));
    }).observe(document.getElementById("stage"), { subtree: true, childList: true, attributes: true });
  });
  const ring = await page.locator("[data-thing=displacement] .ring").first().boundingBox();
  const [x, y] = [ring.x + ring.width / 2, ring.y + ring.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 0; i < 60; ++i) {
    await page.mouse.move(x, y + 12 * Math.sin(i / 5));
    await page.waitForTimeout(25);
  }
  await page.mouse.up();
  return page.evaluate(() => globalThis.moves.splice(0));
}

const page = await open_page(join(build, "spotwright.html"));
const native = open_native(join(build, "ask_engine"), scenarios);
try {
  const shown = await page.page.evaluate(() => performance.getEntriesByType("paint").map((each) => each.startTime));
  console.log(`page from disk: first paint after ${Math.round(shown[0] ?? NaN)} ms`);
  console.log(`${"milliseconds".padEnd(50)}${"page".padStart(8)}${"95 %".padStart(8)}${"native".padStart(8)}${"95 %".padStart(8)}`);
  for (const [part, name] of Object.entries(parts)) {
    const list = await drags(page.page, name);
    if (list.length > 0) console.log(`${part.padEnd(26)}${"mouse to picture".padEnd(24)}${text(list)}`);
  }
  for (const [part, name] of Object.entries(parts)) {
    const toml = readFileSync(join(scenarios, `${name}.toml`), "utf8");
    for (const question of questions) {
      if (question.array && name.startsWith("21")) continue;
      const here = await times(native, toml, question);
      const there = await times(page, toml, question);
      const row = here && there ? text(there) + text(here) : "  rejected";
      console.log(`${part.padEnd(26)}${question.name.padEnd(24)}${row}`);
    }
  }
} finally {
  native.close();
  await page.close();
}
