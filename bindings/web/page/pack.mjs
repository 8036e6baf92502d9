// Puts the page into one file: node pack.mjs --engine ENGINE.js --scenarios DIR --out FILE
// Nothing is loaded when it runs: the content security policy names the hashes of its own script and style, and no other
// source.
import { createHash } from "node:crypto";
import { mkdirSync, readFileSync, readdirSync, renameSync, writeFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));

function option(name, fallback = undefined) {
  const at = process.argv.indexOf(`--${name}`);
  if (at < 0 && fallback === undefined) throw new Error(`--${name} is missing`);
  return at < 0 ? fallback : process.argv[at + 1];
}

async function bundle(entry) {
  const result = await build({
    entryPoints: [entry],
    bundle: true,
    write: false,
    minify: true,
    format: "iife",
    target: "es2022",
    charset: "utf8",
    legalComments: "none",
  });
  return result.outputFiles[0].text;
}

async function style(entry) {
  const result = await build({ entryPoints: [entry], bundle: true, write: false, minify: true });
  return result.outputFiles[0].text;
}

function examples(folder) {
  return readdirSync(folder)
    .filter((name) => /^\d.*\.toml$/.test(name))
    .sort()
    .map((name) => {
      const toml = readFileSync(join(folder, name), "utf8");
      const files = [...toml.matchAll(/^(?:path|file|temperature_path) = "([^"]+)"/gm)].map(([, file]) => ({
        name: file,
        text: readFileSync(join(folder, file), "utf8"),
      }));
      return { name: basename(name, ".toml"), title: /^title = "(.*)"/m.exec(toml)?.[1] ?? name, toml, files };
    });
}

/** Text that can stand inside a script element. */
function inside_script(text) {
  return text.replace(/<\/(script)/gi, "<\\/$1").replace(/<!--/g, "<\\!--");
}

function hash(text) {
  return `'sha256-${createHash("sha256").update(text, "utf8").digest("base64")}'`;
}

const page = inside_script(await bundle(join(here, "main.ts")));
const css = await style(join(here, "page.css"));
const policy = [
  "default-src 'none'",
  `script-src ${hash(page)} blob: 'wasm-unsafe-eval'`,
  "worker-src blob:",
  `style-src ${hash(css)}`,
  "img-src data: blob:",
  "media-src blob:",
  "form-action 'none'",
  "base-uri 'none'",
].join("; ");
const parts = {
  policy,
  style: css,
  page,
  engine: inside_script(readFileSync(option("engine"), "utf8")),
  worker: inside_script(await bundle(option("worker", join(here, "worker.ts")))),
  examples: inside_script(JSON.stringify(examples(option("scenarios"))).replace(/</g, "\\u003c")),
};
const out = option("out");
const html = readFileSync(join(here, "index.html"), "utf8").replace(
  /%(policy|style|page|engine|worker|examples)%/g,
  (all, name) => parts[name],
);
mkdirSync(dirname(out), { recursive: true });
writeFileSync(`${out}.part`, html);
renameSync(`${out}.part`, out);
console.log(`${out}: ${(html.length / 1e6).toFixed(2)} MB`);
