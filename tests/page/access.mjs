// Accessibility: axe finds nothing in any of the page's states, small and large, by day and by night; every handle is a
// slider with a name, bounds and a value in words.
//   node tests/page/access.mjs --page build/spotwright.html
import { readFileSync } from "node:fs";
import { check, choose_example, finish, open, require, settled } from "./open.mjs";

const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const states = [
  ["at first", async () => undefined],
  ["a handle in hand", async (page) => page.locator("[data-thing=tilt]").first().focus()],
  [
    "a problem",
    async (page) => {
      await page.evaluate(() => {
        location.hash = "#1&target.material='nothing";
      });
      await page.locator("#notice").waitFor({ state: "visible" });
    },
  ],
  [
    "kept states",
    async (page) => {
      await page.locator("#notice button", { hasText: "Close" }).click();
      await page.locator("body").press("k");
      await page.selectOption("#material", "polished-steel");
      await settled(page);
      await page.locator("body").press("k");
      await settled(page, []);
    },
  ],
  ["the list of keys", async (page) => page.getByRole("button", { name: "Keys (?)" }).click()],
  [
    "files",
    async (page) => {
      await page.keyboard.press("Escape");
      await page.getByRole("button", { name: "Files", exact: true }).click();
    },
  ],
  [
    "all values",
    async (page) => {
      await page.keyboard.press("Escape");
      await page.getByRole("button", { name: "All values" }).click();
    },
  ],
  [
    "the list of lessons",
    async (page) => {
      await page.keyboard.press("Escape");
      await page.getByRole("button", { name: "Lessons", exact: true }).click();
    },
  ],
  [
    "a lesson",
    async (page) => {
      await page.getByRole("button", { name: /^5\./ }).click();
      await settled(page);
    },
  ],
  ["its prediction", async (page) => page.keyboard.press("PageDown")],
  [
    "its answer, to a class",
    async (page) => {
      await page.keyboard.press("2");
      await page.keyboard.press("PageDown");
      await page.keyboard.press("p");
      await settled(page);
    },
  ],
  [
    "time of flight",
    async (page) => {
      await page.keyboard.press("Escape");
      await page.keyboard.press("Escape");
      await choose_example(page, "21");
    },
  ],
];

const sizes = [
  ["1280x720", { viewport: { width: 1280, height: 720 } }],
  ["390x844 dark", { viewport: { width: 390, height: 844 }, colorScheme: "dark", reducedMotion: "reduce" }],
  ["320x640", { viewport: { width: 320, height: 640 } }],
];
for (const [size, options] of sizes) {
  const it = await open("", options);
  const { page } = it;
  await settled(page, []);
  for (const [name, go] of states) {
    await go(page);
    await page.waitForTimeout(150);
    if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axe);
    const violations = await page.evaluate(async () => {
      const result = await globalThis.axe.run(document, {
        runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
      });
      return result.violations.map(
        (each) =>
          `${each.id}: ${each.nodes
            .slice(0, 3)
            .map((node) => node.target.join(" "))
            .join(", ")} (${each.nodes[0].failureSummary?.split("\n")[1]?.trim() ?? ""})`,
      );
    });
    check(`${size}, ${name}: axe`, violations, []);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    check(`${size}, ${name}: nothing runs out at the side`, wide <= 0);
  }
  const sliders = await page.$$eval("[role=slider]", (list) =>
    list
      .filter((each) => each.getClientRects().length)
      .map((each) =>
        ["aria-label", "aria-valuemin", "aria-valuemax", "aria-valuenow", "aria-valuetext"]
          .filter((name) => !each.getAttribute(name))
          .map((name) => `${each.dataset.thing}: ${name}`),
      )
      .flat(),
  );
  check(`${size}: every handle has a name, bounds and a value`, sliders, []);
  finish(it);
  await it.browser.close();
}
