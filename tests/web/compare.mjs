// The page's engine in Chromium against the program: every number of the JSON of demonstration scenarios, and every
// pixel and reading against the engine of this machine.
//   node tests/web/compare.mjs --build build [--every 1] [--only NAME] [--verbose]
// `--every 2` takes every other scenario: nineteen of all kinds.
// Exits with 77, "skipped", where the page has not been built.
import { spawnSync } from "node:child_process";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const option = (name, otherwise) => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : process.argv[at + 1];
};
const build = resolve(option("build", "build"));
const only = option("only", "");
const most_shown = process.argv.includes("--verbose") ? 1000 : 8;
const scenarios = join(dirname(fileURLToPath(import.meta.url)), "../../scenarios");
const page_file = join(build, "spotwright.html");
if (!existsSync(page_file)) {
  console.log(`${page_file} is not built: ./setup.sh page`);
  process.exit(77);
}
const { open_page } = await import("./browser.mjs");
const { open_native } = await import("./native.mjs");

// Functions of the C library (exp, sin, pow ...) differ in the last bit from library to library; the rest is the same
// arithmetic. What is left of the difference of two lengths has that bit a thousand times as large, so numbers also count
// as equal within a millionth of their unit, of which um is the smallest: a picometre.
const usual = { relative: 1e-9, absolute: 1e-6 };
// Light of pixels is kept in floats: two units of their last place.
const of_floats = 2.4e-7;
// The beam is wider than the pin, and its rays meet upright walls: the last bit of a direction decides on which side of a
// corner one lands. In one and the same program, 1e-13 to 1e-12 deg of `target.tilt_deg` change pixels by up to 7.5 of all
// 735 000 electrons, and the error by the markings by 0.5 %; images promise 1e-3 of all light (`receiver::Tolerance`). Twice
// that is allowed here. A digit of a frame, 49.6 electrons, may so be the next one.
const looser = { "31-connector-pin": { relative: 1e-2, absolute: 1e-5, light: 15, digit: 49.7 } };

const light_of_pixels = /^\/look\/(expected|smooth)_e\//;

function floor_of(path, bound) {
  if (/^\/look\/frame_e\//.test(path)) return bound.digit ?? bound.absolute;
  return light_of_pixels.test(path) ? bound.light ?? bound.absolute : bound.absolute;
}

/** Lists of named entries are compared by name: entries of equal size may stand in either order. */
function by_name(value) {
  const is_named = Array.isArray(value) && value.length > 1 && value.every((each) => typeof each?.name === "string");
  return is_named ? Object.fromEntries(value.map((each) => [each.name, each])) : value;
}

/** Pairs of numbers with their path; anything else must be equal. */
function* pairs(path, one, other) {
  if (typeof one === "number" && typeof other === "number") {
    yield { path, one, other, numbers: true };
  } else if (one !== null && other !== null && typeof one === "object" && typeof other === "object") {
    const [first, second] = [by_name(one), by_name(other)];
    for (const name of new Set([...Object.keys(first), ...Object.keys(second)])) {
      yield* pairs(`${path}/${name}`, first[name], second[name]);
    }
  } else if (one !== other) {
    yield { path, one, other, numbers: false };
  }
}

const totals = { numbers: 0, equal: 0, failed: 0 };

function compare(name, scenario, one, other) {
  const bound = looser[scenario] ?? usual;
  let numbers = 0;
  let equal = 0;
  let worst = { difference: 0 };
  const failures = [];
  for (const pair of pairs("", one, other)) {
    if (!pair.numbers) {
      failures.push(pair);
      continue;
    }
    ++numbers;
    if (Object.is(pair.one, pair.other)) ++equal;
    const apart = Math.abs(pair.one - pair.other);
    const difference = apart > 0 ? apart / Math.max(Math.abs(pair.one), Math.abs(pair.other)) : 0;
    if (difference > worst.difference) worst = { ...pair, difference };
    const relative = light_of_pixels.test(pair.path) ? Math.max(bound.relative, of_floats) : bound.relative;
    if (!(difference <= relative || apart <= floor_of(pair.path, bound))) failures.push(pair);
  }
  if (numbers === 0) failures.push({ path: "no numbers", one, other });
  const far = worst.difference > 0 ? `, at most ${worst.difference.toExponential(1)} apart at ${worst.path}` : "";
  console.log(`${failures.length ? "FAIL" : "ok  "} ${name} ${scenario}: ${equal} of ${numbers} to the last bit${far}`);
  for (const { path, one: a, other: b } of failures.slice(0, most_shown)) {
    console.log(`       ${path}: here ${JSON.stringify(a)}, in the page ${JSON.stringify(b)}`);
  }
  totals.numbers += numbers;
  totals.equal += equal;
  totals.failed += failures.length > 0 ? 1 : 0;
}

function from_program(command, file) {
  const run = spawnSync(join(build, "spotwright"), [command, file, "--json", "--threads", "1"], { encoding: "utf8", maxBuffer: 1 << 28 });
  if (run.status !== 0) throw new Error(`${command} ${file}: ${run.stderr}`);
  return JSON.parse(run.stdout);
}

const names = readdirSync(scenarios).filter((name) => /^\d.*\.toml$/.test(name) && name.includes(only)).sort()
  .filter((_, i) => i % Number(option("every", "1")) === 0);
const budgets = new Set(["04-tilted-blasted-plate", "14-clear-cover", "21-pallet-white", "24-pallet-black-pulsed"]);
// Numbers in texts are rounded, so the last bit does not show.
const texts = new Set(["01-white-tile", "14-clear-cover", "21-pallet-white"]);
const page = await open_page(page_file);
const native = open_native(join(build, "ask_engine"), scenarios);
try {
  for (const file of readdirSync(join(scenarios, "paths"))) {
    await page.ask("put", { name: `paths/${file}`, text: readFileSync(join(scenarios, "paths", file), "utf8") });
  }
  for (const name of names) {
    const file = join(scenarios, name);
    const toml = readFileSync(file, "utf8");
    const title = basename(name, ".toml");
    const { specimens, ...read } = from_program("read", file);  // the page reads one specimen
    compare("read", title, read, (await page.ask("read", { toml })).json);
    if (budgets.has(title)) compare("budget", title, from_program("budget", file), (await page.ask("budget", { toml })).json);
    if (texts.has(title)) {
      for (const kind of ["layoutSvg", "readingSvg", "report"]) {
        const question = { toml, date: "2024-01-01T00:00:00Z" };
        const same = (await native.ask(kind, question)) === (await page.ask(kind, question));
        console.log(`${same ? "ok  " : "FAIL"} ${kind} ${title}: byte for byte`);
        totals.failed += same ? 0 : 1;
      }
    }
    for (const [kind, options] of [["view", {}], ["readings", { count: 64 }], ["readings", { count: 64, moved: true }]]) {
      const question = { toml, ...options };
      compare(options.moved ? "moved readings" : kind, title, await native.ask(kind, question), await page.ask(kind, question));
    }
  }
  if (page.requests.length > 0) {
    console.log(`FAIL the page asked for ${page.requests.join(" ")}`);
    ++totals.failed;
  }
} finally {
  native.close();
  await page.close();
}
console.log(`${totals.equal} of ${totals.numbers} numbers are equal to the last bit; ${totals.failed} answers differ`);
process.exit(totals.failed > 0 || totals.numbers === 0 ? 1 : 0);
