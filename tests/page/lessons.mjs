// Every lesson walked to its end by keys alone, in both kinds of type; what it promises is what the page then shows.
//   node tests/page/lessons.mjs --page build/spotwright.html
import { check, finish, number_in, open, patience_s, settled } from "./open.mjs";

const it = await open();
const { page } = it;
const rights = [1, 1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 1]; // as in lessons.ts: which prediction comes true
const reading = async () => (await page.locator(".reading").innerText()).trim();
const level = () => page.locator(".level").innerText();
const height = async () =>
  Number(/holds ([\d.]+) percent/.exec(await page.locator("#account").innerText())?.[1] ?? Number.NaN);
const scatter = async (strip) => {
  const label = await page.locator("#readings .plot:not(.timing) canvas").getAttribute("aria-label");
  return number_in(label.split(strip)[1] ?? "");
};
const attempt = async (number) => {
  await page.keyboard.press(String(number));
  await settled(page);
  await page.waitForTimeout(60);
};
const bias_um = async () => {
  const [now, truth] = (await reading())
    .match(/[\u2212-]?\d+\.\d+/g)
    .map((each) => Number(each.replace("\u2212", "-")));
  return 1000 * (now - truth);
};

/** What each lesson's buttons must show; asked in the third step. */
const promises = [
  async () => {
    const places = [];
    for (const each of [1, 2, 3]) {
      await attempt(each);
      places.push(number_in(await page.locator(".peaks li").first().innerText()));
    }
    check("1: nearer moves the spot farther than away", places[0] - places[1] > 1.2 * (places[1] - places[2]));
  },
  async () => {
    await attempt(2);
    await attempt(3);
    const sharp = await height();
    await attempt(1);
    check("2: a flat row blurs the near end", (await height()) < 0.6 * sharp);
  },
  async () => {
    await attempt(1);
    const white = await height();
    await attempt(2);
    check("3: the mirror is darker than white in the diffuse mounting", (await height()) < 0.05 * white);
    check("3: and unreadable", await level(), "unreadable");
    await attempt(4);
    check("3: stable in the specular one", await level(), "stable");
  },
  async () => {
    await attempt(1);
    check("4: black is unreadable with the exposure for white", await level(), "unreadable");
    await attempt(2);
    check("4: and stable with automatic exposure", await level(), "stable");
    await attempt(3);
    for (let i = 0; i < 10 * patience_s && !/of 2600/.test(await page.locator("#line p").innerText()); ++i)
      await page.waitForTimeout(100);
    check("4: the line loses readings, and few", /^[1-9]\d? of 2600/.test(await page.locator("#line p").innerText()));
  },
  async () => {
    await attempt(1);
    const before = [await scatter("stands"), await scatter("each time")];
    await attempt(3);
    await settled(page);
    const after = [await scatter("stands"), await scatter("each time")];
    check("5: both strips get quieter", after[0] < 0.3 * before[0] && after[1] < 0.3 * before[1]);
    const first = await reading();
    await attempt(4);
    check(
      "5: another patch reads otherwise by far more than the noise",
      Math.abs(number_in(await reading()) - number_in(first)) * 1000 > 5 * after[0],
    );
  },
  async () => {
    await attempt(1);
    check("6: the patch shifts more than the noise", (await scatter("each time")) > 10 * (await scatter("stands")));
    const cold = number_in(await reading());
    await attempt(2);
    check("6: 5 K move the reading", Math.abs(number_in(await reading()) - cold) * 1000 > 0.5);
  },
  async () => {
    await attempt(1);
    check("7: no reading at the foot of the wall", /^No reading/.test(await reading()));
    await attempt(3);
    check("7: a reading with the sensor turned", /^Reading/.test(await reading()));
    await attempt(4);
    check("7: a round part reads stably", await level(), "stable");
    await attempt(5);
    check("7: a false peak in the groove", Math.abs(await bias_um()) > 500);
  },
  async () => {
    await attempt(1);
    check("8: two peaks", await page.locator(".peaks li").count(), 2);
    await attempt(3);
    check("8: one peak of thin glass", await page.locator(".peaks li").count(), 1);
    await attempt(5);
    check("8: the strongest is the wrong face over a mirror", Math.abs(await bias_um()) > 300);
  },
  async () => {
    await attempt(1);
    check("9: ceramic is right", Math.abs(await bias_um()) < 12);
    await attempt(2);
    check("9: plastic reads too far", (await bias_um()) > 30);
    await attempt(4);
    check("9: calibrated on it, it is right", Math.abs(await bias_um()) < 20);
  },
  async () => {
    await attempt(3);
    const far = Math.abs(await bias_um());
    await attempt(1);
    const at = Math.abs(await bias_um());
    check("10: the border shifts the reading", at > 20 && at > 3 * far);
    await attempt(4);
    check("10: turned by 90 degrees it does not", Math.abs(await bias_um()) < 0.4 * at);
  },
  async () => {
    await attempt(1);
    const cold = number_in(await reading());
    await attempt(3);
    check("11: 10 K move the reading", Math.abs(number_in(await reading()) - cold) * 1000 > 3);
    await attempt(4);
    for (let i = 0; i < 10 * patience_s && !/largest/.test(await page.locator("#drift p").first().innerText()); ++i)
      await page.waitForTimeout(100);
    check("11: the day drifts", number_in(await page.locator("#drift p").first().innerText()) > 3);
  },
  async () => {
    await attempt(1);
    const near = await scatter("each time");
    await attempt(2);
    const far = await scatter("each time");
    check("12: the triangle's error grows with the distance squared", far / near > 30 && far / near < 130);
    await attempt(3);
    check("12: the phase reads the pallet stably", await level(), "stable");
    await attempt(4);
    check("12: the weak pulse reads too far", (await bias_um()) > 1e5);
  },
];

await page.getByRole("button", { name: "Lessons", exact: true }).focus();
await page.keyboard.press("Enter");
await page.keyboard.press("Tab");
await page.keyboard.press("Enter");
for (let lesson = 0; lesson < 12; ++lesson) {
  await settled(page);
  check(
    `lesson ${lesson + 1} begins`,
    (await page.locator("#lesson .note").first().innerText()).startsWith(`Lesson ${lesson + 1} of 12`),
  );
  if (lesson === 1) await page.keyboard.press("p");
  await page.keyboard.press("PageDown");
  check(
    `lesson ${lesson + 1} asks, the truth hidden`,
    [
      await page.locator("#lesson .options button").count(),
      await page
        .locator(".reading")
        .innerText()
        .then((each) => each.includes("truth")),
    ],
    [3, false],
  );
  await page.keyboard.press(String(rights[lesson] + 1));
  await promises[lesson]();
  await page.keyboard.press("PageDown");
  await settled(page);
  check(
    `lesson ${lesson + 1} explains, and the prediction was right`,
    await page.locator("#lesson-judged").getAttribute("data-right"),
    "true",
  );
  await page.keyboard.press("PageUp");
  await page.keyboard.press("PageDown");
  if (lesson === 2) await page.keyboard.press("Escape");
  await page.keyboard.press("PageDown");
}
check("after the last lesson it is closed", await page.locator("#lesson").isHidden());
finish(it);
await it.browser.close();
