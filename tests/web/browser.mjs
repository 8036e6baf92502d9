// The built page in Chromium, opened from disk, with nothing of its own running but the engine's worker.
import { createRequire } from "node:module";
import { resolve } from "node:path";

const require = createRequire(new URL("../../bindings/web/page/package.json", import.meta.url));
const { chromium } = require("playwright-core");

const flags = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];

/** @returns {Promise<{ask: Function, requests: string[], close: Function, page: object}>} */
export async function open_page(file, { viewport = { width: 1280, height: 720 } } = {}) {
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", headless: true, args: flags });
  const page = await browser.newPage({ viewport });
  const requests = [];
  page.on("request", (request) => {
    if (/^(https?|wss?|ftp):/.test(request.url())) requests.push(request.url());
  });
  await page.goto(`file://${resolve(file)}`);
  await page.evaluate(() => {
    const text = (id) => document.getElementById(id).textContent;
    const blob = new Blob([text("engine-text"), "\n", text("worker-text")], { type: "text/javascript" });
    const worker = new Worker(URL.createObjectURL(blob));
    // Arrays become lists, for the way out of the browser.
    const plain = (key, value) => (ArrayBuffer.isView(value) ? Array.from(value) : value);
    globalThis.ask_engine = (kind, question) =>
      new Promise((settle, fail) => {
        worker.onmessage = (event) => settle({ ms: performance.now() - begin, reply: JSON.stringify(event.data, plain) });
        worker.onerror = (event) => fail(new Error(event.message));
        const begin = performance.now();
        worker.postMessage({ kind, question });
      });
  });
  /** The answer, and the milliseconds from question to answer as the page sees them. */
  const ask_timed = async (kind, question) => {
    const { ms, reply } = await page.evaluate(([k, q]) => globalThis.ask_engine(k, q), [kind, question]);
    const { answer, problems, error } = JSON.parse(reply);
    if (error !== undefined) throw new Error(error);
    return { ms, answer, problems };
  };
  const ask = async (kind, question) => {
    const { answer, problems } = await ask_timed(kind, question);
    return problems ? { problems } : answer;
  };
  return { ask, ask_timed, requests, page, close: () => browser.close() };
}
