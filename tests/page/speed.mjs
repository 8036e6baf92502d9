// How long a person waits: from a key on a handle to the next picture, to the reading, to the verdict. Medians and 95th
// percentiles, in milliseconds of this machine.
//   node tests/page/speed.mjs --page build/spotwright.html [--steps 40]
import { statSync } from "node:fs";
import { choose_example, finish, open, option, page_file, settled } from "./open.mjs";

const steps = Number(option("steps", "40"));
const begin = Date.now();
const it = await open();
const { page } = it;
const ready_ms = await page.evaluate(() => performance.now());
await settled(page, ["read", "budget", "readings"]);
const pictured_ms = await page.evaluate(() => performance.now());
console.log(
  `page ${(statSync(page_file).size / 1e6).toFixed(2)} MB; ready after ${ready_ms.toFixed(0)} ms, first picture after ${pictured_ms.toFixed(0)} ms of its own time (${Date.now() - begin} ms with the browser's start)`,
);

/** Moves a handle by steps and notes when its picture was drawn: the handle's own place changes with it. */
async function pictures(thing) {
  await settled(page, []);
  return page.evaluate(
    async ([name, count]) => {
      const grip = document.querySelector(`[data-thing=${name}]`);
      const times = [];
      grip.focus();
      for (let i = 0; i < count; ++i) {
        const key = { key: i % 8 < 4 ? "ArrowRight" : "ArrowLeft", bubbles: true, cancelable: true };
        const drawn = new Promise((done) => {
          const watch = new MutationObserver(() => {
            watch.disconnect();
            const after = new MessageChannel(); // heard once the picture is on its way to the screen
            after.port1.onmessage = () => done(performance.now());
            after.port2.postMessage(0);
          });
          watch.observe(document.querySelector("#stage svg"), { childList: true, subtree: true });
        });
        const start = performance.now();
        grip.dispatchEvent(new KeyboardEvent("keydown", key));
        times.push(
          (await Promise.race([drawn, new Promise((done) => setTimeout(() => done(Number.NaN), 3000))])) - start,
        );
        // A hand keeps no time with the screen: waits differ, evenly over two of its pictures.
        await new Promise((done) => setTimeout(done, 30 + ((i * 0.618) % 1) * 33.4));
      }
      grip.dispatchEvent(new KeyboardEvent("keyup", { key: "ArrowRight", bubbles: true }));
      return times;
    },
    [thing, steps],
  );
}

/** From letting go to what is named. */
async function waits(thing, what, count) {
  const times = [];
  for (let i = 0; i < count; ++i) {
    await settled(page, ["budget"]);
    times.push(
      await page.evaluate(
        async ([name, wanted, odd]) => {
          const grip = document.querySelector(`[data-thing=${name}]`);
          grip.focus();
          const start = performance.now();
          grip.dispatchEvent(
            new KeyboardEvent("keydown", { key: odd ? "ArrowLeft" : "ArrowRight", bubbles: true, cancelable: true }),
          );
          grip.dispatchEvent(new KeyboardEvent("keyup", { key: "ArrowRight", bubbles: true }));
          while (document.documentElement.dataset.busy.split(" ").includes(wanted))
            await new Promise((done) => setTimeout(done, 2));
          return performance.now() - start;
        },
        [thing, what, i % 2 === 1],
      ),
    );
  }
  return times;
}

function tell(name, times) {
  const sorted = times.filter((each) => !Number.isNaN(each)).sort((a, b) => a - b);
  const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
  console.log(
    `${name.padEnd(48)} median ${at(0.5).toFixed(0).padStart(5)}  95 % ${at(0.95).toFixed(0).padStart(5)}  of ${sorted.length}`,
  );
}

for (const [start, name] of [
  ["01", "matt"],
  ["08", "mirror, specular mounting"],
  ["14", "glass plate"],
  ["21", "time of flight"],
]) {
  await choose_example(page, start);
  tell(`${name}: part moved, to the picture`, await pictures("displacement"));
  tell(`${name}: part tilted, to the picture`, await pictures("tilt"));
  if (start === "01") tell(`${name}: receiver turned, to the picture`, await pictures("receiver"));
  tell(`${name}: let go, to the exact reading`, await waits("displacement", "view", 8));
  tell(`${name}: let go, to the verdict`, await waits("displacement", "read", 6));
}
finish(it);
await it.browser.close();
