// Opens the built page in Chromium, from disk, as a person would; what the tests of the page share.
import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

export const require = createRequire(new URL("../../bindings/web/page/package.json", import.meta.url));
const { chromium } = require("playwright-core");

export const scenarios = join(dirname(fileURLToPath(import.meta.url)), "../../scenarios");

export function option(name, otherwise) {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : process.argv[at + 1];
}

export const page_file = resolve(option("page", "build/spotwright.html"));
export const program = resolve(option("program", "build/spotwright"));
if (!existsSync(page_file)) {
  console.log(`${page_file} is not built: ./setup.sh page`);
  process.exit(77);
}

// How long a step may take on a machine that does much else: long, as no test of the page is one of its speed.
export const patience_s = 300;

const flags = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--js-flags=--expose-gc",
];

/** A page that is ready, with what it must not do: `errors` thrown and `requests` that left. */
export async function open(hash = "", context_options = {}) {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    args: flags,
  });
  const context = await browser.newContext({
    viewport: { width: 1280, height: 720 },
    locale: "en-GB",
    acceptDownloads: true,
    ...context_options,
  });
  const page = await context.newPage();
  page.setDefaultTimeout(1000 * patience_s);
  const errors = [];
  const requests = [];
  page.on("pageerror", (error) => errors.push(error.stack ?? String(error)));
  page.on("console", (message) => message.type() === "error" && errors.push(message.text()));
  page.on("dialog", (dialog) => {
    errors.push(`a dialog: ${dialog.message()}`);
    void dialog.dismiss();
  });
  page.on("request", (request) => /^(https?|wss?|ftp):/.test(request.url()) && requests.push(request.url()));
  await page.goto(`file://${page_file}${hash}`);
  await page.waitForSelector("html[data-ready=yes]", { timeout: 1000 * patience_s });
  return { browser, page, errors, requests };
}

/** Waits until the page has answered all but what is named. */
export async function settled(page, except = ["budget"], seconds = patience_s) {
  const end = Date.now() + 1000 * seconds;
  for (;;) {
    const busy = await page.evaluate(() => document.documentElement.dataset.busy ?? "start");
    if (busy.split(" ").filter((each) => each && !except.includes(each)).length === 0) return;
    if (Date.now() > end) throw new Error(`still at work after ${seconds} s: ${busy}`);
    await page.waitForTimeout(25);
  }
}

export async function choose_example(page, start) {
  const name = await page.$$eval(
    "#scenario option",
    (list, wanted) => list.find((each) => each.value.startsWith(wanted))?.value,
    start,
  );
  await page.selectOption("#scenario", name);
  await settled(page);
  return name;
}

export function run(...parts) {
  const done = spawnSync(program, parts, { encoding: "utf8", maxBuffer: 1 << 28 });
  if (done.status !== 0 && done.status !== 1) throw new Error(`${parts.join(" ")}: ${done.stderr}`);
  return done.stdout;
}

let failed = 0;
/** Says what was found, and remembers what was not as it should be. */
export function check(name, found, wanted = true) {
  const good = JSON.stringify(found) === JSON.stringify(wanted);
  if (!good) ++failed;
  console.log(
    `${good ? "ok  " : "FAIL"} ${name}${good ? "" : `: ${JSON.stringify(found)}, wanted ${JSON.stringify(wanted)}`}`,
  );
  return good;
}

export function finish({ errors, requests }) {
  check("no exception and no message of an error", errors, []);
  check("no request left", requests, []);
  process.exitCode = failed ? 1 : 0;
}

/** Numbers from a seed, the same on every machine (mulberry32, public domain). */
export function random_from(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** A number as the page writes it, read again. */
export function number_in(text) {
  const found = /[\u2212-]?\d+(?:\.\d+)?/.exec(text);
  return found ? Number(found[0].replace("\u2212", "-")) : Number.NaN;
}
