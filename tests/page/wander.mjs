// A hand that drags at random, by mouse and keys, for a minute: no exception, no request, and memory does not grow.
//   node tests/page/wander.mjs --page build/spotwright.html [--seed 1] [--seconds 60]
import { check, finish, open, option, random_from, settled } from "./open.mjs";

const seed = Number(option("seed", "1"));
const seconds = Number(option("seconds", "60"));
const random = random_from(seed);
const it = await open();
const { page } = it;
await settled(page, []);
const session = await page.context().newCDPSession(page);

async function heap_MB() {
  await session.send("HeapProfiler.collectGarbage");
  const { usedSize } = await session.send("Runtime.getHeapUsage");
  return usedSize / 1e6;
}

/** Elements of the document: a drawing that is never taken away would show here. */
const elements = () => page.evaluate(() => document.getElementsByTagName("*").length);

const names = await page.$$eval("#scenario option", (list) =>
  list.map((each) => each.value).filter((each) => each && !/^19/.test(each)),
);
const materials = await page.$$eval("#material option", (list) => list.map((each) => each.value));

async function drag() {
  const rings = await page.$$(".grip .ring");
  const ring = rings[Math.floor(random() * rings.length)];
  const box = await ring?.boundingBox();
  if (!box) return;
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 0; i < 12; ++i) await page.mouse.move(x + 160 * (random() - 0.5), y + 160 * (random() - 0.5));
  await page.mouse.up();
}

const keys = [
  "ArrowUp",
  "ArrowLeft",
  "Shift+ArrowRight",
  "Alt+ArrowLeft",
  "PageUp",
  "Home",
  "End",
  "t",
  "g",
  "k",
  "u",
  "r",
  "l",
  "1",
  "Tab",
  "Space",
];
const begin = Date.now();
let actions = 0;
let early = null;
while (Date.now() - begin < 1000 * seconds) {
  const choice = random();
  if (choice < 0.6) await drag();
  else if (choice < 0.88) await page.keyboard.press(keys[Math.floor(random() * keys.length)]);
  else if (choice < 0.94) await page.selectOption("#material", materials[Math.floor(random() * materials.length)]);
  else await page.selectOption("#scenario", names[Math.floor(random() * names.length)]);
  ++actions;
  if (!early && Date.now() - begin > 300 * seconds) early = { heap: await heap_MB(), elements: await elements() };
}
await page.selectOption("#scenario", "01-white-tile");
await settled(page, [], 120);
const late = { heap: await heap_MB(), elements: await elements() };
console.log(
  `seed ${seed}: ${actions} actions in ${seconds} s; heap ${early.heap.toFixed(1)} then ${late.heap.toFixed(1)} MB; elements ${early.elements} then ${late.elements}`,
);
// The history grows by some hundred bytes a step, and up to four panes are kept; pictures and answers must not pile up.
check("memory of the page does not grow", late.heap < early.heap + 10);
check("elements of the page do not grow", late.elements < early.elements + 600);
check("the page still reads", /^Reading/.test(await page.locator(".reading").innerText()));
finish(it);
await it.browser.close();
