// The engine of this machine, asked like the page's: the program `ask_engine`.
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";

export function open_native(program, folder) {
  const child = spawn(program, [], { cwd: folder, stdio: ["pipe", "pipe", "inherit"] });
  const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]();
  const ask_timed = async (kind, question) => {
    child.stdin.write(`${JSON.stringify({ kind, question })}\n`);
    const { value, done } = await lines.next();
    if (done) throw new Error(`${program} ended`);
    return JSON.parse(value);
  };
  const ask = async (kind, question) => {
    const { answer, problems } = await ask_timed(kind, question);
    return problems ? { problems } : answer;
  };
  return { ask, ask_timed, close: () => child.kill() };
}
