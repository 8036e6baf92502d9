// The engine's side of `Engine`: takes a question, asks the C++, copies the answer out. Runs in a Worker, behind the text
// of the engine, which defines `createEngine` and `packedEngine`.

interface Wasm {
  HEAPU8: Uint8Array;
  HEAPF32: Float32Array;
  HEAPF64: Float64Array;
  UTF8ToString(at: number): string;
  stringToUTF8(text: string, at: number, size: number): void;
  lengthBytesUTF8(text: string): number;
  FS: { writeFile(path: string, text: string): void; mkdirTree(path: string): void };
  _malloc(size: number): number;
  _free(at: number): void;
  _spotwright_open(): number;
  _spotwright_close(engine: number): void;
  _spotwright_ask(engine: number, kind: number, question: number): number;
  _spotwright_text(reply: number): number;
  _spotwright_array_count(reply: number): number;
  _spotwright_array_path(reply: number, index: number): number;
  _spotwright_array_type(reply: number, index: number): number;
  _spotwright_array_size(reply: number, index: number): number;
  _spotwright_array_data(reply: number, index: number): number;
  _spotwright_free(reply: number): void;
}
declare function createEngine(options: { wasmBinary: ArrayBuffer }): Promise<Wasm>;
declare const packedEngine: string; // base64 of gzip

interface Question {
  kind: string;
  question: unknown;
}
type Copy = Float32Array | Float64Array | Uint8Array;

function text_at(wasm: Wasm, text: string): number {
  const size = wasm.lengthBytesUTF8(text) + 1;
  const at = wasm._malloc(size);
  wasm.stringToUTF8(text, at, size);
  return at;
}

/** A copy, since the next question may move the memory. */
function array_of(wasm: Wasm, reply: number, index: number): Copy {
  const at = wasm._spotwright_array_data(reply, index);
  const size = wasm._spotwright_array_size(reply, index);
  switch (wasm._spotwright_array_type(reply, index)) {
    case 0:
      return wasm.HEAPF32.slice(at / 4, at / 4 + size);
    case 1:
      return wasm.HEAPF64.slice(at / 8, at / 8 + size);
    default:
      return wasm.HEAPU8.slice(at, at + size);
  }
}

function put_at(answer: Record<string, unknown>, path: string[], value: Copy): void {
  let place = answer;
  for (const name of path.slice(0, -1)) place = place[name] as Record<string, unknown>;
  place[path[path.length - 1] ?? ""] = value;
}

function ask(wasm: Wasm, engine: number, { kind, question }: Question): [Record<string, unknown>, ArrayBuffer[]] {
  const texts = [text_at(wasm, kind), text_at(wasm, JSON.stringify(question))] as const;
  const reply = wasm._spotwright_ask(engine, ...texts);
  try {
    const answer = JSON.parse(wasm.UTF8ToString(wasm._spotwright_text(reply))) as Record<string, unknown>;
    const buffers: ArrayBuffer[] = [];
    for (let i = 0; i < wasm._spotwright_array_count(reply); ++i) {
      const path = wasm.UTF8ToString(wasm._spotwright_array_path(reply, i)).split(" ");
      const copy = array_of(wasm, reply, i);
      put_at(answer["answer"] as Record<string, unknown>, path, copy);
      buffers.push(copy.buffer as ArrayBuffer);
    }
    return [answer, buffers];
  } finally {
    wasm._spotwright_free(reply);
    for (const text of texts) wasm._free(text);
  }
}

/** A file beside the scenarios, for those that name it. Names stay below the folder that scenarios are in. */
function put(wasm: Wasm, { name, text }: { name: string; text: string }): void {
  const parts = name.split("/").filter((part) => part !== "" && part !== "." && part !== "..");
  if (parts.length > 1) wasm.FS.mkdirTree(parts.slice(0, -1).join("/"));
  wasm.FS.writeFile(parts.join("/"), text);
}

async function start(): Promise<{ wasm: Wasm; engine: number }> {
  const letters = atob(packedEngine);
  const packed = new Uint8Array(letters.length);
  for (let i = 0; i < letters.length; ++i) packed[i] = letters.charCodeAt(i);
  const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  const wasm = await createEngine({ wasmBinary: await new Response(unpacked).arrayBuffer() });
  return { wasm, engine: wasm._spotwright_open() };
}
let ready = start();

self.onmessage = (event: MessageEvent<Question>): void => {
  void ready
    .then((state) => {
      if (event.data.kind === "put") {
        put(state.wasm, event.data.question as { name: string; text: string });
        state.wasm._spotwright_close(state.engine); // what was made of the file before is forgotten
        state.engine = state.wasm._spotwright_open();
        self.postMessage({ answer: null });
        return;
      }
      const [answer, buffers] = ask(state.wasm, state.engine, event.data);
      (self as unknown as Worker).postMessage(answer, buffers);
    })
    .catch((error: unknown) => {
      ready = start(); // an engine that broke down, as for want of memory, is not asked again
      self.postMessage({ error: error instanceof Error ? error.message : String(error) });
    });
};
