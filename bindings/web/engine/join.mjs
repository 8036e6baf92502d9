// One text of the engine: node join.mjs ENGINE.js ENGINE.wasm OUT.js. The WebAssembly is packed with gzip, which every
// browser unpacks, and written as text, for a page from disk may load nothing.
import { readFileSync, writeFileSync } from "node:fs";
import { gzipSync } from "node:zlib";

const [script, wasm, out] = process.argv.slice(2);
const packed = gzipSync(readFileSync(wasm), { level: 9 }).toString("base64");
writeFileSync(out, `${readFileSync(script, "utf8")}\nconst packedEngine = "${packed}";\n`);
