// Pictures of the page for people to look at: sizes, a class, a phone, dark, and paper.
//   node tests/page/shots.mjs --page build/spotwright.html --out build/page-shots
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { choose_example, finish, open, option, settled } from "./open.mjs";

const folder = option("out", "build/page-shots");
mkdirSync(folder, { recursive: true });

async function lesson(page, number, step, present) {
  await page.getByRole("button", { name: "Lessons", exact: true }).click();
  await page.getByRole("button", { name: new RegExp(`^${number}\\.`) }).click();
  await settled(page);
  for (let i = 0; i < step; ++i) await page.keyboard.press("PageDown");
  if (present) await page.keyboard.press("p");
  await settled(page);
}

const shots = [
  ["desk-1280x720", { viewport: { width: 1280, height: 720 } }, async () => undefined],
  ["mirror-1280x720", { viewport: { width: 1280, height: 720 } }, (page) => choose_example(page, "07")],
  ["wall-1920x1080", { viewport: { width: 1920, height: 1080 } }, (page) => choose_example(page, "20")],
  ["lesson-1920x1080", { viewport: { width: 1920, height: 1080 } }, (page) => lesson(page, 3, 3, false)],
  ["class-1920x1080", { viewport: { width: 1920, height: 1080 } }, (page) => lesson(page, 5, 3, true)],
  ["class-1280x720", { viewport: { width: 1280, height: 720 } }, (page) => lesson(page, 1, 2, true)],
  ["phone-390x844", { viewport: { width: 390, height: 844 } }, async () => undefined],
  ["phone-lesson-390x844", { viewport: { width: 390, height: 844 } }, (page) => lesson(page, 2, 2, false)],
  [
    "dark-1280x720",
    { viewport: { width: 1280, height: 720 }, colorScheme: "dark" },
    (page) => choose_example(page, "14"),
  ],
  ["projector-3840x2160", { viewport: { width: 3840, height: 2160 } }, async () => undefined],
];
const only = option("only", "");
for (const [name, options, go] of shots.filter(([each]) => each.includes(only))) {
  const it = await open("", options);
  await settled(it.page, []);
  await go(it.page);
  await settled(it.page, [], 90);
  await it.page.waitForTimeout(2000); // the ghost fades
  await it.page.screenshot({ path: join(folder, `${name}.png`) });
  if (name === "desk-1280x720") {
    await it.page.emulateMedia({ media: "print" });
    await it.page.setViewportSize({ width: 720, height: 1020 });
    await it.page.waitForTimeout(500);
    await it.page.screenshot({ path: join(folder, "paper.png"), fullPage: true });
    await it.page.pdf({ path: join(folder, "paper.pdf"), format: "A4" });
  }
  finish(it);
  await it.browser.close();
}
